import fc from "fast-check"
import { expect, test } from "vitest"
import {
  type SprayFilm,
  shareOfColours,
  sprayedAmount,
  sprayedDryUm,
  transferFromWeighed,
} from "../../server/domain/sprays.ts"
import { supply } from "../unit/plan-fixtures.ts"

const film: fc.Arbitrary<SprayFilm> = fc.record({
  dryUm: fc.integer({ min: 1, max: 200 }),
  passes: fc.integer({ min: 1, max: 6 }),
  solidsPpm: fc.integer({ min: 20_000, max: 1_000_000 }),
  transferPpm: fc.integer({ min: 50_000, max: 1_000_000 }),
  sharePpm: fc.integer({ min: 10_000, max: 1_000_000 }),
})
const areaMm2 = fc.integer({ min: 5_000, max: 120_000 })
const paint = fc
  .record({ weighed: fc.boolean(), densityMgPerMl: fc.integer({ min: 600, max: 1_800 }) })
  .map(({ weighed, densityMgPerMl }) => supply(4, { baseUnit: weighed ? "mg" : "uL", densityMgPerMl }))

test("the film worked out from an amount is the film the amount was worked out for", () => {
  fc.assert(
    fc.property(film, areaMm2, paint, (film, area, paint) => {
      const amount = sprayedAmount(film, area, paint)
      expect(sprayedDryUm(film, area, paint, amount) / (film.dryUm * film.passes)).toBeCloseTo(1, 9)
      expect(transferFromWeighed(film, area, paint, amount) / film.transferPpm).toBeCloseTo(1, 9)
    }),
  )
})

test("more film, area or share takes more; more solids or transfer takes less", () => {
  fc.assert(
    fc.property(film, areaMm2, paint, (film, area, paint) => {
      const base = sprayedAmount(film, area, paint)
      const more = (over: Partial<SprayFilm>) => sprayedAmount({ ...film, ...over }, area, paint)
      expect(sprayedAmount(film, area + 1, paint)).toBeGreaterThan(base)
      expect(more({ dryUm: film.dryUm + 1 })).toBeGreaterThan(base)
      expect(more({ passes: film.passes + 1 })).toBeGreaterThan(base)
      expect(more({ sharePpm: film.sharePpm + 1_000 })).toBeGreaterThan(base)
      if (film.solidsPpm < 1_000_000) expect(more({ solidsPpm: 1_000_000 })).toBeLessThan(base)
      if (film.transferPpm < 1_000_000) expect(more({ transferPpm: 1_000_000 })).toBeLessThan(base)
    }),
  )
})

test("shares of colours mean the same in any order", () => {
  fc.assert(
    fc.property(
      fc.array(fc.integer({ min: 1, max: 2_000_000 }), { minLength: 1, maxLength: 8 }),
      (shares) => {
        expect(shareOfColours(shares.toReversed())).toEqual(shareOfColours(shares))
      },
    ),
  )
})
