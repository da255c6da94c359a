import fc from "fast-check"
import { expect, test } from "vitest"
import { layerNeed, needTotals, planNeed } from "../../server/domain/layers.ts"
import type { Layer, Measures, Use } from "../../server/domain/plan.ts"
import { planTimes } from "../../server/domain/plan-times.ts"
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
} from "../unit/plan-fixtures.ts"

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

const fineUl = { volumeStepUl: 1, massStepMg: 1 }
/** A resin without limits of time or heat, so that all cups are served by one mix. */
const endless = system({ potLifeMin: 100_000, largestMixUl: 1_000_000_000, cupWorkMin: 1 })

test("more film, a larger band or more cups never take less", () => {
  const film = fc.integer({ min: 50, max: 900 })
  const heights = fc
    .tuple(fc.integer({ min: 5_000, max: 200_000 }), fc.integer({ min: 0, max: 25_000 }))
    .map(([to, more]) => ({ small: { fromUm: 0, toUm: to }, large: { fromUm: 0, toUm: to + more } }))
  const taken = (
    uses: (um: number) => Use[],
    um: number,
    band: Layer["band"],
    cups: number,
    measures: Measures,
  ) => {
    const second = layer(2, uses(um), { band })
    return needTotals([layerNeed(plan([layer(1), second]), second, cups, measures)])
  }
  const uses = (um: number): Use[] => [
    resinUse({ how: "resin-film", amount: um, system: endless }),
    sprayUse({ dryUm: um }),
    supplyUse({ how: "sprinkled", amount: 200_000 }),
    supplyUse({ how: "per-resin", amount: 20_000, supply: supply(4) }),
  ]
  fc.assert(
    fc.property(
      film,
      fc.nat(300),
      heights,
      fc.integer({ min: 1, max: 40 }),
      fc.nat(10),
      (um, thicker, bands, cups, more) => {
        for (const measures of [fine, fineUl]) {
          const least = taken(uses, um, bands.small, cups, measures)
          for (const most of [
            taken(uses, um + thicker, bands.small, cups, measures),
            taken(uses, um, bands.large, cups, measures),
            taken(uses, um, bands.small, cups + more, measures),
          ]) {
            for (const [supplyId, amount] of least) expect(most.get(supplyId)).toBeGreaterThanOrEqual(amount)
          }
        }
      },
    ),
  )
})

test("pieces off a sheet or a roll: more cups never take less, and what is left of the last sheet is counted", () => {
  const sheet = supply(5, { kind: "vinyl", baseUnit: "mm2", sheet: { widthUm: 304_800, heightUm: 304_800 } })
  const roll = supply(5, { kind: "vinyl", baseUnit: "um", rollWidthUm: 304_800 })
  const side = fc.integer({ min: 20_000, max: 150_000 })
  fc.assert(
    fc.property(
      side,
      side,
      fc.boolean(),
      fc.integer({ min: 1, max: 60 }),
      (widthUm, heightUm, mayTurn, cups) => {
        for (const kind of [sheet, roll]) {
          const use = pieceUse({
            supply: kind,
            cut: { shape: "flat", widthUm, heightUm },
            gapUm: 2_000,
            mayTurn,
          })
          const second = layer(2, [use])
          const drawn = (n: number) => layerNeed(plan([layer(1), second]), second, n, fine).draws[0]!
          const { amount, offcut } = drawn(cups)
          expect(drawn(cups + 1).amount).toBeGreaterThanOrEqual(amount)
          if (kind === roll) continue
          expect((amount + (offcut?.areaMm2 ?? 0)) % Math.round(304.8 * 304.8)).toBe(0)
          expect(amount).toBeGreaterThanOrEqual(Math.floor(cups * (widthUm / 1000) * (heightUm / 1000)))
        }
      },
    ),
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
