import fc from "fast-check"
import { expect, test } from "vitest"
import { learn, offeredAmount, offeredDripPpm, type Sample } from "../../server/domain/learning.ts"

const sample: fc.Arbitrary<Sample> = fc.record({
  planned: fc.integer({ min: 1, max: 10_000_000 }),
  actual: fc.integer({ min: 0, max: 10_000_000 }),
})
const samples = fc.array(sample, { minLength: 2, maxLength: 60 })

test("the ratio lies inside its interval and between the smallest and the largest one measured", () => {
  fc.assert(
    fc.property(samples, (samples) => {
      const { ratio, interval, count } = learn(samples)
      const ratios = samples.map(({ planned, actual }) => actual / planned)
      const slack = 1e-9 * (1 + ratio!)
      expect(count).toBe(samples.length)
      expect(ratio!).toBeGreaterThanOrEqual(Math.min(...ratios) - slack)
      expect(ratio!).toBeLessThanOrEqual(Math.max(...ratios) + slack)
      expect(interval!.low).toBeLessThanOrEqual(ratio! + slack)
      expect(interval!.high).toBeGreaterThanOrEqual(ratio! - slack)
    }),
  )
})

test("the same in another unit, or in another order, says the same", () => {
  fc.assert(
    fc.property(samples, (samples) => {
      const bias = learn(samples)
      const scaled = samples.map(({ planned, actual }) => ({ planned: planned * 8, actual: actual * 8 }))
      expect(learn(scaled)).toEqual(bias)
      const turned = learn(samples.toReversed())
      expect(turned.ratio! / (bias.ratio! || 1)).toBeCloseTo(bias.ratio === 0 ? 0 : 1, 9)
    }),
  )
})

test("an amount is offered exactly when there is a difference, and moves the way it says", () => {
  fc.assert(
    fc.property(samples, (samples) => {
      const bias = learn(samples)
      const offered = offeredAmount(bias, 1_000_000)
      expect(offered === null).toBe(bias.verdict === "no difference" || bias.verdict === "too few")
      if (offered !== null && bias.verdict === "more") expect(offered).toBeGreaterThanOrEqual(1_000_000)
      if (offered !== null && bias.verdict === "less") expect(offered).toBeLessThanOrEqual(1_000_000)
    }),
  )
})

test("planned with the offered drip loss, the same pouring would have been as planned", () => {
  fc.assert(
    fc.property(samples, fc.integer({ min: 0, max: 900_000 }), (samples, dripPpm) => {
      const bias = learn(samples)
      const offered = offeredDripPpm(bias, dripPpm)
      fc.pre(offered !== null && offered < 999_000)
      // poured = film ÷ (1 − drips)
      const grown = (1_000_000 - dripPpm) / (1_000_000 - offered)
      expect(grown / bias.ratio!).toBeCloseTo(1, 2)
    }),
  )
})
