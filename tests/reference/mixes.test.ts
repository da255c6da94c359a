import { describe, expect, test } from "vitest"
import { filmUm } from "../../server/domain/films.ts"
import { planMixes } from "../../server/domain/mixes.ts"
import type { ResinSystem } from "../../server/domain/plan.ts"
import { coatedAreaMm2 } from "../../server/domain/profile.ts"
import { scaleReadings } from "../../server/domain/scale-readings.ts"
import { fine, resinUse, slim30, supply, system } from "../unit/plan-fixtures.ts"

const toTheMicrolitre = { volumeStepUl: 1, massStepMg: 1 }
const areaMm2 = 52_000

/** One mix of `mixedUl` in all, nothing lost. */
function mixOf(mixedUl: number, of: ResinSystem) {
  const use = resinUse({ how: "resin-applied", amount: mixedUl, dripPpm: 0, residueUl: 0, system: of })
  const [mix] = planMixes(use, areaMm2, 1, toTheMicrolitre)
  return mix!
}

describe("kits named for their part A (an adhesive maker's table of common mix ratios by volume)", () => {
  const pintUl = 473_176.473 // half of 0.946352946 L: NIST Handbook 44 appendix C
  test.each([
    ["a 1:1 pint kit makes 2 pints", 1, pintUl, 2],
    ["a 2:1 pint kit makes 1.5 pints", 2, pintUl, 1.5],
    ["a 4:1 pint kit makes 1.25 pints", 4, pintUl, 1.25],
    ["a 4:1 quart kit makes 1.25 quarts", 4, 2 * pintUl, 1.25],
  ])("%s", (_, ratioA, kitUl, makes) => {
    const mix = mixOf(makes * kitUl, system({ ratioA, ratioB: 1, largestMixUl: 10_000_000 }))
    // the whole part A goes in, and part B is the rest; each to the µL it was rounded up to
    expect(Math.abs(mix.partA - kitUl)).toBeLessThanOrEqual(1)
    expect(Math.abs(mix.partB - (makes - 1) * kitUl)).toBeLessThanOrEqual(1)
  })
})

describe("1:1 by volume is not 1:1 by mass", () => {
  // by definition of density, worked by hand: 1.15 to 0.97 is 100 to 84.3; makers print it as 100:84
  const densities = { A: 1150, B: 970 }
  const inGrams = {
    partA: supply(1, { baseUnit: "mg", densityMgPerMl: densities.A }),
    partB: supply(2, { baseUnit: "mg", densityMgPerMl: densities.B }),
  } as const

  test("at 1.15 and 0.97 g/mL, 1:1 by volume weighs 100:84", () => {
    const mix = mixOf(100_000, system(inGrams))
    expect(Math.round((100 * mix.partB) / mix.partA)).toBe(84)
    expect([mix.partA, mix.partB]).toEqual([57_500, 48_500])
  })

  test("a mix by volume says its weights, and the scale reads them: 57.5 g, then 106 g", () => {
    const mix = mixOf(100_000, system())
    expect(mix.measured).toEqual({ basis: "volume", a: 50_000, b: 50_000 })
    expect(mix.also).toEqual({ basis: "mass", a: 57_500, b: 48_500 })
    expect(scaleReadings(mix, [], 100)!.map(({ readsMg }) => readsMg)).toEqual([0, 57_500, 106_000])
  })

  test("weighed out 100:84, the same resin fills equal volumes to half a percent", () => {
    const inMl = {
      partA: supply(1, { densityMgPerMl: densities.A }),
      partB: supply(2, { densityMgPerMl: densities.B }),
    } as const
    const mix = mixOf(100_000, system({ ...inMl, ratioBasis: "mass", ratioA: 100, ratioB: 84 }))
    expect(mix.partA + mix.partB).toBeGreaterThanOrEqual(100_000)
    expect(Math.abs(mix.partA / mix.partB - 1)).toBeLessThan(0.005)
  })
})

test("a thin seal coat on a slim 30 oz tumbler: 25 mL mixed as 12.5 and 12.5 leaves about 0.34 mm", () => {
  // Common practice, no source. Blank as assumed in plan-fixtures: 240 mm tall, 70 mm base to 76 mm lip,
  // 10 mm bare at the lip, 3 mm at the base; 1.5 mL residue, 25 % drips.
  const area = coatedAreaMm2(slim30)
  const [mix] = planMixes(resinUse(), area, 1, fine)
  expect([mix!.partA, mix!.partB, mix!.mixedUl]).toEqual([12_500, 12_500, 25_000])
  const film = filmUm(resinUse(), area)
  expect(film).toBeGreaterThan(300)
  expect(film).toBeLessThan(400)
})
