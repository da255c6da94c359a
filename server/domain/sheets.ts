import { Refusal } from "./refusal.ts"

/** A piece to cut, and how it may lie. Whole µm. */
export interface Piece {
  pieceWidthUm: number
  pieceHeightUm: number
  /** kept free along every edge of the sheet, and along both sides and the fresh end of a roll */
  marginUm: number
  /** kept free between two pieces */
  gapUm: number
  /** the piece may lie turned by 90°; not so where a print, grain or stretch has a direction */
  mayTurn: boolean
}

/** A sheet, an offcut being a smaller one. Rows run along its width. */
export interface Sheet {
  sheetWidthUm: number
  sheetHeightUm: number
}

/** Rows that are alike. */
export interface Rows {
  turned: boolean
  rows: number
  perRow: number
  /** height of one row, without gap: the piece's height, or its width when turned */
  rowUm: number
}

/** What a sheet holds. */
export interface Fit {
  perSheet: number
  /** one kind of row; two only where turning some rows fits more, or takes less */
  rows: readonly Rows[]
}

/** What is left of a sheet and still big enough for a piece. */
export interface Offcut {
  widthUm: number
  heightUm: number
  areaMm2: number
}

/** What a number of pieces takes. */
export interface Cut {
  /** pieces cut, spoiled prints counted */
  pieces: number
  perSheet: number
  /** sheets cut up whole */
  wholeSheets: number
  /** rows on one more sheet, which is used in part; none when the whole sheets are enough */
  lastRows: readonly Rows[]
  /** length cut off that sheet over its full width */
  lastStripUm: number
  /** what remains of it; null when there is no such sheet, or the rest is too small for a piece and used up */
  offcut: Offcut | null
  /** all that leaves the shelf for good: sheets begun less the offcut, whole mm² */
  takenMm2: number
}

/**
 * How many pieces a sheet holds.
 *
 * The rule is that of a knife and a rule: rows across the full width of the sheet, the pieces of a row lying
 * alike, every row cut off straight through. As many as such rows can hold, of those the least length, of
 * those the fewest rows turned. (Where pieces may turn, pieces laid like a pinwheel can now and then fit one
 * more; nobody cuts that by hand, and it is left out.)
 *
 * @throws {Refusal} the piece is larger than the sheet, or a size is not above zero
 */
export function fitPieces(job: Piece & Sheet): Fit {
  const rows = fullRows(job)
  if (rows === null) throw new Refusal(tooLarge(job))
  return { perSheet: holds(rows), rows }
}

/**
 * What a number of pieces takes from sheets of one size: whole sheets while they are filled, then rows across
 * one more, as short as they can be. What remains of that one is an offcut while another piece, margins and all,
 * can be cut from it; else it is used up. A full sheet leaves nothing a piece can be cut from.
 *
 * @param job.pieces good pieces wanted, at least one
 * @param job.reprintPpm pieces spoiled and cut again, see `withReprints`
 * @throws {Refusal} see `fitPieces`
 */
export function cutSheets(job: Piece & Sheet & { pieces: number; reprintPpm: number }): Cut {
  const { perSheet } = fitPieces(job)
  const pieces = withReprints(job.pieces, job.reprintPpm)
  const wholeSheets = Math.floor(pieces / perSheet)
  const onLast = pieces - wholeSheets * perSheet
  const lastRows = onLast === 0 ? [] : fewestRows(job, job.sheetWidthUm, onLast)
  const lastStripUm = onLast === 0 ? 0 : Math.min(job.sheetHeightUm, stripUm(job, lastRows))
  const offcut = onLast === 0 ? null : offcutOf(job, lastStripUm)

  const begun = wholeSheets + (onLast === 0 ? 0 : 1)
  const takenMm2 = begun * areaMm2(job.sheetWidthUm, job.sheetHeightUm) - (offcut?.areaMm2 ?? 0)
  return { pieces, perSheet, wholeSheets, lastRows, lastStripUm, offcut, takenMm2 }
}

/**
 * Length off a roll that a number of pieces takes: rows across its width, as on a sheet without an end. Margin
 * at the fresh end, then the rows, each with its gap.
 *
 * @returns pieces cut, spoiled prints counted; whole µm of length
 * @throws {Refusal} the piece is wider than the roll, or a size is not above zero
 */
export function cutRoll(job: Piece & { rollWidthUm: number; pieces: number; reprintPpm: number }): {
  pieces: number
  rows: readonly Rows[]
  lengthUm: number
} {
  const pieces = withReprints(job.pieces, job.reprintPpm)
  if (kindsOfRow(job, job.rollWidthUm).length === 0) {
    throw new Refusal(
      "The piece is wider than the roll with its margins: make it smaller or take a wider roll.",
    )
  }
  const rows = fewestRows(job, job.rollWidthUm, pieces)
  return { pieces, rows, lengthUm: stripUm(job, rows) }
}

/**
 * Pieces to cut when some are spoiled: pieces × (1 + rate), to the nearest whole piece. Not rounded up: a rate
 * of 2 % would then spoil a piece with every single cup. Over many batches the error evens out; a reprint that
 * does happen is written down as it happens.
 */
export function withReprints(pieces: number, reprintPpm: number): number {
  if (!Number.isSafeInteger(pieces) || pieces < 1) throw new RangeError(`no one cuts ${pieces} pieces`)
  if (!(reprintPpm >= 0)) throw new RangeError(`a reprint rate cannot be ${reprintPpm}`)
  return Math.round((pieces * (1_000_000 + reprintPpm)) / 1_000_000)
}

