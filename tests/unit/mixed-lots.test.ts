import { describe, expect, test } from "vitest"
import { type BottleChange, partsByLot } from "../../server/domain/mixed-lots.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { countContainer, decant, topUp, writeOff } from "../../server/shelf/service.ts"
import { balanceOf, traceLot } from "../../server/tracing/service.ts"
import { addOne, receiveSome } from "../support/shelf-fixtures.ts"
import { someone, TODAY, testStudio } from "../support/studio.ts"

/*
 * Worked out by hand, in mL. Bottle X came with 500 of lot L, bottle Y with 500 of lot M.
 *
 *                           X: L    M     Y: L    M     Z: L    M
 *  X: 35 spilled             465
 *  Y: 345 spilled                               155
 *  all of X into Y             0         465    155     three parts of L to one of M
 *  Y: 100 spilled                        390    130
 *  120 of Y into new bottle Z            300    100      90   30
 *  Y counted: 380, 20 missing            285     95
 *  40 of Y back into X        30   10    255     85
 *
 *  L: 500 = 35 + 75 spilled + 15 missing + 30 + 255 + 90 left
 *  M: 500 = 345 + 25 spilled + 5 missing + 10 + 85 + 30 left
 */
function poured() {
  const studio = testStudio()
  const supplyId = addOne(studio, { name: "Clear A" })
  const L = receiveSome(studio, supplyId, { number: "L", receivedOn: TODAY })
  const M = receiveSome(studio, supplyId, { number: "M", receivedOn: TODAY })
  const [X, Y] = [L.codes[0]!, M.codes[0]!]
  const spill = (code: string, mL: number) =>
    writeOff(studio, someone(), { code, amount: mL * 1_000, kind: "waste", reason: "Spilled" })
  const pour = (fromCode: string, toCode: string, mL: number) =>
    topUp(studio, someone(), { fromCode, toCode, amount: mL * 1_000 })
  const balance = (lotId: number) => balanceOf(studio, traceLot(studio, lotId))
  const bottles = (lotId: number) =>
    Object.fromEntries(traceLot(studio, lotId).containers.map((one) => [one.code, one.amountOfLot]))
  spill(X, 35)
  spill(Y, 345)
  return { studio, L: L.lotId, M: M.lotId, X, Y, spill, pour, balance, bottles }
}

test("lots that were poured together: each counts its own share, and came = on cups + waste + missing + left", () => {
  const { studio, L, M, X, Y, spill, pour, balance, bottles } = poured()
  pour(X, Y, 465)
  expect(balance(L)).toMatchObject({ came: 500_000, left: 465_000, pouredOn: 465_000, pouredIn: 0 })
  expect(balance(M)).toMatchObject({ came: 500_000, left: 155_000, pouredOn: 0, pouredIn: 465_000 })
  spill(Y, 100)
  const Z = decant(studio, someone(), { fromCode: Y, amount: 120_000 }).answer.code
  countContainer(studio, someone(), { code: Y, amount: 380_000, basis: "measured" })
  pour(Y, X, 40)
  expect(bottles(L)).toEqual({ [X]: 30_000, [Y]: 255_000, [Z]: 90_000 })
  expect(bottles(M)).toEqual({ [X]: 10_000, [Y]: 85_000, [Z]: 30_000 })
  expect(balance(L)).toEqual({
    baseUnit: "uL",
    came: 500_000,
    onCups: 0,
    wasted: 110_000,
    unexplained: 15_000,
    left: 375_000,
    pouredOn: 435_000,
    pouredIn: 10_000,
  })
  expect(balance(M)).toEqual({
    baseUnit: "uL",
    came: 500_000,
    onCups: 0,
    wasted: 370_000,
    unexplained: 5_000,
    left: 125_000,
    pouredOn: 10_000,
    pouredIn: 435_000,
  })
})

test("a top-up that was undone never mixed anything, though something was taken since", () => {
  const { studio, L, M, X, Y, spill, pour, balance, bottles } = poured()
  const { actionId } = pour(X, Y, 465)
  spill(Y, 100)
  reverse(studio, someone(), actionId)
  expect(bottles(L)).toEqual({ [X]: 465_000 })
  expect(bottles(M)).toEqual({ [Y]: 55_000 })
  expect(balance(L)).toMatchObject({ wasted: 35_000, left: 465_000, pouredOn: 0 })
  expect(balance(M)).toMatchObject({ wasted: 445_000, left: 55_000, pouredIn: 0 })
})

describe("shares of a mixed bottle", () => {
  const [L, M] = [7, 9]
  const change = (more: Partial<BottleChange>): BottleChange => ({
    bottleId: 2,
    ownLotId: M,
    kind: "use",
    amount: 0,
    sourceId: null,
    coatId: null,
    ...more,
  })
  /** Bottle 2 holds 100 of L and 200 of M. */
  const mixed = [
    change({ bottleId: 1, ownLotId: L, kind: "receive", amount: 100 }),
    change({ kind: "receive", amount: 200 }),
    change({ bottleId: 1, ownLotId: L, kind: "transfer", amount: -100 }),
    change({ kind: "transfer", amount: 100, sourceId: 1 }),
  ]
  const partsOf = (...more: BottleChange[]) =>
    partsByLot([...mixed, ...more])
      .slice(mixed.length)
      .map((parts) => [parts.get(L) ?? 0, parts.get(M) ?? 0])

  test("a take that does not divide: the parts add up to it, the largest remainder first", () => {
    // 10 is 3⅓ of L and 6⅔ of M; of the 97 and 193 then left, 100 are 33.45 and 66.55
    expect(partsOf(change({ amount: -10 }), change({ amount: -100 }))).toEqual([
      [-3, -7],
      [-33, -67],
    ])
  })

  test("to the last drop: nothing of either lot remains", () => {
    expect(partsOf(change({ amount: -101 }), change({ amount: -199 }))).toEqual([
      [-34, -67],
      [-66, -133],
    ])
  })

  test("what a coat gives back when it is measured goes to the lots it was taken from", () => {
    const parts = partsByLot([
      change({ kind: "receive", amount: 200 }),
      change({ amount: -50, coatId: 1 }),
      change({ bottleId: 1, ownLotId: L, kind: "receive", amount: 150 }),
      change({ bottleId: 1, ownLotId: L, kind: "transfer", amount: -150 }),
      change({ kind: "transfer", amount: 150, sourceId: 1 }),
      change({ amount: 10, coatId: 1 }),
    ])
    expect([...parts.at(-1)!]).toEqual([[M, 10]])
  })

  test("what a count finds in a bottle that the book has as empty is of the lots that were in it last", () => {
    expect(partsOf(change({ amount: -300 }), change({ kind: "count", amount: 30 }))).toEqual([
      [-100, -200],
      [10, 20],
    ])
  })
})
