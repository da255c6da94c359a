import fc from "fast-check"
import { describe, expect, test } from "vitest"
import { judgePour } from "../../server/domain/pours.ts"
import { supply, system } from "./plan-fixtures.ts"

// Within 5 % is common maker's advice on mix ratios; 2 % is what a plan keeps to.
const clear = system()
const weighed = system({
  ratioBasis: "mass",
  ratioA: 100,
  ratioB: 84,
  partA: supply(1, { name: "Hard A", baseUnit: "mg", densityMgPerMl: 1150 }),
  partB: supply(2, { name: "Hard B", baseUnit: "mg", densityMgPerMl: 970 }),
})

describe("what was poured", () => {
  test("in the ratio, or within 2 % of it, is good", () => {
    expect(judgePour(clear, 12_500, 12_500)).toEqual({
      ratioErrorPpm: 0,
      verdict: "good",
      sentence: "Clear resin is in its ratio, to within 2 %.",
      mend: null,
    })
    expect(judgePour(clear, 12_750, 12_500)).toMatchObject({ ratioErrorPpm: 20_000, verdict: "good" })
    expect(judgePour(weighed, 100_000, 84_000).verdict).toBe("good")
  })

  test("within 5 % it is off: it should harden, and says what there is too much of", () => {
    expect(judgePour(clear, 13_000, 12_500)).toMatchObject({
      ratioErrorPpm: 40_000,
      verdict: "off",
      sentence:
        "4.0 % too much Clear resin A. Makers commonly allow 5 %, so it should harden, but watch these cups.",
      mend: { part: "B", amount: 500 },
    })
    expect(judgePour(clear, 12_500, 13_000)).toMatchObject({
      ratioErrorPpm: -38_462,
      verdict: "off",
      sentence: expect.stringMatching(/^4\.0 % too much Clear resin B/),
      mend: { part: "A", amount: 500 },
    })
  })

  test("beyond 5 % it is refused: it may stay soft, and says what to add", () => {
    expect(judgePour(clear, 14_000, 12_500)).toMatchObject({
      verdict: "refuse",
      sentence:
        "12.0 % too much Clear resin A. It may stay soft or sticky: add Clear resin B until it is 1 : 1 and stir again while it flows, or throw it away.",
      mend: { part: "B", supply: { id: 2 }, amount: 1_500 },
    })
    expect(judgePour(weighed, 90_000, 84_000)).toMatchObject({
      verdict: "refuse",
      mend: { part: "A", amount: 10_000 },
    })
  })

  test("equal weights of a resin mixed 1:1 by volume are far off: 1.15 and 0.97 g/mL are 100:84", () => {
    const onTheScale = system({
      partA: supply(1, { name: "Clear resin A", baseUnit: "mg", densityMgPerMl: 1150 }),
      partB: supply(2, { name: "Clear resin B", baseUnit: "mg", densityMgPerMl: 970 }),
    })
    expect(judgePour(onTheScale, 10_000, 8_400).verdict).toBe("good")
    // 0.97 ÷ 1.15 − 1
    expect(judgePour(onTheScale, 10_000, 10_000)).toMatchObject({
      ratioErrorPpm: -156_522,
      verdict: "refuse",
    })
  })

  test("a part that was left out is asked for", () => {
    for (const [a, b] of [
      [0, 12_500],
      [12_500, 0],
      [12_500, -1],
      [Number.NaN, 1],
    ] as const) {
      expect(() => judgePour(clear, a, b)).toThrow(
        /how much of Clear resin A and of Clear resin B was poured/,
      )
    }
  })
})

test("adding what is said brings the mix into its ratio", () => {
  const poured = fc.integer({ min: 2_000, max: 200_000 })
  const part = fc.integer({ min: 1, max: 10 })
  fc.assert(
    fc.property(poured, poured, part, part, fc.constantFrom(clear, weighed), (a, b, ratioA, ratioB, of) => {
      const made = { ...of, ratioA, ratioB }
      const { mend } = judgePour(made, a, b)
      if (mend === null) return
      expect(mend.amount).toBeGreaterThan(0)
      const after = mend.part === "A" ? ([a + mend.amount, b] as const) : ([a, b + mend.amount] as const)
      expect(judgePour(made, ...after).verdict).toBe("good")
    }),
  )
})
