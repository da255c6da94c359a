import { describe, expect, test } from "vitest"
import { cutRoll, cutSheets, fitPieces, withReprints } from "../../server/domain/sheets.ts"

const mm = 1000

/** 100 × 60 mm on a 300 × 300 mm sheet, 5 mm margin, 2 mm between pieces. */
const job = {
  pieceWidthUm: 100 * mm,
  pieceHeightUm: 60 * mm,
  sheetWidthUm: 300 * mm,
  sheetHeightUm: 300 * mm,
  marginUm: 5 * mm,
  gapUm: 2 * mm,
  mayTurn: false,
}

describe("how many pieces a sheet holds", () => {
  test("margins and gaps are counted: 2 of 100 mm in 290 mm, 4 rows of 60 mm in 290 mm", () => {
    // 3 × 100 + 2 × 2 = 304 > 290; 4 × 60 + 3 × 2 = 246, a fifth row would need 308
    expect(fitPieces(job)).toEqual({
      perSheet: 8,
      rows: [{ turned: false, rows: 4, perRow: 2, rowUm: 60 * mm }],
    })
  })

  test("rows are turned where that fits more", () => {
    // turned: 4 of 60 mm across, 2 rows of 100 mm and 86 mm left, which takes one row the other way
    expect(fitPieces({ ...job, mayTurn: true })).toEqual({
      perSheet: 10,
      rows: [
        { turned: false, rows: 1, perRow: 2, rowUm: 60 * mm },
        { turned: true, rows: 2, perRow: 4, rowUm: 100 * mm },
      ],
    })
  })

  test("where turning gains nothing, nothing is turned", () => {
    const square = { ...job, sheetWidthUm: 110 * mm, sheetHeightUm: 110 * mm, mayTurn: true }
    expect(fitPieces(square).rows).toEqual([{ turned: false, rows: 1, perRow: 1, rowUm: 60 * mm }])
  })

  test("a piece of the sheet's own size fits once without margins, and not with them", () => {
    const whole = { ...job, pieceWidthUm: 300 * mm, pieceHeightUm: 300 * mm, marginUm: 0 }
    expect(fitPieces(whole).perSheet).toBe(1)
    expect(() => fitPieces({ ...whole, marginUm: 1 })).toThrow(
      "The piece is larger than the sheet with its margins: make it smaller or take a larger sheet.",
    )
  })

  test("a piece that fits only when turned says so", () => {
    const narrow = { ...job, sheetWidthUm: 80 * mm }
    expect(() => fitPieces(narrow)).toThrow(
      "The piece fits on the sheet only when it is turned, which this step does not allow.",
    )
    expect(fitPieces({ ...narrow, mayTurn: true }).perSheet).toBe(2)
  })

  test("sizes of nothing or less are refused with a sentence", () => {
    expect(() => fitPieces({ ...job, pieceWidthUm: 0 })).toThrow("must be more than zero")
    expect(() => fitPieces({ ...job, sheetHeightUm: -1 })).toThrow("must be more than zero")
    expect(() => fitPieces({ ...job, gapUm: -1 })).toThrow("cannot be less than zero")
    expect(() => fitPieces({ ...job, pieceWidthUm: 1.5 })).toThrow(RangeError)
  })
})

describe("what pieces take from sheets", () => {
  test("six pieces take three rows, and the rest is an offcut", () => {
    // 5 + 3 × (60 + 2) = 191 mm cut off; 109 mm left, which holds another row between its margins
    expect(cutSheets({ ...job, pieces: 6, reprintPpm: 0 })).toEqual({
      pieces: 6,
      perSheet: 8,
      wholeSheets: 0,
      lastRows: [{ turned: false, rows: 3, perRow: 2, rowUm: 60 * mm }],
      lastStripUm: 191 * mm,
      offcut: { widthUm: 300 * mm, heightUm: 109 * mm, areaMm2: 300 * 109 },
      takenMm2: 300 * 191,
    })
  })

  test("a rest too small for a piece with its margins is used up", () => {
    // four rows: 5 + 4 × 62 = 253 mm, 47 mm left
    const cut = cutSheets({ ...job, pieces: 7, reprintPpm: 0 })
    expect(cut.offcut).toBeNull()
    expect(cut.lastStripUm).toBe(253 * mm)
    expect(cut.takenMm2).toBe(300 * 300)
  })

  test("a full sheet is a whole sheet; one piece more begins another", () => {
    expect(cutSheets({ ...job, pieces: 8, reprintPpm: 0 })).toMatchObject({
      wholeSheets: 1,
      lastRows: [],
      lastStripUm: 0,
      offcut: null,
      takenMm2: 90_000,
    })
    expect(cutSheets({ ...job, pieces: 9, reprintPpm: 0 })).toMatchObject({
      wholeSheets: 1,
      lastStripUm: 67 * mm,
      takenMm2: 90_000 + 300 * 67,
    })
  })

  test("the last strip is turned when that makes it shorter", () => {
    // 3 pieces: two rows unturned take 129 mm, one row turned (4 across) 107 mm
    const cut = cutSheets({ ...job, mayTurn: true, pieces: 3, reprintPpm: 0 })
    expect(cut.lastRows).toEqual([{ turned: true, rows: 1, perRow: 4, rowUm: 100 * mm }])
    expect(cut.lastStripUm).toBe(107 * mm)
  })

  test("spoiled prints are cut again, to the nearest whole piece", () => {
    expect(withReprints(1, 20_000)).toBe(1)
    expect(withReprints(6, 100_000)).toBe(7)
    expect(withReprints(24, 50_000)).toBe(25)
    expect(cutSheets({ ...job, pieces: 8, reprintPpm: 100_000 }).pieces).toBe(9)
    expect(() => withReprints(0, 0)).toThrow(RangeError)
    expect(() => withReprints(1, -1)).toThrow(RangeError)
  })
})

describe("what pieces take off a roll", () => {
  const onRoll = {
    pieceWidthUm: 100 * mm,
    pieceHeightUm: 60 * mm,
    rollWidthUm: 305 * mm,
    marginUm: 5 * mm,
    gapUm: 2 * mm,
    mayTurn: false,
  }

  test("rows across the roll: 2 a row, so 5 pieces take three rows, 191 mm", () => {
    expect(cutRoll({ ...onRoll, pieces: 5, reprintPpm: 0 })).toEqual({
      pieces: 5,
      rows: [{ turned: false, rows: 3, perRow: 2, rowUm: 60 * mm }],
      lengthUm: 191 * mm,
    })
  })

  test("turned where that is shorter", () => {
    // 4 across turned: 4 pieces in 5 + 102 mm against 5 + 2 × 62 mm
    expect(cutRoll({ ...onRoll, mayTurn: true, pieces: 4, reprintPpm: 0 }).lengthUm).toBe(107 * mm)
  })

  test("a piece wider than the roll is refused", () => {
    expect(() => cutRoll({ ...onRoll, rollWidthUm: 100 * mm, pieces: 1, reprintPpm: 0 })).toThrow(
      "The piece is wider than the roll with its margins: make it smaller or take a wider roll.",
    )
  })
})
