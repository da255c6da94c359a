import { describe, expect, test } from "vitest"
import { layerNeed } from "../../server/domain/layers.ts"
import type { Draw, Use, Working } from "../../server/domain/plan.ts"
import {
  fine,
  layer,
  pieceUse,
  plan,
  resinUse,
  sprayUse,
  supply,
  supplyUse,
  system,
} from "./plan-fixtures.ts"

const drawsOf = (uses: Use[], cups: number): readonly Draw[] => {
  const second = layer(2, uses)
  return layerNeed(plan([layer(1), second]), second, cups, fine).draws
}
const value = (working: Working, name: string) => {
  const found = working.inputs.find((input) => input.name === name)
  if (!found) throw new Error(`no input called ${name}`)
  return found.value
}

const inGrams = system({
  ratioBasis: "mass",
  ratioA: 100,
  ratioB: 84,
  partA: supply(1, { name: "Clear resin A", densityMgPerMl: 1150 }),
  partB: supply(2, { name: "Clear resin B", baseUnit: "mg", densityMgPerMl: 970 }),
})
const everyUse: Use[] = [
  resinUse(),
  resinUse({ how: "resin-applied", sharePpm: 400_000 }),
  resinUse({ how: "resin-film", amount: 300, system: inGrams }),
  supplyUse({ amount: 700, sharePpm: 250_000 }),
  supplyUse({ how: "per-area", amount: 90_000 }),
  supplyUse({ how: "per-resin", amount: 20_000 }),
  supplyUse({ how: "per-mix", amount: 2, supply: supply(4, { baseUnit: "each" }) }),
  supplyUse({ how: "per-batch", amount: 5 }),
  supplyUse({ how: "per-session", amount: 5 }),
  supplyUse({ how: "sprinkled", amount: 90_000, sharePpm: 250_000 }),
  sprayUse({ sharePpm: 250_000 }),
  sprayUse({ supply: supply(6, { baseUnit: "mg", densityMgPerMl: 900 }) }),
]

