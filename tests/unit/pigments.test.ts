import fc from "fast-check"
import { describe, expect, test } from "vitest"
import { layerNeed } from "../../server/domain/layers.ts"
import { pigmentIn } from "../../server/domain/pigments.ts"
import type { Use } from "../../server/domain/plan.ts"
import { planProblems } from "../../server/domain/plan-problems.ts"
import { coatedAreaMm2 } from "../../server/domain/profile.ts"
import { fine, layer, plan, resinUse, slim30, supply, supplyUse, system } from "./plan-fixtures.ts"

const area = coatedAreaMm2(slim30)
const pigment = supply(7, { name: "Pearl", kind: "pigment", baseUnit: "mg" })
const limited = (maxPigmentPpm: number | null) => resinUse({ system: system({ maxPigmentPpm }) })
const stirred = (how: "per-resin" | "per-mix" | "per-cup", amount: number) =>
  supplyUse({ how, amount, supply: pigment })
const ppm = (...uses: Use[]) => pigmentIn(layer(1, uses), area)?.ppm
const said = (...uses: Use[]) => planProblems(plan([layer(1, uses)]), fine).map((problem) => problem.sentence)

/** 1:1 by volume of 1.15 and 0.97 g/mL. */
const MG_PER_UL = 1.06

describe("pigment in resin, by mass of the mix", () => {
  test("by the litre: 53 g in a litre that weighs 1060 g is 5 %", () => {
    expect(ppm(resinUse(), stirred("per-resin", 53_000))).toBe(50_000)
  })

  test("by the mix: most in the smallest mix, one for a single cup", () => {
    expect(ppm(resinUse(), stirred("per-mix", 1_000))).toBe(Math.round((1_000 / (25_000 * MG_PER_UL)) * 1e6))
  })

  test("by the cup: most where hardly any resin stays in the mixing cup, in a mix for many", () => {
    expect(ppm(resinUse(), stirred("per-cup", 1_000))).toBe(Math.round((1_000 / (23_500 * MG_PER_UL)) * 1e6))
  })

  test("of what is sprayed or strewn nothing counts", () => {
    expect(
      ppm(resinUse(), supplyUse({ supply: supply(8, { kind: "glitter", baseUnit: "mg" }) })),
    ).toBeUndefined()
    expect(
      ppm(resinUse(), supplyUse({ supply: supply(8, { kind: "paint", baseUnit: "mg" }) })),
    ).toBeUndefined()
    expect(ppm(stirred("per-cup", 1))).toBeUndefined()
  })

  test("never more in any mix than it says", () => {
    const amount = fc.integer({ min: 0, max: 5_000 })
    fc.assert(
      fc.property(amount, amount, amount, fc.integer({ min: 1, max: 40 }), (litre, mix, cup, cups) => {
        const uses = [
          resinUse(),
          stirred("per-resin", litre),
          stirred("per-mix", mix),
          stirred("per-cup", cup),
        ]
        const most = ppm(...uses)!
        const need = layerNeed(plan([layer(1, uses)]), layer(1, uses), cups, {
          volumeStepUl: 1,
          massStepMg: 1,
        })
        for (const [nth, { mixedUl, cups: served }] of need.mixes.entries()) {
          const inMix = need.draws.filter((draw) => draw.supplyId === 7 && draw.mix === nth)
          const mg = inMix.reduce((sum, draw) => sum + draw.amount, 0) + cup * served
          // amounts are rounded to a mg, the mix to a µL
          expect(mg - 2).toBeLessThanOrEqual((most / 1e6 + 1e-6) * mixedUl * MG_PER_UL)
        }
      }),
    )
  })
})

describe("what the resin takes at most", () => {
  test("is kept to: 5 % is taken, more is refused in a sentence", () => {
    expect(said(limited(50_000), stirred("per-resin", 53_000))).toEqual([])
    expect(said(limited(50_000), stirred("per-resin", 63_600))).toEqual([
      "The pigment comes to 6 % of the Clear resin by weight, and it takes at most 5 %: more keeps it from curing. Use less pigment.",
    ])
    expect(said(limited(null), stirred("per-resin", 530_000))).toEqual([])
  })

  test("cannot be judged while a density is missing, and the page says so", () => {
    const bare = supplyUse({
      how: "per-resin",
      amount: 1_000,
      supply: supply(7, { name: "Ink", kind: "pigment" }),
    })
    expect(said(limited(50_000), bare)).toEqual([expect.stringMatching(/density of Ink is missing/)])
    expect(said(limited(null), bare)).toEqual([])
  })
})
