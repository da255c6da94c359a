import fc from "fast-check"
import { describe, expect, test } from "vitest"
import {
  cupsWithinPotLife,
  DATA_SHEET_CELSIUS,
  DATA_SHEET_MIX_UL,
  potLifeOfMixMin,
  potLifeWorking,
} from "../../server/domain/pot-life.ts"
import { Refusal } from "../../server/domain/refusal.ts"
import { system } from "./plan-fixtures.ts"

// The rules of warmth and of mass are common practice, no source: what is checked here is that the code keeps them.
const fast = system({ potLifeMin: 40, mixingMin: 5, cupWorkMin: 5 })

describe("how long a mix stays workable", () => {
  test("100 mL at 23 °C has the data sheet's pot life", () => {
    expect(potLifeOfMixMin(fast, 100_000, 23)).toBe(40)
    expect([DATA_SHEET_MIX_UL, DATA_SHEET_CELSIUS]).toEqual([100_000, 23])
    expect(potLifeOfMixMin(fast, 100_000)).toBe(40)
  })

  test("each 10 °C warmer halves it", () => {
    expect(potLifeOfMixMin(fast, 100_000, 33)).toBe(20)
    // √½ of 40 is 28.28
    expect(potLifeOfMixMin(fast, 100_000, 28)).toBe(28)
  })

  test("twice the mix lasts a fifth less", () => {
    expect(potLifeOfMixMin(fast, 200_000)).toBe(32)
    expect(potLifeOfMixMin(fast, 400_000)).toBe(25) // 25.6
  })

  test("warmth and mass add up", () => {
    expect(potLifeOfMixMin(fast, 200_000, 33)).toBe(16)
  })

  test("a small mix or a cool room is not trusted to last longer", () => {
    expect(potLifeOfMixMin(fast, 10_000, 23)).toBe(40)
    expect(potLifeOfMixMin(fast, 100_000, 12)).toBe(40)
  })

  test("never longer for a larger mix or a warmer room", () => {
    const mixes = fc.integer({ min: 1, max: 2_000_000 })
    const rooms = fc.integer({ min: 5, max: 39 })
    fc.assert(
      fc.property(mixes, fc.integer({ min: 0, max: 500_000 }), rooms, (ul, more, room) => {
        const minutes = potLifeOfMixMin(fast, ul, room)
        expect(potLifeOfMixMin(fast, ul + more, room)).toBeLessThanOrEqual(minutes)
        expect(potLifeOfMixMin(fast, ul, room + 1)).toBeLessThanOrEqual(minutes)
        expect(minutes).toBeLessThanOrEqual(fast.potLifeMin)
      }),
    )
  })

  test("a room no resin is coated in is a slip of the keyboard", () => {
    for (const room of [-4, 4.9, 40.5, 73, Number.NaN]) {
      expect(() => potLifeOfMixMin(fast, 100_000, room)).toThrow(/between 5 and 40 °C/)
    }
    expect(() => potLifeOfMixMin(fast, 0)).toThrow(RangeError)
  })
})

describe("how many cups a mix serves", () => {
  test("pot life less mixing, by minutes a cup", () => {
    expect(cupsWithinPotLife(fast, 100_000)).toBe(7)
    expect(cupsWithinPotLife({ ...fast, potLifeMin: 39 }, 100_000)).toBe(6)
  })

  test("fewer from a large mix and fewer on a hot day", () => {
    expect(cupsWithinPotLife(fast, 200_000)).toBe(5)
    expect(cupsWithinPotLife(fast, 100_000, 33)).toBe(3)
  })

  test("a pot life that just covers mixing and one cup is enough for one", () => {
    expect(cupsWithinPotLife({ ...fast, potLifeMin: 10 }, 50_000)).toBe(1)
  })

  test("a pot life shorter than one cup's work is refused in a sentence", () => {
    expect(() => cupsWithinPotLife({ ...fast, potLifeMin: 9 }, 50_000)).toThrow(
      new Refusal(
        "Clear resin thickens after 9 minutes, but mixing it and coating one cup takes 10. Check its times, or choose a resin with a longer pot life.",
      ),
    )
    expect(() => cupsWithinPotLife({ ...fast, potLifeMin: 15 }, 50_000, 33)).toThrow(
      /after 7 minutes at 33 °C, .* takes 10\. Work in a cooler room/,
    )
  })
})

test("the working states the rule and ends at the minutes shown", () => {
  const working = potLifeWorking(fast, 200_000, 33)
  expect(working.result).toEqual({ value: 16, unit: "min" })
  expect(working.formula).toMatch(/common practice, no source/)
  expect(working.inputs.map(({ value }) => value)).toEqual([40, 200_000, 100_000, 33, 23])
})
