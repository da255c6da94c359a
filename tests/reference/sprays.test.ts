import { describe, expect, test } from "vitest"
import { type SprayFilm, sprayedAmount, sprayedDryUm, sprayedUl } from "../../server/domain/sprays.ts"
import { supply } from "../unit/plan-fixtures.ts"

// exact by definition: NIST SP 811
const mil = 25.4 // µm
const ft2 = 92_903.04 // mm²
const usGal = 3_785_411.784 // µL

const film = (over: Partial<SprayFilm>): SprayFilm => ({
  dryUm: mil,
  passes: 1,
  solidsPpm: 1_000_000,
  transferPpm: 1_000_000,
  sharePpm: 1_000_000,
  ...over,
})

describe("what covers a surface of a printed spreading rate is a gallon or a litre", () => {
  test("52 % solids, 35 % transfer, 1.5 mil: 194.5 ft² take a gallon", () => {
    // R. Joseph, "Calculating Coating Coverage", Paint & Coatings Resource Center, May 2004 (194.6 rounded down)
    const joseph = film({ dryUm: 1.5 * mil, solidsPpm: 520_000, transferPpm: 350_000 })
    expect(sprayedUl(joseph, 194.6 * ft2) / usGal).toBeCloseTo(1, 3)
  })

  test("the same in three passes of half a mil", () => {
    const joseph = film({ dryUm: 0.5 * mil, passes: 3, solidsPpm: 520_000, transferPpm: 350_000 })
    expect(sprayedUl(joseph, 194.6 * ft2) / usGal).toBeCloseTo(1, 3)
  })

  test("pure solids, nothing lost: 1604 ft² at 1 mil take a gallon", () => {
    // 231 in³ a gallon (NIST Handbook 44 appendix C) ÷ 144 in² a ft² ÷ 0.001 in
    expect(sprayedUl(film({}), (231 / 144 / 0.001) * ft2) / usGal).toBeCloseTo(1, 9)
  })

  test("65 % solids at 125 µm: 5.2 m² take a litre", () => {
    // a coating maker's "Theoretical Spreading Rate / Coverage" sheet
    expect(sprayedUl(film({ dryUm: 125, solidsPpm: 650_000 }), 5_200_000)).toBeCloseTo(1_000_000, 3)
  })

  // a printed estimating table, ft² a gallon to the whole ft²
  test.each([
    [30, 1, 481],
    [35, 2, 281],
    [50, 4, 200],
    [60, 3, 321],
    [80, 5, 257],
    [90, 8, 180],
    [100, 10, 160],
  ])("%d %% solids at %d mil: %d ft² take a gallon", (percent, mils, printed) => {
    const sheet = film({ dryUm: mils * mil, solidsPpm: percent * 10_000 })
    const covers = usGal / sprayedUl(sheet, ft2)
    expect(Math.abs(covers - printed)).toBeLessThanOrEqual(1)
  })
})

test("what lands on the cup is all there: grams × transfer × solids fill the film", () => {
  // kept apart from spreading rates: 12 g at 0.8 g/mL is 15 mL; 30 % lands, 4.5 mL; 20 % of it is solid,
  // 0.9 mL = 900 mm³, on 45 000 mm² that is 20 µm
  const paint = supply(5, { baseUnit: "mg", densityMgPerMl: 800 })
  const sheet = film({ dryUm: 10, passes: 2, solidsPpm: 200_000, transferPpm: 300_000 })
  expect(sprayedAmount(sheet, 45_000, paint)).toBeCloseTo(12_000, 6)
  expect(sprayedDryUm(sheet, 45_000, paint, 12_000)).toBeCloseTo(20, 9)
})
