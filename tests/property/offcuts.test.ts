import fc from "fast-check"
import { describe, expect, test } from "vitest"
import {
  cutOffcuts,
  heightNowUm,
  holdsOf,
  type ShelvedOffcut,
  withoutDrawn,
} from "../../server/domain/offcuts.ts"
import { cutSheets, type Piece } from "../../server/domain/sheets.ts"

const mm = 1000

const piece = fc.record({
  pieceWidthUm: fc.integer({ min: 10, max: 120 }).map((side) => side * mm),
  pieceHeightUm: fc.integer({ min: 10, max: 120 }).map((side) => side * mm),
  marginUm: fc.integer({ min: 0, max: 10 }).map((side) => side * mm),
  gapUm: fc.integer({ min: 0, max: 5 }).map((side) => side * mm),
  mayTurn: fc.boolean(),
}) satisfies fc.Arbitrary<Piece>

const offcut = fc
  .record({
    widthUm: fc.integer({ min: 20, max: 305 }).map((side) => side * mm),
    heightUm: fc.integer({ min: 5, max: 305 }).map((side) => side * mm),
  })
  .map(({ widthUm, heightUm }) => ({
    supplyId: 1,
    widthUm,
    heightUm,
    amountLeft: Math.round((widthUm / mm) * (heightUm / mm)),
  }))
const offcuts = fc
  .array(offcut, { maxLength: 5 })
  .map((list): ShelvedOffcut[] => list.map((one, index) => ({ ...one, containerId: index + 1 })))

describe("pieces cut from offcuts before a sheet is begun", () => {
  test("none is lost or made up, none takes more than there is, and what is left over is as the rows leave it", () => {
    fc.assert(
      fc.property(piece, fc.integer({ min: 1, max: 40 }), offcuts, (job, pieces, shelf) => {
        const { cuts, left } = cutOffcuts(job, pieces, shelf)
        expect(cuts.reduce((sum, { cut }) => sum + cut.pieces, left)).toBe(pieces)
        for (const { containerId, cut } of cuts) {
          const one = shelf.find((each) => each.containerId === containerId)!
          expect(cut.takenMm2).toBeLessThanOrEqual(one.amountLeft)
          expect(cut.takenMm2).toBeGreaterThan(0)
          // each piece has its own area, whatever the rounding of the whole to a mm²
          expect(cut.takenMm2 + 1).toBeGreaterThanOrEqual(
            cut.pieces * (job.pieceWidthUm / mm) * (job.pieceHeightUm / mm),
          )
        }
        expect(new Set(cuts.map((one) => one.containerId)).size).toBe(cuts.length)
      }),
    )
  })

  test("a sheet is begun only when no offcut holds another piece", () => {
    fc.assert(
      fc.property(piece, fc.integer({ min: 1, max: 40 }), offcuts, (job, pieces, shelf) => {
        const { cuts, left } = cutOffcuts(job, pieces, shelf)
        if (left === 0) return
        const rest = withoutDrawn(
          shelf,
          cuts.map(({ containerId, cut }) => ({ from: containerId, amount: cut.takenMm2 })),
        )
        for (const one of rest) expect(holdsOf(job, one), `offcut ${one.containerId}`).toBe(0)
      }),
    )
  })

  test("with them no more is taken from sheets than without: what was forecast without them is enough", () => {
    fc.assert(
      fc.property(piece, fc.integer({ min: 1, max: 40 }), offcuts, (job, pieces, shelf) => {
        const sheet = { sheetWidthUm: 305 * mm, sheetHeightUm: 305 * mm, reprintPpm: 0 }
        const { left } = cutOffcuts(job, pieces, shelf)
        const without = cutSheets({ ...job, ...sheet, pieces }).takenMm2
        const beside = left === 0 ? 0 : cutSheets({ ...job, ...sheet, pieces: left }).takenMm2
        expect(beside).toBeLessThanOrEqual(without)
      }),
    )
  })
})

test("the smallest offcut that a piece fits on goes first", () => {
  const job = { pieceWidthUm: 90 * mm, pieceHeightUm: 60 * mm, marginUm: 0, gapUm: 0, mayTurn: false }
  const of = (containerId: number, width: number, height: number): ShelvedOffcut => ({
    containerId,
    supplyId: 1,
    widthUm: width * mm,
    heightUm: height * mm,
    amountLeft: width * height,
  })
  // by hand: 80 wide is too narrow; 100 × 60 holds 1; 300 × 130 holds 3 a row, 2 rows
  const shelf = [of(1, 300, 130), of(2, 80, 90), of(3, 100, 60)]
  const { cuts, left } = cutOffcuts(job, 5, shelf)
  expect(left).toBe(0)
  expect(cuts.map(({ containerId, cut }) => [containerId, cut.pieces, cut.takenMm2])).toEqual([
    [3, 1, 6_000],
    // four of six: two rows of 60, and what is left, 10 high, holds none: it is used up
    [1, 4, 39_000],
  ])
  // a row alone leaves 70 of 130
  const row = cutOffcuts(job, 3, [of(1, 300, 130)])
  expect(row.cuts[0]!.cut.takenMm2).toBe(18_000)
  expect(heightNowUm({ ...of(1, 300, 130), amountLeft: 39_000 - 18_000 })).toBe(70 * mm)
})
