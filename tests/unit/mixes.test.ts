import { describe, expect, test } from "vitest"
import { mixedForCups } from "../../server/domain/films.ts"
import { planMixes, sayFlag } from "../../server/domain/mixes.ts"
import { Refusal } from "../../server/domain/refusal.ts"
import { fine, resinUse, supply, system } from "./plan-fixtures.ts"

const areaMm2 = 52_000
const partsOf = (mixes: ReturnType<typeof planMixes>) =>
  mixes.map(({ cups, partA, partB }) => [cups, partA, partB])

describe("how many mixes", () => {
  const sizes = (of: Parameters<typeof system>[0], cups: number, roomCelsius?: number) =>
    planMixes(resinUse({ system: system(of) }), areaMm2, cups, {
      ...fine,
      ...(roomCelsius !== undefined && { roomCelsius }),
    }).map((mix) => mix.cups)

  test("pot life less mixing, by minutes a cup, is how many cups a mix serves", () => {
    // 45 − 5 minutes at ten a cup are four cups, and 95.5 mL is no more than the data sheet's mix
    expect(sizes({ potLifeMin: 45 }, 4)).toEqual([4])
    expect(sizes({ potLifeMin: 44 }, 4)).toEqual([2, 2])
  })

  test("a warm room shortens the pot life, so more and smaller mixes are made", () => {
    expect(sizes({}, 4, 23)).toEqual([4])
    expect(sizes({}, 4, 24)).toEqual([2, 2])
    // half of 45 minutes is 22: one cup
    expect(sizes({}, 4, 33)).toEqual([1, 1, 1, 1])
  })

  test("a large mix heats up and lasts less long, so it serves fewer cups than the data sheet's pot life", () => {
    // 8 cups are 189.5 mL: the data sheet's 45 minutes shrink to 36, and 5 + 8 × 5 is 45
    const quick = { cupWorkMin: 5 }
    expect(sizes(quick, 6)).toEqual([6]) // 142.5 mL lasts 40 minutes, and 5 + 30 are needed
    expect(sizes(quick, 8)).toEqual([4, 4])
  })

  test("a pot life shorter than mixing and one cup's work is refused", () => {
    expect(() => sizes({ potLifeMin: 14 }, 3)).toThrow(
      new Refusal(
        "Clear resin thickens after 14 minutes, but mixing it and coating one cup takes 15. Check its times, or choose a resin with a longer pot life.",
      ),
    )
    expect(() => sizes({ potLifeMin: 15 }, 3, 30)).toThrow(/at 30 °C.*cooler room/)
  })

  test("each mix says how long it lasts and how long its cups take", () => {
    const [mix] = planMixes(resinUse(), areaMm2, 4, { ...fine, roomCelsius: 20 })
    expect(mix).toMatchObject({ cups: 4, potLifeMin: 45, workMin: 40 })
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

  test("marks too coarse for an uneven ratio take more resin rather than a wrong ratio", () => {
    // 100 to 3 with whole 5 mL marks: one mark of B wants 33 of A
    const use = resinUse({ system: system({ ratioA: 100, ratioB: 3 }) })
    const [mix] = planMixes(use, areaMm2, 1, { ...fine, volumeStepUl: 5_000 })
    expect(partsOf([mix!])).toEqual([[1, 165_000, 5_000]])
    expect(mix!.ratioErrorPpm).toBe(Math.round((33 / (100 / 3) - 1) * 1e6))
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

describe("both ways of measuring", () => {
  test("1:1 by volume is shown by volume first, and by mass as its densities say", () => {
    const [mix] = planMixes(resinUse(), areaMm2, 1, fine)
    expect(mix!.measured).toEqual({ basis: "volume", a: 12_500, b: 12_500 })
    expect(mix!.also).toEqual({ basis: "mass", a: 14_375, b: 12_125 }) // × 1.15 and × 0.97
  })

  test("a ratio by mass is shown by mass first, and by volume as its densities say", () => {
    const [mix] = planMixes(
      resinUse({ system: system({ ratioBasis: "mass", ratioA: 100, ratioB: 84 }) }),
      areaMm2,
      1,
      fine,
    )
    expect(mix!.measured.basis).toBe("mass")
    expect(mix!.also).toEqual({ basis: "volume", a: mix!.partA, b: mix!.partB })
  })

  test("the other way is left out where a density is not known", () => {
    const partB = supply(2, { densityMgPerMl: null })
    const [mix] = planMixes(resinUse({ system: system({ partB }) }), areaMm2, 1, fine)
    expect(mix!.also).toBeNull()
  })

  test("a density no resin has is refused: it was typed in another unit", () => {
    const partA = supply(1, { name: "Part A", baseUnit: "mg", densityMgPerMl: 1 })
    expect(() => planMixes(resinUse({ system: system({ partA }) }), areaMm2, 1, fine)).toThrow(
      /Part A has a density of 0.001 g\/mL, which no resin has/,
    )
  })
})

describe("mixes that cannot be measured well", () => {
  const coarse = { ...fine, volumeStepUl: 5_000 }

  test("under ten marks of a part is flagged as small: half a mark is then over 5 %", () => {
    const of = (ratioB: number, cups: number) =>
      planMixes(resinUse({ system: system({ ratioA: 10, ratioB }) }), areaMm2, cups, fine)[0]!
    expect(of(1, 1).measured).toEqual({ basis: "volume", a: 24_500, b: 2_500 }) // five marks of B
    expect(of(1, 1).flag).toBe("small")
    expect(sayFlag(of(1, 1))).toBe(
      "So little Clear resin is hard to measure well: mix for more cups at once, or use a finer measure.",
    )
    expect(of(10, 1).flag).toBeNull()
    expect(sayFlag(of(10, 1))).toBeNull()
    expect(of(1, 3).flag).toBeNull() // 6.5 mL of B
  })

  test("a ratio that only a mix too large to be safe would keep is flagged, with the part that is too much", () => {
    // 10 : 9 in 5 mL marks: 45 and 40 is 1.25 % off but 85 mL, 35 and 30 is the least within 5 %
    const use = resinUse({ system: system({ ratioA: 10, ratioB: 9, largestMixUl: 84_000 }) })
    const [mix] = planMixes(use, areaMm2, 1, coarse)
    expect(partsOf([mix!])).toEqual([[1, 35_000, 30_000]])
    expect(mix).toMatchObject({ flag: "ratio", ratioErrorPpm: 50_000 })
    expect(sayFlag(mix!)).toMatch(/^5\.0 % too much Clear resin A/)
  })

  test("beyond 5 % it is refused, and the sentence says what would help", () => {
    const of = (over: Parameters<typeof system>[0]) =>
      resinUse({ system: system({ ratioA: 100, ratioB: 3, largestMixUl: 150_000, ...over }) })
    expect(() => planMixes(of({}), areaMm2, 1, coarse)).toThrow(
      new Refusal(
        "These measures are too coarse to keep Clear resin at 100 : 3 in a mix small enough to be safe: use a finer measuring cup or syringe.",
      ),
    )
    expect(() => planMixes(of({ ratioBasis: "mass" }), areaMm2, 1, { ...fine, massStepMg: 10_000 })).toThrow(
      /use a finer scale/,
    )
  })

  test("a ratio that leaves one part out is refused", () => {
    for (const ratio of [
      { ratioA: 0, ratioB: 1 },
      { ratioA: 1, ratioB: 0 },
    ]) {
      expect(() => planMixes(resinUse({ system: system(ratio) }), areaMm2, 1, fine)).toThrow(
        /leaves one part out: take both parts from its label/,
      )
    }
  })
})

test("drips grow with the coats; what stays in the mixing cup is lost once a mix, whatever it serves", () => {
  const use = resinUse({ how: "resin-film", amount: 340, dripPpm: 250_000, residueUl: 1_500 })
  const onOneCup = (areaMm2 * 340) / 1000
  for (const cups of [1, 2, 6]) {
    expect(mixedForCups(use, areaMm2, cups)).toBeCloseTo((cups * onOneCup) / 0.75 + 1_500, 6)
  }
})
