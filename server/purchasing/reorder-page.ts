import { readableWorking } from "../domain/readable-working.ts"
import { sayAmount } from "../domain/said-amounts.ts"
import type { UnitSystem } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type Reorder, reorderPoints } from "./reorder.ts"

/** When to order each supply again: what is due first. */
export function reorderPage(studio: Studio) {
  const { units, serviceLevelPpm } = settingsOf(studio)
  const points = reorderPoints(studio).map((one) => ({
    ...one,
    says: wordsOf(one, units),
    record: recordOf(one),
    working: readableWorking(one.working, units),
  }))
  const due = points.filter((one) => one.isDue)
  return {
    title: "When to order again",
    back: { to: "/shopping", label: "Shopping" },
    lead:
      points.length === 0
        ? "Nothing was used for a whole week yet, so nothing can be said."
        : due.length === 0
          ? "Nothing has to be ordered again yet."
          : `${due.length === 1 ? `${due[0]?.supply} is` : `${due.length} supplies are`} down to where it is time to order again.`,
    level: serviceLevelPpm / 10_000,
    due,
    others: points.filter((one) => !one.isDue),
  }
}

/** "Enough for the usual wait of 6 days, and 5 pcs on top for a busy week or a late parcel." */
function wordsOf({ leadDays, safety, baseUnit, sheet }: Reorder, units: UnitSystem): string {
  const days = Math.round(leadDays)
  const wait =
    days < 1 ? "Enough for the day it takes to get it" : `Enough for the usual wait of ${count(days, "day")}`
  const pieces = baseUnit === "each" ? " pcs" : ""
  return safety === 0
    ? `${wait}.`
    : `${wait}, and ${sayAmount(safety, { baseUnit, sheet }, units)}${pieces} on top for a busy week or a late parcel.`
}

/** What the figure rests on. */
function recordOf({ weeks, leadFrom, deliveries }: Reorder): string {
  const wait =
    leadFrom === "record"
      ? `and ${deliveries} deliveries`
      : `the wait is what the seller says (${deliveries === 0 ? "no delivery" : count(deliveries, "delivery", "deliveries")} on record)`
  return `From ${count(weeks, "week")} of use${leadFrom === "record" ? " " : "; "}${wait}.`
}

function count(n: number, one: string, many = `${one}s`): string {
  return `${n} ${n === 1 ? one : many}`
}
