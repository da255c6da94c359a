import fc from "fast-check"
import { expect, test } from "vitest"
import { lateralAreaMm2, type Ring } from "../../server/domain/profile.ts"
import { wrapPiece } from "../../server/domain/wraps.ts"

/** Sides as cups have them: up to 30 mm wider at one end than at the other. */
const side: fc.Arbitrary<Ring[]> = fc
  .record({
    lowUm: fc.integer({ min: 40_000, max: 120_000 }),
    widerUm: fc.integer({ min: -30_000, max: 30_000 }),
    tallUm: fc.integer({ min: 40_000, max: 300_000 }),
  })
  .map(({ lowUm, widerUm, tallUm }) => [
    { heightUm: 0, diameterUm: lowUm },
    { heightUm: tallUm, diameterUm: lowUm + widerUm },
  ])
const overlapUm = fc.integer({ min: 0, max: 20_000 })

test("the rectangle is never smaller than the surface it covers", () => {
  fc.assert(
    fc.property(side, overlapUm, (rings, overlapUm) => {
      const { widthUm, heightUm } = wrapPiece({ rings, overlapUm })
      const surface = lateralAreaMm2(rings, 0, rings[1]!.heightUm)
      expect((widthUm / 1000) * (heightUm / 1000)).toBeGreaterThanOrEqual(surface * (1 - 1e-9))
    }),
  )
})

test("more overlap never takes a smaller piece", () => {
  fc.assert(
    fc.property(side, overlapUm, fc.integer({ min: 0, max: 5_000 }), (rings, overlapUm, moreUm) => {
      const [less, more] = [overlapUm, overlapUm + moreUm].map((o) => wrapPiece({ rings, overlapUm: o }))
      expect(more!.widthUm).toBeGreaterThanOrEqual(less!.widthUm)
      expect(more!.heightUm).toBeGreaterThanOrEqual(less!.heightUm)
    }),
  )
})
