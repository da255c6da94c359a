import fc from "fast-check"
import { expect, test } from "vitest"
import {
  cutRoll,
  cutSheets,
  fitPieces,
  type Piece,
  type Rows,
  type Sheet,
} from "../../server/domain/sheets.ts"

const job: fc.Arbitrary<Piece & Sheet> = fc
  .record({
    pieceWidthUm: fc.integer({ min: 5_000, max: 300_000 }),
    pieceHeightUm: fc.integer({ min: 5_000, max: 300_000 }),
    extraWidthUm: fc.integer({ min: 0, max: 600_000 }),
    extraHeightUm: fc.integer({ min: 0, max: 600_000 }),
    marginUm: fc.integer({ min: 0, max: 20_000 }),
    gapUm: fc.integer({ min: 0, max: 10_000 }),
    mayTurn: fc.boolean(),
  })
  .map(({ extraWidthUm, extraHeightUm, ...piece }) => ({
    ...piece,
    sheetWidthUm: piece.pieceWidthUm + 2 * piece.marginUm + extraWidthUm,
    sheetHeightUm: piece.pieceHeightUm + 2 * piece.marginUm + extraHeightUm,
  }))

const pieces = fc.integer({ min: 1, max: 200 })
const reprintPpm = fc.integer({ min: 0, max: 200_000 })

interface Box {
  x: number
  y: number
  width: number
  height: number
}

/** Where each piece lies, laid out row by row from the corner. */
function laidOut({ pieceWidthUm, pieceHeightUm, marginUm, gapUm }: Piece, groups: readonly Rows[]): Box[] {
  const boxes: Box[] = []
  let y = marginUm
  for (const { turned, rows, perRow, rowUm } of groups) {
    const [width, height] = turned ? [pieceHeightUm, pieceWidthUm] : [pieceWidthUm, pieceHeightUm]
    expect(rowUm).toBe(height)
    for (let row = 0; row < rows; row++) {
      for (let nth = 0; nth < perRow; nth++)
        boxes.push({ x: marginUm + nth * (width + gapUm), y, width, height })
      y += height + gapUm
    }
  }
  return boxes
}

const apart = (a: Box, b: Box, gap: number) =>
  a.x + a.width + gap <= b.x ||
  b.x + b.width + gap <= a.x ||
  a.y + a.height + gap <= b.y ||
  b.y + b.height + gap <= a.y

test("no piece lies in the margin, nor nearer to another than the gap, nor turned where that is not allowed", () => {
  fc.assert(
    fc.property(job, (job) => {
      const fit = fitPieces(job)
      const boxes = laidOut(job, fit.rows)
      expect(boxes.length).toBe(fit.perSheet)
      expect(fit.perSheet).toBeGreaterThan(0)
      for (const { x, y, width, height } of boxes) {
        expect(Math.min(x, y)).toBeGreaterThanOrEqual(job.marginUm)
        expect(x + width).toBeLessThanOrEqual(job.sheetWidthUm - job.marginUm)
        expect(y + height).toBeLessThanOrEqual(job.sheetHeightUm - job.marginUm)
      }
      // every pair on small sheets; all to one on large ones
      const some = boxes.length > 60 ? boxes.slice(0, 3) : boxes
      for (const a of some) for (const b of boxes) if (a !== b) expect(apart(a, b, job.gapUm)).toBe(true)
      if (!job.mayTurn) expect(fit.rows.every((row) => !row.turned)).toBe(true)
    }),
  )
})

test("pieces and offcut are never more than the sheets they came from", () => {
  fc.assert(
    fc.property(job, pieces, reprintPpm, (job, pieces, reprintPpm) => {
      const cut = cutSheets({ ...job, pieces, reprintPpm })
      const sheets = cut.wholeSheets + (cut.lastRows.length > 0 ? 1 : 0)
      const sheetMm2 = (job.sheetWidthUm / 1000) * (job.sheetHeightUm / 1000)
      const pieceMm2 = (job.pieceWidthUm / 1000) * (job.pieceHeightUm / 1000)
      const offcutMm2 = cut.offcut?.areaMm2 ?? 0
      // each sheet is written to the nearest mm²
      expect(cut.pieces * pieceMm2 + offcutMm2).toBeLessThanOrEqual(sheets * (sheetMm2 + 0.5))
      expect(cut.takenMm2 + offcutMm2).toBe(sheets * Math.round(sheetMm2))
      expect(cut.pieces).toBeGreaterThanOrEqual(pieces)
    }),
  )
})

