import { Temporal } from "temporal-polyfill"
import type { IsoDate } from "./dates.ts"

const DAYS = 7
const WEEKS = 5
const MONTHS = 12

/**
 * Which nightly copies are kept: the newest of each of the last 7 days, 5 weeks and 12 months that have one. So a slip noticed next day, next month or at the tax return can still be put
 * right, and the folder holds some two dozen files at most. Common practice, no source.
 *
 * @param days of the copies, in any order
 * @returns the days whose copies are kept; a copy of the future counts as today's
 */
export function copiesKept(days: readonly IsoDate[], today: IsoDate): Set<IsoDate> {
  const kept = new Set<IsoDate>()
  const newestFirst = [...new Set(days)].sort().reverse()
  for (const [most, nameOf] of [
    [DAYS, (day: IsoDate) => day],
    [WEEKS, weekOf],
    [MONTHS, (day: IsoDate) => day.slice(0, 7)],
  ] as const) {
    const periods = new Set<string>()
    for (const day of newestFirst) {
      const period = nameOf(day > today ? today : day)
      if (periods.has(period)) continue
      periods.add(period)
      if (periods.size <= most) kept.add(day)
    }
  }
  return kept
}

/** The Monday of its week (ISO 8601). */
function weekOf(day: IsoDate): string {
  const date = Temporal.PlainDate.from(day)
  return date.subtract({ days: date.dayOfWeek - 1 }).toString()
}
