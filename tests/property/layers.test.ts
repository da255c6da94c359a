import fc from "fast-check"
import { expect, test } from "vitest"
import { layerNeed, needTotals, planNeed } from "../../server/domain/layers.ts"
import { planTimes } from "../../server/domain/plan-times.ts"
import { fine, layer, plan, resinUse, supply, supplyUse } from "../unit/plan-fixtures.ts"

const cupCounts = fc.integer({ min: 1, max: 80 })

test("a whole amount a cup is taken exactly cups times, and a whole share of it too", () => {
  const percent = fc.integer({ min: 1, max: 300 })
  fc.assert(
    fc.property(cupCounts, fc.integer({ min: 1, max: 1_000_000 }), percent, (cups, hundredth, share) => {
      const whole = supplyUse({ amount: hundredth * 100, sharePpm: share * 10_000 })
      const made = plan([layer(1), layer(2, [whole])])
      expect(layerNeed(made, made.layers[1]!, cups, fine).draws[0]!.amount).toBe(cups * hundredth * share)
    }),
  )
})

test("whatever a layer takes is a whole amount above zero, never less for more cups", () => {
  const uses = fc.array(
    fc.oneof(
      fc.integer({ min: 5_000, max: 60_000 }).map((amount) => resinUse({ how: "resin-applied", amount })),
      fc
        .record({
          how: fc.constantFrom(
            "per-cup" as const,
            "per-area" as const,
            "sprinkled" as const,
            "per-batch" as const,
            "per-session" as const,
          ),
          amount: fc.integer({ min: 0, max: 100_000 }),
          sharePpm: fc.integer({ min: 1, max: 2_000_000 }),
        })
        .map((use) => supplyUse({ ...use, supply: supply(3, { baseUnit: "mm2" }) })),
    ),
    { maxLength: 5 },
  )
  fc.assert(
    fc.property(uses, cupCounts, (used, cups) => {
      const made = plan([layer(1, used)])
      const fewer = needTotals(planNeed(made, cups, fine))
      const more = needTotals(planNeed(made, cups + 1, fine))
      for (const [supplyId, amount] of fewer) {
        expect(Number.isInteger(amount) && amount > 0).toBe(true)
        // a mix split in two can each round up less than before, by a mark a mix
        const slack = supplyId <= 2 ? 2 * fine.volumeStepUl * used.length : 0
        expect(more.get(supplyId)! + slack).toBeGreaterThanOrEqual(amount)
      }
      expect(fewer.get(9)).toBe(cups)
    }),
  )
})

test("each layer is nearer to ready than the one before, by at least its hands-on time", () => {
  const minutes = fc.integer({ min: 0, max: 3_000 })
  const times = fc.record({ handsOnMin: minutes, turnerMin: minutes, recoatEarliestMin: minutes })
  fc.assert(
    fc.property(fc.array(times, { minLength: 1, maxLength: 8 }), minutes, (spans, fullCureMin) => {
      const layers = spans.map((span, i) => layer(i + 1, [], span))
      const { untilReady, totalMin, handsOnMin, turnerMin } = planTimes(plan(layers, { fullCureMin }))
      expect(untilReady[0]!.minutes).toBe(totalMin)
      expect(totalMin).toBeGreaterThanOrEqual(handsOnMin + turnerMin)
      for (const [i, { minutes: left }] of untilReady.entries()) {
        const after = untilReady[i + 1]?.minutes ?? fullCureMin
        expect(left - after).toBeGreaterThanOrEqual(layers[i]!.handsOnMin)
      }
    }),
  )
})
