import { describe, expect, test } from "vitest"
import {
  type SprayFilm,
  shareOfColours,
  sprayedAmount,
  sprayedDryUm,
  sprayedUl,
  transferFromWeighed,
  USUAL_TRANSFER_PPM,
  usableLeft,
} from "../../server/domain/sprays.ts"
import { supply } from "./plan-fixtures.ts"

const film: SprayFilm = {
  dryUm: 10,
  passes: 2,
  solidsPpm: 200_000,
  transferPpm: USUAL_TRANSFER_PPM,
  sharePpm: 1_000_000,
}
const poured = supply(5, { name: "Base coat", baseUnit: "uL" })
const weighed = supply(6, { name: "Teal spray", baseUnit: "mg", densityMgPerMl: 800 })

describe("a sprayed film by its data sheet", () => {
  test("paint counted by volume needs no density", () => {
    // 45 000 mm² × 20 µm = 900 mm³ of solids; ÷ 20 % ÷ 30 % = 15 mL
    expect(sprayedAmount(film, 45_000, poured)).toBeCloseTo(15_000, 6)
  })

  test("a third of the surface takes a third of the paint", () => {
    expect(sprayedUl({ ...film, sharePpm: 333_333 }, 45_000)).toBeCloseTo(4_999.995, 6)
  })

  test("weighed paint without a density is refused by name", () => {
    expect(() => sprayedAmount(film, 45_000, { ...weighed, densityMgPerMl: null })).toThrow(
      "Teal spray is weighed: its density is needed to work out a film from its data sheet.",
    )
  })

  test("sheets and pieces are not sprayed", () => {
    expect(() => sprayedAmount(film, 45_000, supply(7, { baseUnit: "each" }))).toThrow("cannot be sprayed")
  })

  test.each([
    [{ solidsPpm: 0 }, "Solids by volume are more than 0 % and at most 100 %."],
    [{ solidsPpm: 1_000_001 }, "Solids by volume are more than 0 % and at most 100 %."],
    [{ transferPpm: 0 }, "The share that lands on the cup is more than 0 % and at most 100 %."],
    [{ transferPpm: 1_500_000 }, "The share that lands on the cup is more than 0 % and at most 100 %."],
    [{ dryUm: 0 }, "Say how thick one pass dries: more than zero."],
    [{ dryUm: Number.NaN }, "Say how thick one pass dries: more than zero."],
    [{ passes: 0 }, "Passes are whole, and at least one."],
    [{ passes: 1.5 }, "Passes are whole, and at least one."],
    [{ sharePpm: 0 }, "Say how much of the cup is sprayed."],
  ])("%o is refused in one sentence", (over, sentence) => {
    expect(() => sprayedUl({ ...film, ...over }, 45_000)).toThrow(sentence)
  })
})

describe("from the can weighed before and after", () => {
  test("the film on the cup follows from the grams", () => {
    expect(sprayedDryUm(film, 45_000, weighed, 6_000)).toBeCloseTo(10, 9)
    expect(() => sprayedDryUm(film, 45_000, weighed, 0)).toThrow("Say how much Teal spray goes on a cup.")
  })

  test("with the film known, so does the share that landed", () => {
    expect(transferFromWeighed(film, 45_000, weighed, 12_000)).toBeCloseTo(300_000, 6)
    expect(transferFromWeighed(film, 45_000, weighed, 3_000)).toBeGreaterThan(1_000_000)
  })
})

test("what a can never gives up is not there to be used", () => {
  expect(usableLeft(100_000, 8_000)).toBe(92_000)
  expect(usableLeft(8_000, 8_000)).toBe(0)
  expect(usableLeft(5_000, 8_000)).toBe(0)
})

describe("shares of several colours", () => {
  test("more than the whole overlap", () => {
    expect(shareOfColours([700_000, 400_000, 200_000])).toEqual({
      totalPpm: 1_300_000,
      meaning: "overlap",
      sentence: "The shares come to 130 %, 30 % more than the whole: colours lie over one another.",
    })
  })

  test("less leave some of the cup without colour", () => {
    expect(shareOfColours([250_000, 125_000])).toEqual({
      totalPpm: 375_000,
      meaning: "bare",
      sentence: "The shares come to 37.5 %: 62.5 % of the cup or more stays without these colours.",
    })
  })

  test("thirds typed as 33.3 % are the whole", () => {
    expect(shareOfColours([333_000, 333_000, 333_000]).meaning).toBe("whole")
    expect(shareOfColours([1_000_000]).meaning).toBe("whole")
  })

  test("all zero, or less than zero, is refused", () => {
    expect(() => shareOfColours([0, 0])).toThrow(
      "All shares are zero: give at least one colour a share of the cup.",
    )
    expect(() => shareOfColours([])).toThrow("All shares are zero")
    expect(() => shareOfColours([500_000, -1])).toThrow("A share cannot be less than zero.")
  })
})
