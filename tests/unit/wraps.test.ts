import { describe, expect, test } from "vitest"
import type { Ring } from "../../server/domain/profile.ts"
import { wrapPiece } from "../../server/domain/wraps.ts"

const rings = (...sides: (readonly [heightMm: number, diameterMm: number])[]): Ring[] =>
  sides.map(([heightMm, diameterMm]) => ({ heightUm: heightMm * 1000, diameterUm: diameterMm * 1000 }))

describe("a wrap on a straight side", () => {
  test("is the circumference and the overlap wide, and as high as its band", () => {
    // π × 80 mm = 251.327412… mm, up to the whole µm
    expect(wrapPiece({ rings: rings([10, 80], [190, 80]), overlapUm: 5_000 })).toEqual({
      widthUm: 256_328,
      heightUm: 180_000,
      arc: null,
    })
  })

  test("without overlap it meets itself", () => {
    expect(wrapPiece({ rings: rings([0, 80], [100, 80]), overlapUm: 0 }).widthUm).toBe(251_328)
  })
})

describe("a wrap on a taper", () => {
  test("a 3-4-5 frustum: r 10 to 13 mm over 4 mm high is part of a ring of 16⅔ and 21⅔ mm", () => {
    // slant 5, apex at 5 × 10 ÷ 3 and 5 × 13 ÷ 3: by hand; the angle is 2π × 3 ÷ 5, 0.6 of a turn
    const { arc, widthUm, heightUm } = wrapPiece({ rings: rings([0, 20], [4, 26]), overlapUm: 0 })
    expect(arc).toEqual({ innerRadiusUm: 16_667, outerRadiusUm: 21_667, turnPpm: 600_000 })
    // half the angle is 108°, past the quarter: as wide as the whole ring, b (1 − cos 108°) high
    expect(widthUm).toBe(43_334)
    expect(heightUm).toBe(28_363)
  })

  test("it does not matter which end is the wider", () => {
    const up = wrapPiece({ rings: rings([0, 70], [200, 80]), overlapUm: 5_000 })
    expect(wrapPiece({ rings: rings([0, 80], [200, 70]), overlapUm: 5_000 })).toEqual(up)
  })

  test("rings measured a little off the straight line still make one taper", () => {
    const exact = wrapPiece({ rings: rings([0, 70], [200, 80]), overlapUm: 0 })
    expect(wrapPiece({ rings: rings([0, 70], [100, 75.4], [200, 80]), overlapUm: 0 })).toEqual(exact)
  })
})

describe("what cannot be wrapped", () => {
  test("a shoulder does not lie flat", () => {
    expect(() => wrapPiece({ rings: rings([0, 70], [100, 72], [130, 90], [200, 92]), overlapUm: 0 })).toThrow(
      "A wrap lies flat only on a straight or evenly tapered side: choose a band without a step or shoulder.",
    )
  })

  test("a side almost flat goes around its apex too often once it overlaps", () => {
    expect(() => wrapPiece({ rings: rings([0, 20], [1, 200]), overlapUm: 30_000 })).toThrow("too flat")
  })

  test("an overlap below nothing", () => {
    expect(() => wrapPiece({ rings: rings([0, 70], [100, 70]), overlapUm: -1 })).toThrow("less than zero")
    expect(() => wrapPiece({ rings: [], overlapUm: 0 })).toThrow(RangeError)
  })
})
