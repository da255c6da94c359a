import fc from "fast-check"
import { expect, test } from "vitest"
import {
  breakNews,
  cheapestCount,
  cheapestMix,
  costOf,
  orderCost,
  type PackChoice,
  usableOf,
} from "../../server/domain/pack-mix.ts"

const choice = fc.record({
  covers: fc.integer({ min: 1, max: 12 }),
  priceMicro: fc.integer({ min: 1, max: 50 }),
  breaks: fc
    .uniqueArray(
      fc.record({ fromCount: fc.integer({ min: 2, max: 6 }), off: fc.integer({ min: 1, max: 9 }) }),
      {
        maxLength: 2,
        selector: (one) => one.fromCount,
      },
    )
    .map((all) => all.toSorted((a, b) => a.fromCount - b.fromCount)),
})
const choices: fc.Arbitrary<PackChoice[]> = fc.array(choice, { minLength: 1, maxLength: 3 }).map((all) =>
  all.map(({ breaks, ...one }, packId) => ({
    ...one,
    packId,
    breaks: breaks.map(({ fromCount, off }) => ({
      fromCount,
      priceMicro: Math.max(1, one.priceMicro - off),
    })),
  })),
)

/** Every combination of counts, one by one: what the search must equal. */
function bruteForce(need: number, all: readonly PackChoice[]): { costMicro: number; over: number } {
  let best = { costMicro: Number.POSITIVE_INFINITY, over: 0 }
  const most = all.map((one) =>
    Math.max(Math.ceil(need / one.covers), ...one.breaks.map((step) => step.fromCount)),
  )
  const walk = (index: number, covered: number, costMicro: number) => {
    const one = all[index]
    if (!one) {
      const over = covered - need
      const isBetter = costMicro < best.costMicro || (costMicro === best.costMicro && over < best.over)
      if (over >= 0 && isBetter) best = { costMicro, over }
      return
    }
    for (let count = 0; count <= (most[index] ?? 0); count++) {
      walk(index + 1, covered + count * one.covers, costMicro + costOf(one, count))
    }
  }
  walk(0, 0, 0)
  return best
}

test("whole packs for a need cost no more than the cheapest of all combinations, tried one by one", () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 40 }), choices, (need, all) => {
      const mix = cheapestMix(need, all)
      const best = bruteForce(need, all)
      expect({ costMicro: mix?.costMicro, over: mix?.over }).toEqual(best)
      const covered = all.reduce((sum, one) => sum + one.covers * (mix?.counts.get(one.packId) ?? 0), 0)
      expect(covered - need).toBe(mix?.over)
    }),
    { numRuns: 500 },
  )
})

test("a bottle that would go off half used counts for what is used of it, so a smaller one that costs less in all wins", () => {
  // 10 mL a day, a bottle keeps 30 days once it has come: 300 mL of it are used, however large it is
  const large = { packId: 1, covers: usableOf(1_000_000, 10_000, 30), priceMicro: 40_000_000, breaks: [] }
  const small = { packId: 2, covers: usableOf(250_000, 10_000, 30), priceMicro: 15_000_000, breaks: [] }
  const mix = cheapestMix(300_000, [large, small])
  expect(mix?.counts).toEqual(new Map([[2, 2]]))
  expect(
    cheapestMix(300_000, [
      { ...large, covers: 1_000_000 },
      { ...small, priceMicro: 25_000_000 },
    ])?.counts,
  ).toEqual(new Map([[1, 1]]))
})

test("seven at the price of ten can be dearer than ten: a price break is reached by buying more", () => {
  const cans = { packId: 1, covers: 1, priceMicro: 10, breaks: [{ fromCount: 10, priceMicro: 6 }] }
  expect(cheapestMix(7, [cans])).toEqual({ counts: new Map([[1, 10]]), costMicro: 60, over: 3 })
})

test("of one pack, so many or more are taken as cost least of all counts from there up", () => {
  fc.assert(
    fc.property(choices, fc.integer({ min: 1, max: 9 }), ([one], enough) => {
      const all = Array.from({ length: 10 }, (_, more) => costOf(one!, enough + more))
      expect(costOf(one!, cheapestCount(one!, enough))).toBe(Math.min(...all))
    }),
  )
})

test("a break that is held, one a few packs away, and none further away", () => {
  const jars = {
    priceMicro: 20,
    breaks: [
      { fromCount: 3, priceMicro: 18 },
      { fromCount: 10, priceMicro: 15 },
    ],
  }
  expect(breakNews(jars, 2)).toEqual({
    held: null,
    fewerCost: null,
    near: { fromCount: 3, priceMicro: 18, more: 1, costMicro: 54 },
  })
  expect(breakNews(jars, 4)).toEqual({ held: jars.breaks[0], fewerCost: null, near: null })
  expect(breakNews(jars, 7)?.near).toMatchObject({ fromCount: 10, more: 3, costMicro: 150 })
  // nine at 18 are 162
  expect(breakNews(jars, 10)).toEqual({ held: jars.breaks[1], fewerCost: "more", near: null })
  expect(breakNews({ priceMicro: 20, breaks: [] }, 4)).toBeNull()
  expect(breakNews({ priceMicro: 20, breaks: [{ fromCount: 9, priceMicro: 1 }] }, 5)).toBeNull()
})

test("sizes that cover nothing are never bought", () => {
  expect(cheapestMix(5, [{ packId: 1, covers: 0, priceMicro: 1, breaks: [] }])).toBeNull()
})

test("a large need of a studio's usual sizes is answered at once", () => {
  const sizes = [473_000, 946_000, 1_892_000, 3_785_000, 18_900_000].map((covers, packId) => ({
    packId,
    covers,
    priceMicro: Math.round(covers ** 0.9),
    breaks: [],
  }))
  expect(cheapestMix(123_456_789, sizes)?.over).toBeGreaterThanOrEqual(0)
})

test("shipping is charged until it is free, and a seller's minimum is said", () => {
  const terms = { minimumMicro: 25, shippingMicro: 7, freeFromMicro: 50 }
  expect(orderCost(20, terms)).toEqual({
    goodsMicro: 20,
    shippingMicro: 7,
    totalMicro: 27,
    belowMinimumMicro: 5,
    untilFreeMicro: 30,
  })
  expect(orderCost(50, terms)).toEqual({
    goodsMicro: 50,
    shippingMicro: 0,
    totalMicro: 50,
    belowMinimumMicro: 0,
    untilFreeMicro: null,
  })
  expect(orderCost(0, terms).totalMicro).toBe(0)
})
