import { describe, expect, test } from "vitest"
import { countDifference } from "../../server/domain/count-difference.ts"
import { rankedForCounting } from "../../server/domain/count-worth.ts"

const ml = (n: number) => n * 1000
const guess = (
  found: number,
  book: number,
  more: Partial<Parameters<typeof countDifference>[0]> = {},
): string =>
  countDifference({
    found,
    book,
    now: book,
    costNowMicro: 10_000_000,
    full: ml(500),
    baseUnit: "uL",
    isLook: false,
    ...more,
  }).cause

describe("a guess at the cause of a difference; each is offered, none asserted", () => {
  test.each([
    ["a full one that is not there", 0, ml(500), {}, /a full one is missing/],
    ["a part-used one that is not there", 0, ml(200), {}, /used up without a tick/],
    ["ten times the book", ml(400), ml(40), {}, /a digit too many/],
    ["a tenth of the book", ml(40), ml(400), {}, /a digit too few/],
    // 8 fl oz are 236.588 mL: whoever reads 8 mL took the one mark for the other
    ["fluid ounces read as millilitres", ml(8), 236_588, {}, /if fl oz were meant and not mL/],
    ["millilitres read as fluid ounces", 354_882, ml(12), {}, /if mL were meant and not fl oz/],
    // 12 oz are 340.194 g
    ["ounces read as grams", 12_000, 340_194, { baseUnit: "mg" as const, full: 500_000 }, /if oz were meant/],
    ["a little less", ml(380), ml(400), {}, /more drips off or stays in the mixing cup/],
    ["a little less in one that was never used", ml(480), ml(500), {}, /came with less than its label says/],
    ["much less", ml(200), ml(400), {}, /a coat that was not ticked off/],
    ["a little more", ml(420), ml(400), {}, /a little more than its label/],
    ["much more", ml(300), ml(200), {}, /a delivery that was not taken in/],
    ["a look that is half a step off", ml(250), ml(290), { isLook: true }, /tells no finer/],
    ["a look that is a whole step off", ml(125), ml(290), { isLook: true }, /not ticked off/],
  ])("%s", (_what, found, book, more, says) => {
    expect(guess(found, book, more)).toMatch(says)
    expect(guess(found, book, more)).toMatch(/^Perhaps /)
  })

  test("as the book says is no difference", () => {
    expect(guess(ml(300), ml(300))).toBe("As the book says.")
  })
})

test("what to count first, by hand: places by worth, speed and doubt, the smallest sum first", () => {
  //            worth  used lately  unseen of left   places        sum
  // resin      40     30           200 of 1000      1, 1, 3        5
  // hardener   40     12           300 of 1000      1, 2, 2        5 → the same sum, the same worth: as they came
  // glitter     5     10            90 of 100       3, 3, 1        7
  // tape        9      0             0 of 100       nobody took from it unseen: left out
  const row = (name: string, worth: number, used: number, unseen: number, left: number) => ({
    name,
    costLeftMicro: worth,
    usedLatelyMicro: used,
    unseen,
    amountLeft: left,
  })
  const ranked = rankedForCounting([
    row("glitter", 5, 10, 90, 100),
    row("resin", 40, 30, 200, 1000),
    row("hardener", 40, 12, 300, 1000),
    row("tape", 9, 0, 0, 100),
  ])
  expect(ranked.map(({ name, places }) => [name, places.value, places.speed, places.doubt])).toEqual([
    ["resin", 1, 1, 3],
    ["hardener", 1, 2, 2],
    ["glitter", 3, 3, 1],
  ])
})
