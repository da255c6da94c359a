import { readableWorking } from "../domain/readable-working.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { reorderPoints } from "./reorder.ts"

/** When to order each supply again: what is due first. */
export function reorderPage(studio: Studio) {
  const { units, serviceLevelPpm } = settingsOf(studio)
  const points = reorderPoints(studio).toSorted((a, b) => Number(b.isDue) - Number(a.isDue))
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
    points: points.map((one) => ({
      ...one,
      state: one.isDue ? "low" : "enough",
      told: one.isDue ? "order" : "enough",
      record:
        one.leadFrom === "record"
          ? `lead time from ${one.deliveries} deliveries`
          : `lead time as told, ${one.deliveries === 0 ? "no delivery" : one.deliveries === 1 ? "one delivery" : `${one.deliveries} deliveries`} on record`,
      working: readableWorking(one.working, units),
    })),
  }
}
