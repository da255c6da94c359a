import fc from "fast-check"
import { expect, test } from "vitest"
import { needTotals, planNeed } from "../../server/domain/layers.ts"
import { mixCard } from "../../server/domain/mix-card.ts"
import { fine, layer, plan, resinUse, supply, supplyUse, system } from "../unit/plan-fixtures.ts"

const glitter = supply(21, { kind: "glitter", baseUnit: "mg" })
const fast = system({ id: 2, name: "Fast resin", cupWorkMin: 4, partA: supply(11), partB: supply(12) })
const uses = fc.array(
  fc.oneof(
    fc.integer({ min: 2_000, max: 60_000 }).map((amount) => resinUse({ amount })),
    fc.integer({ min: 2_000, max: 60_000 }).map((amount) => resinUse({ amount, system: fast })),
    fc
      .record({
        how: fc.constantFrom(
          "per-cup" as const,
          "per-batch" as const,
          "per-mix" as const,
          "per-resin" as const,
        ),
        amount: fc.integer({ min: 0, max: 100_000 }),
        supply: fc.constantFrom(glitter, supply(22), supply(23, { baseUnit: "each" })),
      })
      .map((use) => supplyUse(use)),
  ),
  { maxLength: 5 },
)
const measures = fc.record({
  volumeStepUl: fc.constantFrom(100, 500, 1_000),
  massStepMg: fc.constantFrom(10, 100, 1_000),
  roomCelsius: fc.integer({ min: 18, max: 30 }),
})
const nothing = { hazards: new Map() }

test("what the card says is, supply by supply, what is taken", () => {
  fc.assert(
    fc.property(uses, uses, fc.integer({ min: 1, max: 40 }), measures, (one, two, cups, steps) => {
      const made = plan([layer(1, one), layer(2, two)])
      const said = new Map<number, number>()
      for (const { items, mixes } of mixCard(made, cups, steps, nothing).layers) {
        const ofMixes = mixes.flatMap((mix) => [...mix.parts, ...mix.stirredIn, ...mix.items])
        for (const { supplyId, amount } of [...items, ...ofMixes]) {
          said.set(supplyId, (said.get(supplyId) ?? 0) + amount)
        }
      }
      expect(said).toEqual(needTotals(planNeed(made, cups, steps)))
    }),
  )
})

test("each resin's mixes serve every cup exactly once, in order", () => {
  fc.assert(
    fc.property(uses, fc.integer({ min: 1, max: 40 }), (used, cups) => {
      const { mixes } = mixCard(plan([layer(1, used)]), cups, fine, nothing).layers[0]!
      const served = mixes.flatMap((mix) =>
        Array.from({ length: mix.cups.to - mix.cups.from + 1 }, (_, nth) => mix.cups.from + nth),
      )
      const rounds = served.length / cups
      expect(served).toEqual(
        Array.from({ length: rounds }, () => [...Array(cups).keys()].map((i) => i + 1)).flat(),
      )
    }),
  )
})

test("the scale never falls, and ends within a step for each thing of what is in the cup", () => {
  fc.assert(
    fc.property(uses, fc.integer({ min: 1, max: 40 }), measures, (used, cups, steps) => {
      const { mixes } = mixCard(plan([layer(1, used)]), cups, steps, nothing).layers[0]!
      for (const { scale, parts, stirredIn } of mixes) {
        if (scale === null) continue
        const reads = scale.map(({ readsMg }) => readsMg)
        expect(reads).toEqual(reads.toSorted((a, b) => a - b))
        expect(reads.every((mg) => mg % steps.massStepMg === 0)).toBe(true)
        const known = stirredIn.slice(0, scale.length - 3)
        const inCup = [...parts.map(({ also }) => also!.amount), ...known.map(({ amount }) => amount)]
        const total = inCup.reduce((sum, mg) => sum + mg, 0)
        expect(Math.abs(reads.at(-1)! - total)).toBeLessThanOrEqual((inCup.length * steps.massStepMg) / 2)
      }
    }),
  )
})
