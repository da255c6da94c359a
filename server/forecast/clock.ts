import { Temporal } from "temporal-polyfill"
import type { IsoDate } from "../domain/dates.ts"
import type { Shop } from "../domain/schedule.ts"
import { type Studio, type StudioSettings, todayOf } from "../ledger/studio.ts"

/** Turns instants into minutes after a day's midnight, by the studio's clock. */
export function minutesFrom(timeZone: string, day: IsoDate): (instant: string) => number {
  // the wall clock as if it were that of UTC: its days all have 24 hours, as the plan's have
  const midnightMs = Temporal.PlainDate.from(day).toZonedDateTime("UTC").epochMilliseconds
  // cups of a batch got their coats together
  let last = { instant: "", minutes: 0 }
  return (instant) => {
    if (instant === last.instant) return last.minutes
    const clock = Temporal.Instant.from(instant).toZonedDateTimeISO(timeZone)
    const wallMs = clock.epochMilliseconds + clock.offsetNanoseconds / 1e6
    last = { instant, minutes: Math.floor((wallMs - midnightMs) / 60_000) }
    return last.minutes
  }
}

/** What limits the work, as the settings have it, from this minute on. */
export function shopOf(studio: Studio, settings: StudioSettings, scuffMin: number): Shop {
  const today = todayOf(studio)
  return {
    hours: {
      opensMin: settings.opensMin,
      closesMin: Math.min(1440, settings.opensMin + settings.workMinPerDay),
      weekdaysOff: settings.weekdaysOff,
      daysOff: settings.daysOff,
    },
    today,
    nowMin: Math.max(0, minutesFrom(settings.timeZone, today)(studio.now().toString())),
    turnerPlaces: settings.turners * settings.turnerPlaces,
    scuffMin,
  }
}
