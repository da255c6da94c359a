import { describe, expect, test } from "vitest"
import {
  filmUm,
  mixedForCups,
  practicalSpreadingRate,
  theoreticalSpreadingRate,
  wetFilmUm,
} from "../../server/domain/films.ts"
import { coatedAreaMm2 } from "../../server/domain/profile.ts"
import { resinUse, slim30 } from "../unit/plan-fixtures.ts"

const mil = 25.4 // µm, exact: NIST Handbook 44 appendix C

describe("how far paint goes", () => {
  test("a gallon of pure solids covers 1604 ft² at 1 mil", () => {
    // 231 in³ a US gallon (NIST Handbook 44 appendix C) ÷ 144 in² a ft² ÷ 0.001 in = 1604.17
    const { ft2PerUsGal } = practicalSpreadingRate({ solids: 1, transfer: 1, dryUm: mil })
    expect(ft2PerUsGal).toBeCloseTo(231 / 144 / 0.001, 6)
  })

  test("65 % solids cover 208.5 ft² a gallon at 5 mil and 5.2 m² a litre at 125 µm", () => {
    // a coating maker's "Theoretical Spreading Rate / Coverage" sheet
    expect(practicalSpreadingRate({ solids: 0.65, transfer: 1, dryUm: 5 * mil }).ft2PerUsGal).toBeCloseTo(
      208.5,
      1,
    )
    expect(theoreticalSpreadingRate({ solids: 0.65, dryUm: 125 })).toBeCloseTo(5.2, 9)
  })

  test("52 % solids, 35 % transfer, 1.5 mil covers 194.5 ft² a gallon", () => {
    // R. Joseph, "Calculating Coating Coverage", Paint & Coatings Resource Center, May 2004 (rounded down there)
    const { ft2PerUsGal } = practicalSpreadingRate({ solids: 0.52, transfer: 0.35, dryUm: 38.1 })
    expect(ft2PerUsGal).toBeCloseTo(194.6, 1)
  })

  // a printed estimating table, rounded there to the whole ft²
  test.each([
    [30, 1, 481],
    [35, 2, 281],
    [50, 4, 200],
    [60, 3, 321],
    [80, 5, 257],
    [90, 8, 180],
    [100, 10, 160],
  ])("%d %% solids at %d mil cover %d ft² a gallon", (percent, mils, printed) => {
    const { ft2PerUsGal } = practicalSpreadingRate({ solids: percent / 100, transfer: 1, dryUm: mils * mil })
    expect(Math.abs(ft2PerUsGal - printed)).toBeLessThanOrEqual(1)
  })

  test("100 µm dry at 65 % solids is laid 153.8 µm wet", () => {
    // wet = dry × (1 + thinner by volume) ÷ volume solids: the same estimating guide
    expect(wetFilmUm({ solids: 0.65, dryUm: 100, thinner: 0 })).toBeCloseTo(153.8, 1)
  })
})

test("50 in × 36 in under 10 mil of resin is 18 in³, 0.0779 US gallons mixed", () => {
  // a polymer supplier's "Coverage and yield per gallon"
  const area = 50 * 36 * 645.16 // mm², 1 in = 25.4 mm exactly
  const use = resinUse({ how: "resin-film", amount: 254, dripPpm: 0, residueUl: 0 })
  const mixedUl = mixedForCups(use, area, 1)
  expect(mixedUl / 16_387.064).toBeCloseTo(18, 9) // 1 in³ is 16 387.064 mm³
  expect(mixedUl / 3_785_411.784).toBeCloseTo(0.0779, 4)
})

test("a thin seal coat of 25 mL on a slim 30 oz tumbler leaves a film of about a third of a millimetre", () => {
  // Common practice, no source: about 25 mL of mixed resin for a thin seal coat on this blank. Assumed here:
  // 240 mm tall, 70 mm base to 76 mm lip, 10 mm bare at the lip and 3 mm at the base; of 25 mL mixed,
  // 1.5 mL stays in the mixing cup and a quarter of the rest drips off.
  const area = coatedAreaMm2(slim30)
  // 227 mm of a cone 70.075 to 75.75 mm wide: π × 72.9125 mm × 227.018 mm
  expect(area).toBeCloseTo(52_001, 0)
  // 23.5 mL × 0.75 = 17.625 mL on 520 cm² is 0.339 mm
  expect(filmUm(resinUse(), area)).toBeCloseTo(338.9, 1)
})
