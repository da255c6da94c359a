import type { IsoDate } from "./dates.ts"

const DAYS = ["Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"]
export const MONTHS = ["Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"]

/**
 * A date as a person says it: "Tue 8 Dec", with the year when it is not today's. Small, since every page's script has it.
 *
 * @throws {RangeError} no such day
 */
export function sayDate(date: IsoDate, today: IsoDate): string {
  if (!isDay(date)) throw new RangeError(`${date} is no day`)
  const day = new Date(`${date}T00:00:00Z`)
  const said = `${DAYS[day.getUTCDay()]} ${day.getUTCDate()} ${MONTHS[day.getUTCMonth()]}`
  return date.slice(0, 4) === today.slice(0, 4) ? said : `${said} ${day.getUTCFullYear()}`
}

/** Whether it is a day of the calendar, written "2026-12-08". */
export function isDay(text: string): text is IsoDate {
  if (!/^\d{4}-\d\d-\d\d$/.test(text)) return false
  const day = new Date(`${text}T00:00:00Z`)
  return !Number.isNaN(day.getTime()) && day.toISOString().startsWith(text)
}
