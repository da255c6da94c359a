import { expect, test } from "vitest"
import { earliestReadyMin, schedule } from "../../server/domain/schedule.ts"
import { bestLastReady } from "../support/best-schedule.ts"
import { smallShop } from "../support/small-shops.ts"

// every order of placing is tried by an independent search: tests/support/best-schedule.ts
const CASES = Array.from({ length: 150 }, (_, seed) => smallShop(seed + 1))

test("on small cases the plan is never ahead of the best of all plans, nor the bound behind it", () => {
  for (const { shop, jobs } of CASES) {
    const best = bestLastReady(jobs, shop)
    const planned = lastReady(schedule(jobs, shop).readyMin)
    expect(planned).toBeGreaterThanOrEqual(best)
    expect(earliestReadyMin(jobs, shop)).toBeLessThanOrEqual(best)
  }
})

test("in four of five small cases the plain rule finds a best plan, and it is never more than three days behind one", () => {
  const excess = CASES.map(({ shop, jobs }) => {
    const planned = lastReady(schedule(jobs, shop).readyMin)
    return planned - bestLastReady(jobs, shop)
  })
  expect(excess.filter((minutes) => minutes === 0).length).toBeGreaterThanOrEqual(CASES.length * 0.8)
  expect(Math.max(...excess)).toBeLessThanOrEqual(3 * 1440)
})

function lastReady(readyMin: ReadonlyMap<number, number | null>): number {
  return Math.max(...[...readyMin.values()].map((minutes) => minutes ?? Number.POSITIVE_INFINITY))
}
