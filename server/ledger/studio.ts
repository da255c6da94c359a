import type { Selectable } from "kysely"
import { Temporal } from "temporal-polyfill"
import type { StudioFile } from "../../db/file.ts"
import type { Tables } from "../../db/tables.ts"
import { sql } from "../../db/words.ts"
import type { IsoDate } from "../domain/dates.ts"

/** Everything a service needs: the open file, and what time it is. */
export interface Studio {
  readonly file: StudioFile
  /** The present instant. Tests and the demo's history pass a clock of their own. */
  now(): Temporal.Instant
}

/** How this studio measures, works and counts. */
export interface StudioSettings {
  name: string
  timeZone: string
  currency: string
  units: "metric" | "us"
  volumeStepUl: number
  massStepMg: number
  turners: number
  /** on each of them */
  turnerPlaces: number
  /** minutes after midnight */
  opensMin: number
  workMinPerDay: number
  /** 1 is Monday, 7 Sunday */
  weekdaysOff: readonly number[]
  daysOff: readonly IsoDate[]
  shippingDays: number
  /** an order is to be ready so many days before it must leave */
  spareDays: number
  labourMicroPerHour: number
  /** share of waits for a delivery in which the shelf does not run empty */
  serviceLevelPpm: number
  isDemo: boolean
}

/** A studio before anything was set: plain values that a person changes under Set up. */
export const FIRST_SETTINGS: StudioSettings = {
  name: "My studio",
  timeZone: Temporal.Now.timeZoneId(),
  currency: "USD",
  units: "metric",
  volumeStepUl: 500,
  massStepMg: 100,
  turners: 1,
  turnerPlaces: 6,
  opensMin: 540,
  workMinPerDay: 360,
  weekdaysOff: [],
  daysOff: [],
  shippingDays: 3,
  spareDays: 2,
  labourMicroPerHour: 0,
  serviceLevelPpm: 950_000,
  isDemo: false,
}

/** The settings of the file, or the first ones while none are kept. */
export function settingsOf(studio: Studio): StudioSettings {
  const row = studio.file.firstText<Selectable<Tables["studio"]>>("SELECT * FROM studio")
  if (!row) return FIRST_SETTINGS
  return {
    name: row.name,
    timeZone: row.time_zone,
    currency: row.currency,
    units: row.units,
    volumeStepUl: row.volume_step_ul,
    massStepMg: row.mass_step_mg,
    turners: row.turners,
    turnerPlaces: row.turner_places,
    opensMin: row.opens_min,
    workMinPerDay: row.work_min_per_day,
    weekdaysOff: JSON.parse(row.weekdays_off) as number[],
    daysOff: JSON.parse(row.days_off) as IsoDate[],
    shippingDays: row.shipping_days,
    spareDays: row.spare_days,
    labourMicroPerHour: row.labour_micro_per_hour,
    serviceLevelPpm: row.service_level_ppm,
    isDemo: row.is_demo === 1,
  }
}

/** Keeps the settings. */
export function keepSettings(studio: Studio, settings: StudioSettings): void {
  studio.file.transaction(() => {
    studio.file.run(sql.deleteFrom("studio"))
    studio.file.insert("studio", {
      id: 1,
      name: settings.name,
      time_zone: settings.timeZone,
      currency: settings.currency,
      units: settings.units,
      volume_step_ul: settings.volumeStepUl,
      mass_step_mg: settings.massStepMg,
      turner_places: settings.turnerPlaces,
      work_min_per_day: settings.workMinPerDay,
      shipping_days: settings.shippingDays,
      labour_micro_per_hour: settings.labourMicroPerHour,
      opens_min: settings.opensMin,
      turners: settings.turners,
      weekdays_off: JSON.stringify(settings.weekdaysOff),
      days_off: JSON.stringify(settings.daysOff),
      spare_days: settings.spareDays,
      service_level_ppm: settings.serviceLevelPpm,
      is_demo: settings.isDemo ? 1 : 0,
    })
  })
}

/** Today's date where the studio is. */
export function todayOf(studio: Studio): IsoDate {
  return studio.now().toZonedDateTimeISO(settingsOf(studio).timeZone).toPlainDate().toString()
}
