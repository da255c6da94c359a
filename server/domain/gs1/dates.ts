import type { IsoDate } from "../dates.ts"

/**
 * The calendar date of six digits YYMMDD (GS1 General Specifications). Day 00 is the last day of the month. The
 * century: with c the current year's last two digits and y the code's, y − c from 51 to 99 is the last century,
 * from −99 to −50 the next, and anything else this one.
 *
 * @param today decides the century
 * @returns null when it is no date
 */
export function dateOfSix(six: string, today: IsoDate): IsoDate | null {
  if (!/^[0-9]{6}$/.test(six)) return null
  const thisYear = Number(today.slice(0, 4))
  const [yy, month, day] = [six.slice(0, 2), six.slice(2, 4), six.slice(4)].map(Number) as [
    number,
    number,
    number,
  ]
  const ahead = yy - (thisYear % 100)
  const century = Math.floor(thisYear / 100) + (ahead >= 51 ? -1 : ahead <= -50 ? 1 : 0)
  const year = century * 100 + yy
  if (month < 1 || month > 12) return null
  const last = daysInMonth(year, month)
  if (day > last) return null
  return `${String(year).padStart(4, "0")}-${six.slice(2, 4)}-${day === 0 ? last : six.slice(4)}`
}

/** Whether eight digits YYYYMMDD are a date. */
export function isDateOfEight(eight: string): boolean {
  const [year, month, day] = [eight.slice(0, 4), eight.slice(4, 6), eight.slice(6)].map(Number) as [
    number,
    number,
    number,
  ]
  return month >= 1 && month <= 12 && day >= 1 && day <= daysInMonth(year, month)
}

function daysInMonth(year: number, month: number): number {
  const leap = (year % 4 === 0 && year % 100 !== 0) || year % 400 === 0
  return [31, leap ? 29 : 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31][month - 1] ?? 0
}
