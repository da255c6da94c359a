import fc from "fast-check"
import { expect, test } from "vitest"
import { mixedForCups } from "../../server/domain/films.ts"
import { cupsWithinPotLife, planMixes, RATIO_TOLERANCE_PPM } from "../../server/domain/mixes.ts"
import type { ResinUse } from "../../server/domain/plan.ts"
import { resinUse, supply, system } from "../unit/plan-fixtures.ts"

const uses: fc.Arbitrary<ResinUse> = fc
  .record({
    basis: fc.constantFrom("volume" as const, "mass" as const),
    ratioA: fc.integer({ min: 1, max: 10 }),
    ratioB: fc.integer({ min: 1, max: 10 }),
    potLifeMin: fc.integer({ min: 5, max: 120 }),
    largestMixUl: fc.integer({ min: 150_000, max: 1_000_000 }),
    amount: fc.integer({ min: 15_000, max: 60_000 }),
    residueUl: fc.integer({ min: 0, max: 5_000 }),
    densityA: fc.integer({ min: 900, max: 1300 }),
    densityB: fc.integer({ min: 900, max: 1300 }),
    counted: fc.constantFrom("uL" as const, "mg" as const),
  })
  .map((r) =>
    resinUse({
      amount: r.amount,
      residueUl: r.residueUl,
      system: system({
        ratioBasis: r.basis,
        ratioA: r.ratioA,
        ratioB: r.ratioB,
        potLifeMin: r.potLifeMin,
        largestMixUl: r.largestMixUl,
        partA: supply(1, { baseUnit: r.counted, densityMgPerMl: r.densityA }),
        partB: supply(2, { baseUnit: r.counted, densityMgPerMl: r.densityB }),
      }),
    }),
  )

const cupCounts = fc.integer({ min: 1, max: 60 })
const measures = fc.record({
  volumeStepUl: fc.constantFrom(1, 100, 500),
  massStepMg: fc.constantFrom(1, 10, 100),
})

test("every cup is in one mix, sizes differ by one at most, no mix is too slow, too large or too little", () => {
  fc.assert(
    fc.property(uses, cupCounts, measures, (use, cups, steps) => {
      const mixes = planMixes(use, 50_000, cups, steps)
      const sizes = mixes.map((mix) => mix.cups)
      expect(sizes.reduce((a, b) => a + b, 0)).toBe(cups)
      expect(Math.max(...sizes) - Math.min(...sizes)).toBeLessThanOrEqual(1)
      for (const mix of mixes) {
        expect(mix.cups).toBeLessThanOrEqual(cupsWithinPotLife(use.system))
        expect(mix.mixedUl).toBeLessThanOrEqual(use.system.largestMixUl)
        expect(mix.mixedUl).toBeGreaterThanOrEqual(mixedForCups(use, 50_000, mix.cups) - 1)
        expect(Number.isInteger(mix.partA) && Number.isInteger(mix.partB)).toBe(true)
      }
    }),
  )
})

test("a small integer ratio stays within 2 % at the marks of an ordinary measuring cup", () => {
  fc.assert(
    fc.property(uses, cupCounts, measures, (use, cups, steps) => {
      for (const mix of planMixes(use, 50_000, cups, steps)) {
        expect(Math.abs(mix.ratioErrorPpm)).toBeLessThanOrEqual(RATIO_TOLERANCE_PPM)
      }
    }),
  )
})

test("fewer mixes than planned would break the pot life or the largest safe mix", () => {
  fc.assert(
    fc.property(uses, cupCounts, (use, cups) => {
      const toTheDrop = { volumeStepUl: 1, massStepMg: 1 }
      const mixes = planMixes(use, 50_000, cups, toTheDrop)
      if (mixes.length === 1) return
      const fuller = Math.ceil(cups / (mixes.length - 1))
      const tooSlow = fuller > cupsWithinPotLife(use.system)
      // rounding both parts up to the µL or mg adds a few µL at most
      const tooLarge = mixedForCups(use, 50_000, fuller) + 5 > use.system.largestMixUl
      expect(tooSlow || tooLarge).toBe(true)
    }),
  )
})