test("the last rows hold what the whole sheets do not, inside the strip that is cut off", () => {
  fc.assert(
    fc.property(job, pieces, reprintPpm, (job, pieces, reprintPpm) => {
      const cut = cutSheets({ ...job, pieces, reprintPpm })
      const boxes = laidOut(job, cut.lastRows)
      const onLast = cut.pieces - cut.wholeSheets * cut.perSheet
      expect(onLast).toBeLessThan(cut.perSheet)
      expect(boxes.length).toBeGreaterThanOrEqual(onLast)
      for (const { y, height } of boxes) {
        expect(y + height).toBeLessThanOrEqual(Math.min(cut.lastStripUm, job.sheetHeightUm - job.marginUm))
      }
      if (cut.offcut) expect(cut.offcut.heightUm + cut.lastStripUm).toBe(job.sheetHeightUm)
    }),
  )
})

test("an offcut is kept exactly when another piece can be cut from it", () => {
  fc.assert(
    fc.property(job, pieces, (job, pieces) => {
      const { offcut, lastStripUm, lastRows } = cutSheets({ ...job, pieces, reprintPpm: 0 })
      const rest = { ...job, sheetHeightUm: job.sheetHeightUm - lastStripUm }
      if (offcut) expect(fitPieces(rest).perSheet).toBeGreaterThan(0)
      else if (lastRows.length > 0 && rest.sheetHeightUm > 0) expect(() => fitPieces(rest)).toThrow()
    }),
  )
})

test("a full sheet leaves nothing that a piece can be cut from", () => {
  fc.assert(
    fc.property(job, (job) => {
      const used = fitPieces(job).rows.reduce((sum, r) => sum + r.rows * (r.rowUm + job.gapUm), job.marginUm)
      if (used < job.sheetHeightUm) {
        expect(() => fitPieces({ ...job, sheetHeightUm: job.sheetHeightUm - used })).toThrow()
      }
    }),
  )
})

test("one piece more never takes less", () => {
  fc.assert(
    fc.property(job, pieces, (job, pieces) => {
      const taken = (n: number) => cutSheets({ ...job, pieces: n, reprintPpm: 0 }).takenMm2
      expect(taken(pieces + 1)).toBeGreaterThanOrEqual(taken(pieces))
    }),
  )
})

test("a roll as long as a sheet's strip gives the same rows", () => {
  fc.assert(
    fc.property(job, (job) => {
      const { perSheet } = fitPieces(job)
      fc.pre(perSheet > 1)
      const cut = cutSheets({ ...job, pieces: perSheet - 1, reprintPpm: 0 })
      const roll = cutRoll({ ...job, rollWidthUm: job.sheetWidthUm, pieces: perSheet - 1, reprintPpm: 0 })
      expect(roll.rows).toEqual(cut.lastRows)
      expect(Math.min(roll.lengthUm, job.sheetHeightUm)).toBe(cut.lastStripUm)
    }),
  )
})

test("turning allowed never fits fewer, nor takes more of a roll", () => {
  fc.assert(
    fc.property(job, pieces, (job, pieces) => {
      const [fixed, free] = [false, true].map((mayTurn) => ({ ...job, mayTurn }))
      expect(fitPieces(free!).perSheet).toBeGreaterThanOrEqual(fitPieces(fixed!).perSheet)
      const length = (j: Piece & Sheet) =>
        cutRoll({ ...j, rollWidthUm: j.sheetWidthUm, pieces, reprintPpm: 0 }).lengthUm
      expect(length(free!)).toBeLessThanOrEqual(length(fixed!))
    }),
  )
})
