import fc from "fast-check"
import { describe, expect, test } from "vitest"
import { pouredPerCupUl } from "../../server/domain/films.ts"
import { mixesOfLayer } from "../../server/domain/layer-mixes.ts"
import { layerNeed } from "../../server/domain/layers.ts"
import { mixCard } from "../../server/domain/mix-card.ts"
import type { ResinUse } from "../../server/domain/plan.ts"
import { planProblems } from "../../server/domain/plan-problems.ts"
import { fine, layer, plan, resinUse, supply, supplyUse, system } from "./plan-fixtures.ts"

const areaMm2 = 52_000
/** 10:1, so that a coat of 22 mL has 2 mL of B, four marks: too few to be measured well. */
const uneven = system({ ratioA: 10, ratioB: 1 })
const coat = (amount: number, over: Partial<ResinUse> = {}) =>
  resinUse({ how: "resin-applied", amount, system: uneven, ...over })
const shape = (uses: readonly ResinUse[], cups: number, measures = fine) =>
  mixesOfLayer(uses, areaMm2, cups, measures).map((pour) => [
    pour.uses.length,
    ...pour.mixes.map(({ cups, measured, flag }) => [cups, measured.a, measured.b, flag]),
  ])

describe("coats of one resin in a layer", () => {
  test("are mixed one by one where each can be measured well", () => {
    const even = [resinUse(), resinUse({ amount: 12_000 })]
    expect(shape(even, 1)).toEqual([
      [1, [1, 12_500, 12_500, null]],
      [1, [1, 6_000, 6_000, null]],
    ])
  })

  test("are mixed as one where a mix of its own would be too small to be measured well", () => {
    // 30 + 25 mL and 1.5 mL left in one mixing cup instead of two: 56.5 mL, 51.4 and 5.1
    expect(shape([coat(30_000), coat(25_000)], 1)).toEqual([[2, [1, 54_000, 5_500, null]]])
    expect(shape([coat(30_000)], 1)).toEqual([[1, [1, 29_500, 3_000, "small"]]])
  })

  test("are mixed as one even if that is still small: one poor measure is better than two", () => {
    expect(shape([coat(6_000)], 1)).toEqual([[1, [1, 10_000, 1_000, "small"]]])
    expect(shape([coat(6_000), coat(5_000)], 1)).toEqual([[2, [1, 15_000, 1_500, "small"]]])
  })

  test("stay apart, and marked, where the pot life does not allow both", () => {
    const of = (potLifeMin: number) => {
      const system_ = { ...uneven, potLifeMin }
      return shape([coat(30_000, { system: system_ }), coat(25_000, { system: system_ })], 1).length
    }
    expect(of(25)).toBe(1) // 5 minutes to mix and 10 for each coat
    expect(of(24)).toBe(2)
  })

  test("stay apart where together they are more than the largest safe mix", () => {
    const small = { ...uneven, largestMixUl: 50_000 }
    expect(shape([coat(30_000, { system: small }), coat(25_000, { system: small })], 1)).toHaveLength(2)
  })

  test("of another resin are never mixed with them", () => {
    const other = { ...uneven, id: 2, name: "Fast resin" }
    expect(shape([coat(30_000), coat(25_000, { system: other })], 1).map(([uses]) => uses)).toEqual([1, 1])
  })
})

describe("a layer with coats mixed as one", () => {
  const stick = supplyUse({ how: "per-mix", supply: supply(5, { baseUnit: "each" }), amount: 1 })
  const other = { ...uneven, id: 2, name: "Fast resin", partA: supply(11), partB: supply(12) }
  const both = layer(1, [coat(30_000), resinUse({ system: other }), stick, coat(25_000)])
  const made = plan([layer(0), both])

  test("takes A and B once for them, and what is used up once a mix only once", () => {
    const need = layerNeed(made, both, 1, fine)
    expect(need.draws.map(({ supplyId, amount, mix }) => [supplyId, amount, mix])).toEqual([
      [1, 54_000, 0],
      [2, 5_500, 0],
      [11, 24_500, 1],
      [12, 2_500, 1],
      [5, 1, 0],
      [5, 1, 1],
    ])
  })

  test("counts a coat that is put on twice as two coats", () => {
    const use = resinUse()
    const twice = layer(1, [use, use])
    const need = layerNeed(plan([layer(0), twice]), twice, 1, fine)
    expect(need.draws.map(({ supplyId, mix }) => [supplyId, mix])).toEqual([
      [1, 0],
      [2, 0],
      [1, 1],
      [2, 1],
    ])
  })

  test("explains the amount by each coat", () => {
    const { working } = layerNeed(made, both, 1, fine).draws[0]!
    expect(working.formula).toMatch(
      /^\(cups × \(coat 1 over a cup \+ coat 2 over a cup\) \+ stays in the mixing cup\) × A ÷ \(A \+ B\)/,
    )
    const value = (name: string) => working.inputs.find((input) => input.name === name)?.value
    expect([
      value("coat 1 over a cup"),
      value("coat 2 over a cup"),
      value("stays in the mixing cup"),
    ]).toEqual([30_000, 25_000, 1_500])
  })

  test("gives the cups' work for both coats on the card", () => {
    const { mixes } = mixCard(made, 1, fine, { hazards: new Map() }).layers[1]!
    expect(mixes.map(({ system, workMin }) => [system.name, workMin])).toEqual([
      ["Clear resin", 20],
      ["Fast resin", 10],
    ])
  })

  test("is no problem of the plan for the coats that could not be mixed alone", () => {
    const said = planProblems(plan([layer(1, [coat(30_000), coat(25_000)])]), fine)
    expect(said).toEqual([])
    expect(planProblems(plan([layer(1, [coat(30_000)])]), fine)[0]?.sentence).toMatch(/hard to measure/)
  })
})

test("all coats of all cups get what they need, and no mix is too large or too slow", () => {
  const coats = fc.array(fc.integer({ min: 1_000, max: 40_000 }), { minLength: 1, maxLength: 3 })
  const ratio = fc.integer({ min: 1, max: 12 })
  fc.assert(
    fc.property(coats, ratio, fc.integer({ min: 1, max: 30 }), (amounts, ratioA, cups) => {
      const of = system({ ratioA, largestMixUl: 200_000, potLifeMin: 50 })
      const uses = amounts.map((amount) => coat(amount, { system: of }))
      for (const pour of mixesOfLayer(uses, areaMm2, cups, fine)) {
        expect(pour.mixes.reduce((sum, mix) => sum + mix.cups, 0)).toBe(cups)
        const perCup = pour.uses.reduce((sum, use) => sum + pouredPerCupUl(use, areaMm2), 0)
        for (const mix of pour.mixes) {
          expect(mix.mixedUl + 1).toBeGreaterThanOrEqual(mix.cups * perCup + mix.residueUl)
          expect(mix.mixedUl).toBeLessThanOrEqual(of.largestMixUl)
          expect(mix.workMin).toBe(mix.cups * of.cupWorkMin * pour.uses.length)
          expect(of.mixingMin + mix.workMin).toBeLessThanOrEqual(mix.potLifeMin)
        }
      }
    }),
  )
})
