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
  turnerPlaces: number
  workMinPerDay: number
  shippingDays: number
  labourMicroPerHour: number
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
  turnerPlaces: 6,
  workMinPerDay: 360,
  shippingDays: 3,
  labourMicroPerHour: 0,
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
    turnerPlaces: row.turner_places,
    workMinPerDay: row.work_min_per_day,
    shippingDays: row.shipping_days,
    labourMicroPerHour: row.labour_micro_per_hour,
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
      is_demo: settings.isDemo ? 1 : 0,
    })
  })
}

/** Today's date where the studio is. */
export function todayOf(studio: Studio): IsoDate {
  return studio.now().toZonedDateTimeISO(settingsOf(studio).timeZone).toPlainDate().toString()
}