describe("every amount can be explained", () => {
  test.each(everyUse)("$how: the working ends in the amount drawn, in the supply's unit", (use) => {
    // what goes by a mix needs one in its layer
    const draws = drawsOf("system" in use ? [use] : [resinUse(), use], 5)
    for (const { amount, working } of draws) {
      expect(working.result.value).toBe(amount)
      expect(working.title).toMatch(/ for (\d+ cups|1 cup)/)
    }
    expect(draws.length).toBeGreaterThan(0)
  })

  test.each(everyUse)("$how: the formula speaks of exactly the inputs beside it", (use) => {
    const rounding = /, (up to the|rounded up to).*$/
    for (const { working } of drawsOf("system" in use ? [use] : [resinUse(), use], 5)) {
      const names = working.inputs.map((input) => input.name).sort((a, b) => b.length - a.length)
      for (const name of names) expect(working.formula).toContain(name)
      let rest = working.formula.replace(rounding, "")
      for (const name of names) rest = rest.replaceAll(name, "")
      expect(rest).toMatch(/^[\s()×÷+−1]*$/)
    }
  })

  test("pieces off a sheet follow from their inputs alone: whole sheets and a strip of the last", () => {
    const sheet = supply(5, {
      baseUnit: "mm2",
      sheet: { widthUm: 300_000, heightUm: 400_000 },
    })
    const use = pieceUse({ supply: sheet, marginUm: 5_000, gapUm: 2_000, reprintPpm: 50_000 })
    const [{ working, offcut }] = drawsOf([use], 20) as [Draw]
    const mm = (name: string) => value(working, name) / 1000
    expect(working.result.value).toBe(
      mm("sheet width") *
        (value(working, "whole sheets") * mm("sheet height") + mm("length off the last sheet")),
    )
    // 20 × 1.05 = 21 pieces; across 300 mm 3 lie side by side, 6 rows of them fill a sheet
    expect(value(working, "pieces a sheet")).toBeGreaterThanOrEqual(18)
    expect(offcut).toMatchObject({ widthUm: 300_000 })
    expect(offcut!.heightUm / 1000).toBe(mm("sheet height") - mm("length off the last sheet"))
  })

  test("pieces off a roll follow from their inputs alone: rows across it, a margin and the gaps", () => {
    const roll = supply(5, { baseUnit: "um", rollWidthUm: 300_000 })
    const use = pieceUse({ supply: roll, marginUm: 5_000, gapUm: 2_000, mayTurn: false })
    const [{ working }] = drawsOf([use], 7) as [Draw]
    // 3 pieces of 90 mm side by side: 7 need 3 rows of 60 mm
    expect(value(working, "rows")).toBe(3)
    expect(working.result).toEqual({
      value:
        value(working, "margin") +
        value(working, "rows") * (value(working, "row height") + value(working, "gap")),
      unit: "um",
    })
  })

  test("every input of a piece's working stands in its formula", () => {
    const sheet = supply(5, { baseUnit: "mm2", sheet: { widthUm: 300_000, heightUm: 400_000 } })
    const roll = supply(5, { baseUnit: "um", rollWidthUm: 300_000 })
    const wrap = { cut: { shape: "wrap" as const, overlapUm: 3_000 }, reprintPpm: 20_000 }
    for (const use of [
      pieceUse(),
      pieceUse({ reprintPpm: 20_000 }),
      pieceUse({ supply: sheet, reprintPpm: 20_000 }),
      pieceUse({ supply: roll }),
      pieceUse({ supply: roll, ...wrap }),
      pieceUse(wrap),
    ]) {
      const [{ working, amount }] = drawsOf([use], 5) as [Draw]
      expect(working.result.value).toBe(amount)
      for (const { name } of working.inputs) expect(working.formula).toContain(name)
    }
  })

  test("a part of a mix by volume follows from its inputs alone", () => {
    const { working } = drawsOf([resinUse({ amount: 26_300, system: system({ ratioA: 2 }) })], 3)[0]!
    const residue = value(working, "stays in the mixing cup")
    const mixed = value(working, "cups") * (value(working, "mixed for one cup") - residue) + residue
    const part = (mixed * value(working, "A")) / (value(working, "A") + value(working, "B"))
    const mark = value(working, "mark")
    // 3 × 24.8 + 1.5 = 75.9 mL, two thirds 50.6 mL, up to 51 mL
    expect(part).toBeCloseTo(50_600, 6)
    expect(working.result).toEqual({ value: Math.ceil(part / mark) * mark, unit: "uL" })
    expect(working.title).toBe("Clear resin A for 3 cups")
  })

  test("a film mixed by weight follows from its inputs alone", () => {
    const use = resinUse({ how: "resin-film", amount: 300, system: inGrams })
    const [, { working }] = drawsOf([use], 2) as [Draw, Draw]
    const poured =
      (value(working, "coated area") * value(working, "film")) / 1000 / (1 - value(working, "drips") / 1e6)
    const mixedUl = value(working, "cups") * poured + value(working, "stays in the mixing cup")
    const ulOfParts =
      (value(working, "A") / value(working, "density of A") +
        value(working, "B") / value(working, "density of B")) *
      1000
    const mg = (mixedUl * value(working, "B")) / ulOfParts
    const step = value(working, "step of the scale")
    expect(working.result).toEqual({ value: Math.ceil(mg / step) * step, unit: "mg" })
  })

  test("each input says where it comes from, and mixes are told apart", () => {
    const draws = drawsOf([resinUse({ sharePpm: 500_000 })], 8)
    expect(draws[2]!.working.title).toBe("Clear resin A for 4 cups, mix 2 of 2")
    expect(draws[2]!.working.inputs.map(({ name, from, unit }) => [name, from, unit])).toEqual([
      ["cups", "this batch", "cups"],
      ["mixed for one cup", "design", "uL"],
      ["share", "design", "ppm"],
      ["stays in the mixing cup", "design", "uL"],
      ["A", "resin system", "parts"],
      ["B", "resin system", "parts"],
      ["mark", "studio", "uL"],
    ])
  })
})
