import { describe, expect, test } from "vitest"
import { cupsWithinPotLife, planMixes, RATIO_TOLERANCE_PPM } from "../../server/domain/mixes.ts"
import { Refusal } from "../../server/domain/refusal.ts"
import { fine, resinUse, supply, system } from "./plan-fixtures.ts"

const areaMm2 = 52_000
const partsOf = (mixes: ReturnType<typeof planMixes>) =>
  mixes.map(({ cups, partA, partB }) => [cups, partA, partB])

describe("how many mixes", () => {
  test("pot life less mixing, by minutes a cup, is how many cups a mix can serve", () => {
    expect(cupsWithinPotLife(system({ potLifeMin: 45, mixingMin: 5, cupWorkMin: 10 }))).toBe(4)
    expect(cupsWithinPotLife(system({ potLifeMin: 44, mixingMin: 5, cupWorkMin: 10 }))).toBe(3)
  })

  test("a pot life too short for even one cup still plans one cup a mix", () => {
    expect(cupsWithinPotLife(system({ potLifeMin: 10, mixingMin: 5, cupWorkMin: 10 }))).toBe(1)
    expect(cupsWithinPotLife(system({ potLifeMin: 5, mixingMin: 9, cupWorkMin: 10 }))).toBe(1)
  })

  test("ten cups at four a mix are spread evenly: 4, 3, 3, never 4, 4, 2", () => {
    expect(planMixes(resinUse(), areaMm2, 10, fine).map((mix) => mix.cups)).toEqual([4, 3, 3])
  })

  test("the largest safe mix splits what the pot life would allow", () => {
    // 23.5 mL a cup and 1.5 mL residue: two cups are 48.5 mL, three are 72 mL
    const sizes = (largestMixUl: number) =>
      planMixes(resinUse({ system: system({ largestMixUl }) }), areaMm2, 6, fine).map((mix) => mix.cups)
    expect(sizes(72_000)).toEqual([3, 3])
    expect(sizes(71_999)).toEqual([2, 2, 2])
  })

  test("a mix that only rounding up carries past the largest safe one is split too", () => {
    const mixes = planMixes(resinUse({ system: system({ largestMixUl: 72_500 }) }), areaMm2, 3, {
      ...fine,
      volumeStepUl: 5_000,
    })
    // 72 mL would be poured as 40 + 40
    expect(partsOf(mixes)).toEqual([
      [2, 25_000, 25_000],
      [1, 15_000, 15_000],
    ])
  })

  test("one cup that takes more than the largest safe mix is refused", () => {
    const use = resinUse({ system: system({ largestMixUl: 24_000 }) })
    expect(() => planMixes(use, areaMm2, 2, fine)).toThrow(Refusal)
    expect(() => planMixes(use, areaMm2, 2, fine)).toThrow(/largest safe mix.*heats up/)
  })

  test("no cups, or parts of cups, are a programmer's mistake", () => {
    expect(() => planMixes(resinUse(), areaMm2, 0, fine)).toThrow(RangeError)
    expect(() => planMixes(resinUse(), areaMm2, 2.5, fine)).toThrow(RangeError)
  })
})

describe("what is poured", () => {
  test("25 mL at 1:1 with half-millilitre marks is 12.5 and 12.5", () => {
    const [mix] = planMixes(resinUse(), areaMm2, 1, fine)
    expect(mix).toMatchObject({
      cups: 1,
      mixedUl: 25_000,
      partA: 12_500,
      partB: 12_500,
      residueUl: 1_500,
      ratioErrorPpm: 0,
    })
  })

  test("each part is rounded up to a mark, never down: a mix is never too little", () => {
    const [mix] = planMixes(resinUse({ amount: 25_010 }), areaMm2, 1, fine)
    expect(partsOf([mix!])).toEqual([[1, 13_000, 13_000]])
    expect(mix!.mixedUl).toBe(26_000)
  })

  test("where rounding spoils the ratio, the next marks that keep it are taken", () => {
    // 25 mL at 3:1 is 18.75 and 6.25; 19 to 6.5 would be 2.6 % short of A, 19.5 to 6.5 is exact
    const use = resinUse({ system: system({ ratioA: 3, ratioB: 1 }) })
    const [mix] = planMixes(use, areaMm2, 1, fine)
    expect(partsOf([mix!])).toEqual([[1, 19_500, 6_500]])
    expect(mix!.ratioErrorPpm).toBe(0)
  })

  test("where no mark in reach keeps the ratio, the closest is taken and its error is stated", () => {
    // 100 to 3 with whole 5 mL marks: 5 mL of B would want 166.7 mL of A
    const use = resinUse({ system: system({ ratioA: 100, ratioB: 3 }) })
    const [mix] = planMixes(use, areaMm2, 1, { ...fine, volumeStepUl: 5_000 })
    expect(partsOf([mix!])).toEqual([[1, 75_000, 5_000]]) // ten marks above 25 mL
    expect(mix!.ratioErrorPpm).toBe(Math.round((15 / (100 / 3) - 1) * 1e6))
    expect(Math.abs(mix!.ratioErrorPpm)).toBeGreaterThan(RATIO_TOLERANCE_PPM)
  })

  test("by weight, both densities turn the millilitres wanted into grams on the scale", () => {
    // 100 : 50 by weight, 1.2 and 1.0 g/mL: 100 g and 50 g fill 83.33 + 50 = 133.33 mL, so 25 mL is 18.75 and 9.375 g
    const use = resinUse({
      system: system({
        ratioBasis: "mass",
        ratioA: 100,
        ratioB: 50,
        partA: supply(1, { baseUnit: "mg", densityMgPerMl: 1200 }),
        partB: supply(2, { baseUnit: "mg", densityMgPerMl: 1000 }),
      }),
    })
    const [mix] = planMixes(use, areaMm2, 1, fine)
    expect(partsOf([mix!])).toEqual([[1, 18_800, 9_400]])
    expect(mix!.mixedUl).toBe(Math.round(18_800 / 1.2 + 9_400))
  })

  test("each part is written in what its own supply is counted in, a whole number", () => {
    const [parts] = partsOf(
      planMixes(
        resinUse({
          system: system({
            partA: supply(1, { baseUnit: "mg", densityMgPerMl: 1153 }),
            partB: supply(2, { baseUnit: "uL" }),
          }),
        }),
        areaMm2,
        1,
        fine,
      ),
    )
    expect(parts).toEqual([1, Math.round(12_500 * 1.153), 12_500])
  })

  test("a missing density is asked for only where it is needed", () => {
    const without = { partA: supply(1, { name: "Part A" }), partB: supply(2, { name: "Part B" }) }
    expect(planMixes(resinUse({ system: system(without) }), areaMm2, 1, fine)).toHaveLength(1)
    const byMass = resinUse({ system: system({ ...without, ratioBasis: "mass" }) })
    expect(() => planMixes(byMass, areaMm2, 1, fine)).toThrow(
      /mixed by weight, so the density of Part A is needed/,
    )
    const counted = { ...without, partB: supply(2, { name: "Part B", baseUnit: "mg" }) }
    expect(() => planMixes(resinUse({ system: system(counted) }), areaMm2, 1, fine)).toThrow(
      /counted by weight, so the density of Part B is needed/,
    )
  })

  test("a part counted by the piece is refused", () => {
    const use = resinUse({ system: system({ partA: supply(1, { name: "Odd", baseUnit: "each" }) }) })
    expect(() => planMixes(use, areaMm2, 1, fine)).toThrow(/Odd is a part of Clear resin/)
  })
})
