import { expect, test } from "vitest"
import { planTimes } from "../../server/domain/plan-times.ts"
import { layer, plan } from "./plan-fixtures.ts"

const prep = layer(1, [], { handsOnMin: 15, turnerMin: 0, recoatEarliestMin: 0 })
const base = layer(2, [], { handsOnMin: 10, turnerMin: 0, recoatEarliestMin: 60 })
const resin = layer(3, [], { handsOnMin: 25, turnerMin: 360, recoatEarliestMin: 720 })
const final = layer(4, [], { handsOnMin: 30, turnerMin: 360, recoatEarliestMin: 720 })

test("a layer waits for the turner or the next coat, whichever is longer; the last one for its full cure", () => {
  const times = planTimes(plan([prep, base, resin, final], { fullCureMin: 4_320 }))
  expect(times).toMatchObject({
    handsOnMin: 80,
    turnerMin: 720,
    totalMin: 15 + (10 + 60) + (25 + 720) + (30 + 4_320),
  })
})

test("from the start of each layer it takes that layer and all that follow until the cup is ready", () => {
  const { untilReady, totalMin } = planTimes(plan([final, resin, base, prep]))
  expect(untilReady.map(({ position, minutes }) => [position, minutes])).toEqual([
    [1, 15 + 70 + 745 + 4_350],
    [2, 70 + 745 + 4_350],
    [3, 745 + 4_350],
    [4, 4_350],
  ])
  expect(untilReady[0]!.minutes).toBe(totalMin)
})

test("a cup that turns longer than the next coat has to wait is held up by the turner", () => {
  const slow = layer(1, [], { handsOnMin: 5, turnerMin: 900, recoatEarliestMin: 480 })
  expect(planTimes(plan([slow, final])).totalMin).toBe(905 + 4_350)
  expect(planTimes(plan([slow], { fullCureMin: 600 })).totalMin).toBe(905)
})

test("a plan without layers takes no time", () => {
  expect(planTimes(plan([]))).toEqual({ handsOnMin: 0, turnerMin: 0, totalMin: 0, untilReady: [] })
})
