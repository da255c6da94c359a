import fc from "fast-check"
import { expect, test } from "vitest"
import { cupParts, servedByMixes } from "../../server/domain/cup-parts.ts"
import { layerNeed, needTotals } from "../../server/domain/layers.ts"
import type { Use } from "../../server/domain/plan.ts"
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

const other = system({ id: 2, name: "Fast resin", partA: supply(11), partB: supply(12), potLifeMin: 30 })
const sheet = supply(15, {
  kind: "vinyl",
  baseUnit: "mm2",
  sheet: { widthUm: 304_800, heightUm: 304_800 },
})
const uses: fc.Arbitrary<Use> = fc.oneof(
  fc.integer({ min: 5_000, max: 60_000 }).map((amount) => resinUse({ how: "resin-applied", amount })),
  fc.constant(resinUse({ system: other })),
  fc
    .record({
      how: fc.constantFrom(
        "per-cup" as const,
        "per-area" as const,
        "sprinkled" as const,
        "per-mix" as const,
        "per-resin" as const,
        "per-batch" as const,
        "per-session" as const,
      ),
      amount: fc.integer({ min: 1, max: 1_000_000 }),
      sharePpm: fc.integer({ min: 1, max: 1_000_000 }),
    })
    .map((over) => supplyUse({ ...over, supply: supply(3, { kind: "consumable" }) })),
  fc.constant(sprayUse()),
  fc.constant(pieceUse({ supply: sheet, gapUm: 2_000, reprintPpm: 50_000 })),
)

test("what cups have of a layer adds up to what was drawn, whatever the layer and however many cups", () => {
  fc.assert(
    fc.property(fc.array(uses, { maxLength: 6 }), fc.integer({ min: 1, max: 60 }), (used, cups) => {
      const made = plan([layer(1, used)])
      const need = layerNeed(made, made.layers[0]!, cups, fine)
      const parts = cupParts(need, cups)
      const totals = needTotals([need])
      expect(new Set(parts.keys())).toEqual(new Set(totals.keys()))
      for (const [supplyId, ofCups] of parts) {
        expect(ofCups).toHaveLength(cups)
        expect(ofCups.every((part) => Number.isInteger(part) && part >= 0)).toBe(true)
        expect(ofCups.reduce((sum, part) => sum + part, 0)).toBe(totals.get(supplyId))
      }
      // one blank each
      expect(parts.get(9)).toEqual(Array(cups).fill(1))
    }),
  )
})

test("every use's mixes together serve each cup once", () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 60 }), (cups) => {
      const made = plan([layer(1, [resinUse(), resinUse({ system: other })])])
      const { mixes } = layerNeed(made, made.layers[0]!, cups, fine)
      const served = servedByMixes(mixes, cups)
      for (const { id } of [system(), other]) {
        const ofSystem = served.filter((_, nth) => mixes[nth]!.system.id === id).flat()
        expect(ofSystem.sort((a, b) => a - b)).toEqual(Array.from({ length: cups }, (_, cup) => cup))
      }
    }),
  )
})
