/*
 * Cups with a thing beside the rest: counts only. What is behind a difference they cannot say.
 */

/** So many cups that went wrong (scrapped, or complained of) of so many. */
export interface OutOf {
  bad: number
  all: number
}

/** Cups with a thing, and the rest of those that it is set beside. */
export interface Beside {
  withIt: OutOf
  others: OutOf
}

/** A cup as it is counted: whether it went wrong. */
export interface CountedCup {
  bad: boolean
}

/** Counts cups, each as often as it is given. */
export function countOf(cups: Iterable<CountedCup>): OutOf {
  const count: OutOf = { bad: 0, all: 0 }
  for (const { bad } of cups) {
    count.all += 1
    if (bad) count.bad += 1
  }
  return count
}

/** Sets some cups beside the rest: `all` counts both. @throws {RangeError} there are more of them than there are cups */
export function beside(withIt: OutOf, all: OutOf): Beside {
  const others = { bad: all.bad - withIt.bad, all: all.all - withIt.all }
  if (others.bad < 0 || others.all < others.bad)
    throw new RangeError(
      `${withIt.bad} of ${withIt.all} cups cannot be a part of ${all.bad} of ${all.all} cups`,
    )
  return { withIt, others }
}

/** Days a container had been open, both ends counted; null: no end. */
export interface OpenAge {
  fromDays: number
  toDays: number | null
}

/** Bands in which the age of an open container is told: common practice, no source. */
export const OPEN_AGES: readonly OpenAge[] = [
  { fromDays: 0, toDays: 14 },
  { fromDays: 15, toDays: 30 },
  { fromDays: 31, toDays: 60 },
  { fromDays: 61, toDays: 120 },
  { fromDays: 121, toDays: null },
]

/** Whether a container that had been open so many days is of a band. */
export function isOfAge({ fromDays, toDays }: OpenAge, days: number): boolean {
  return days >= fromDays && (toDays === null || days <= toDays)
}

/** A band as a person says it: "15 to 30 days", "over 120 days". */
export function sayOpenAge({ fromDays, toDays }: OpenAge): string {
  return toDays === null ? `over ${fromDays - 1} days` : `${fromDays} to ${toDays} days`
}
