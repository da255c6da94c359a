import { Temporal } from "temporal-polyfill"
import type { IsoDate } from "../domain/dates.ts"
import type { Shop } from "../domain/schedule.ts"
import { type Studio, type StudioSettings, todayOf } from "../ledger/studio.ts"

/** Turns instants into minutes after a day's midnight, by the studio's clock. */
export function minutesFrom(timeZone: string, day: IsoDate): (instant: string) => number {
  const midnight = Temporal.PlainDate.from(day).toPlainDateTime()
  return (instant) => {
    const clock = Temporal.Instant.from(instant).toZonedDateTimeISO(timeZone).toPlainDateTime()
    return Math.floor(midnight.until(clock, { largestUnit: "minutes" }).total("minutes"))
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
