import { Temporal } from "temporal-polyfill"
import { dateAt, type IsoDate } from "./dates.ts"

/** How long a supply keeps. */
export type Life = { unit: "never" } | TimedLife
export interface TimedLife {
  unit: "hours" | "days" | "months"
  value: number
}

/** What a lot's expiry rests on; the date is there exactly when it rests on something. */
export type LotExpiry =
  | { expiresOn: IsoDate; basis: "label" | "shelf-life" }
  | { expiresOn: null; basis: "does-not-expire" | "unknown" }

/** Past this a year no longer has four digits and dates would not sort as text. */
const LAST_DAY = Temporal.PlainDate.from("9999-12-31")

/** A thousand years in hours, so that no life runs off the calendar. */
const LONGEST_HOURS = 1000 * 365 * 24

/**
 * When a lot goes off. The earlier of the label's date and made-on + shelf life where both are known; the label
 * alone; made-on + shelf life alone. With neither, received + shelf life (common practice, no source: the lot
 * may be older than its delivery, so an expiry or made-on date from the label is always better).
 *
 * @param label expiry date printed on it, null for none
 * @param madeOn null when not known
 * @param receivedOn null or left out when it must not stand in for made-on
 * @param shelfLife of the unopened supply, null when not known
 */
export function lotExpiry(lot: {
  label: IsoDate | null
  madeOn: IsoDate | null
  receivedOn?: IsoDate | null
  shelfLife: Life | null
}): LotExpiry {
  const { label, madeOn, shelfLife } = lot
  const receivedOn = lot.receivedOn ?? null
  if (shelfLife === null || shelfLife.unit === "never") {
    if (label !== null) return { expiresOn: label, basis: "label" }
    return { expiresOn: null, basis: shelfLife === null ? "unknown" : "does-not-expire" }
  }
  if (madeOn !== null) {
    const computed = addLife(madeOn, shelfLife)
    if (label === null || computed < label) return { expiresOn: computed, basis: "shelf-life" }
  }
  if (label !== null) return { expiresOn: label, basis: "label" }
  if (receivedOn !== null) return { expiresOn: addLife(receivedOn, shelfLife), basis: "shelf-life" }
  return { expiresOn: null, basis: "unknown" }
}

/**
 * The day an opened container's after-opening life ends, in the studio's time zone.
 *
 * Hours are real ones: 24 of them over a change to summer time end an hour later on the wall clock. Days and months are calendar ones, counted from the day it was opened.
 *
 * @param openedAt an instant, "2026-03-07T18:00:00Z"
 * @param timeZone IANA name, "America/Chicago"
 * @returns null when opening does not matter or its life is not known
 */
export function openUseBy(openedAt: string, timeZone: string, openLife: Life | null): IsoDate | null {
  if (openLife === null || openLife.unit === "never") return null
  return remembered(`${openedAt}+${openLife.value}${openLife.unit} ${timeZone}`, () => {
    if (openLife.unit !== "hours") return addLife(dateAt(openedAt, timeZone), openLife)
    const hours = Math.min(openLife.value, LONGEST_HOURS)
    const end = Temporal.Instant.from(openedAt).add({ hours })
    return dateAt(end.toString(), timeZone)
  })
}

/**
 * A date plus a life. A month later is the same day of the month, or the last where the month is shorter
 * (31 Jan + 1 month = 28 or 29 Feb). Hours count in whole days, a begun day left out: a date does not say at
 * what hour it began, and a supply must not be called good for longer than it is.
 */
export function addLife(date: IsoDate, life: TimedLife): IsoDate {
  return remembered(`${date}+${life.value}${life.unit}`, () => endOf(date, life))
}

/** Each page asks for the same few hundred days, a forecast many times over. */
const ends = new Map<string, IsoDate>()
const MOST_ENDS = 10_000

function remembered(asked: string, work: () => IsoDate): IsoDate {
  let end = ends.get(asked)
  if (end === undefined) {
    end = work()
    if (ends.size < MOST_ENDS) ends.set(asked, end)
  }
  return end
}

function endOf(date: IsoDate, life: TimedLife): IsoDate {
  const start = Temporal.PlainDate.from(date)
  switch (life.unit) {
    case "hours":
      return addDays(start, Math.floor(life.value / 24))
    case "days":
      return addDays(start, life.value)
    case "months": {
      const left = start.until(LAST_DAY, { largestUnit: "months" }).months
      const end = life.value > left ? LAST_DAY : start.add({ months: life.value }, { overflow: "constrain" })
      return end.toString()
    }
  }
}

/** The earliest of several days on which something goes off; null when none is known. */
export function effectiveExpiry(...dates: readonly (IsoDate | null)[]): IsoDate | null {
  return dates.reduce((earliest, date) => {
    if (date === null) return earliest
    return earliest === null || date < earliest ? date : earliest
  }, null)
}

/** The use-by day itself is still usable; no use-by day means always. */
export function isUsableOn(useBy: IsoDate | null, date: IsoDate): boolean {
  return useBy === null || date <= useBy
}

function addDays(start: Temporal.PlainDate, days: number): IsoDate {
  const left = start.until(LAST_DAY, { largestUnit: "days" }).days
  return (days > left ? LAST_DAY : start.add({ days })).toString()
}