/** A row as it can lie on a width; its pitch is its height and a gap. */
interface KindOfRow {
  turned: boolean
  perRow: number
  rowUm: number
  pitchUm: number
}

/** The one or two ways a row can lie; none when the piece is wider than the room. */
function kindsOfRow(piece: Piece, widthUm: number): KindOfRow[] {
  const { pieceWidthUm, pieceHeightUm, marginUm, gapUm, mayTurn } = piece
  for (const length of [pieceWidthUm, pieceHeightUm, widthUm, marginUm, gapUm]) {
    if (!Number.isSafeInteger(length)) throw new RangeError(`lengths are whole µm, not ${length}`)
  }
  if (pieceWidthUm <= 0 || pieceHeightUm <= 0 || widthUm <= 0) {
    throw new Refusal("Width and height of a piece and of its sheet or roll must be more than zero.")
  }
  if (marginUm < 0 || gapUm < 0) throw new Refusal("A margin or a gap cannot be less than zero.")

  const lying = (turned: boolean, acrossUm: number, rowUm: number): KindOfRow => ({
    turned,
    perRow: Math.floor((widthUm - 2 * marginUm + gapUm) / (acrossUm + gapUm)),
    rowUm,
    pitchUm: rowUm + gapUm,
  })
  const kinds = [lying(false, pieceWidthUm, pieceHeightUm)]
  if (mayTurn && pieceWidthUm !== pieceHeightUm) kinds.push(lying(true, pieceHeightUm, pieceWidthUm))
  return kinds.filter((kind) => kind.perRow >= 1)
}

/** The rows that fill a sheet best; null when not one piece fits. */
function fullRows(job: Piece & Sheet): Rows[] | null {
  if (!Number.isSafeInteger(job.sheetHeightUm) || job.sheetHeightUm <= 0) {
    throw new Refusal("Width and height of a piece and of its sheet or roll must be more than zero.")
  }
  const roomUm = job.sheetHeightUm - 2 * job.marginUm + job.gapUm
  const [first, second] = kindsOfRow(job, job.sheetWidthUm).filter((kind) => kind.pitchUm <= roomUm)
  if (!first) return null
  const most = Math.floor(roomUm / first.pitchUm)
  if (!second) return rowsOf([first, most])
  return bestOf(first, second, most, {
    others: (count) => Math.floor((roomUm - count * first.pitchUm) / second.pitchUm),
    better: (a, b) => a.pieces > b.pieces || (a.pieces === b.pieces && a.lengthUm < b.lengthUm),
  })
}

/** The rows of least length that hold so many pieces. The piece is known to fit the width. */
function fewestRows(piece: Piece, widthUm: number, pieces: number): Rows[] {
  const [first, second] = kindsOfRow(piece, widthUm)
  if (!first) throw new RangeError("the piece does not fit the width")
  const most = Math.ceil(pieces / first.perRow)
  if (!second) return rowsOf([first, most])
  return bestOf(first, second, most, {
    others: (count) => Math.ceil(Math.max(0, pieces - count * first.perRow) / second.perRow),
    better: (a, b) => a.lengthUm < b.lengthUm,
  })
}

interface Tally {
  pieces: number
  lengthUm: number
}

/** Tries every number of rows of the first kind, most first, each with the rows of the second that go with it. */
function bestOf(
  first: KindOfRow,
  second: KindOfRow,
  most: number,
  how: { others: (count: number) => number; better: (a: Tally, b: Tally) => boolean },
): Rows[] {
  let best: { counts: readonly [number, number]; tally: Tally } | null = null
  for (let count = most; count >= 0; count--) {
    const other = how.others(count)
    const tally = {
      pieces: count * first.perRow + other * second.perRow,
      lengthUm: count * first.pitchUm + other * second.pitchUm,
    }
    if (best === null || how.better(tally, best.tally)) best = { counts: [count, other], tally }
  }
  const [count, other] = best?.counts ?? [0, 0]
  return rowsOf([first, count], [second, other])
}

function rowsOf(...kinds: (readonly [KindOfRow, number])[]): Rows[] {
  return kinds
    .filter(([, rows]) => rows > 0)
    .map(([{ turned, perRow, rowUm }, rows]) => ({ turned, rows, perRow, rowUm }))
}

function holds(rows: readonly Rows[]): number {
  return rows.reduce((sum, { rows, perRow }) => sum + rows * perRow, 0)
}

/** Length from the edge of the sheet to the cut behind the last row, a gap after it. */
function stripUm({ marginUm, gapUm }: Piece, rows: readonly Rows[]): number {
  return rows.reduce((sum, { rows, rowUm }) => sum + rows * (rowUm + gapUm), marginUm)
}

function offcutOf(job: Piece & Sheet, cutOffUm: number): Offcut | null {
  const heightUm = job.sheetHeightUm - cutOffUm
  if (heightUm <= 0 || fullRows({ ...job, sheetHeightUm: heightUm }) === null) return null
  return { widthUm: job.sheetWidthUm, heightUm, areaMm2: areaMm2(job.sheetWidthUm, heightUm) }
}

/** To the nearest mm², as a sheet stands in the book. */
function areaMm2(widthUm: number, heightUm: number): number {
  return Math.round((widthUm / 1000) * (heightUm / 1000))
}

function tooLarge(job: Piece & Sheet): string {
  if (!job.mayTurn && fullRows({ ...job, mayTurn: true }) !== null) {
    return "The piece fits on the sheet only when it is turned, which this step does not allow."
  }
  return "The piece is larger than the sheet with its margins: make it smaller or take a larger sheet."
}
