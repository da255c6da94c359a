import type { Blank, PieceUse, SheetSize } from "./plan.ts"
import { type Band, coveredBand, ringsBetween } from "./profile.ts"
import { Refusal } from "./refusal.ts"
import { type Cut, cutRoll, cutSheets, type Piece, type Rows, withReprints } from "./sheets.ts"
import { wrapPiece } from "./wraps.ts"

/** What pieces for some cups take, and how they lie. */
export type PieceNeed = { piece: Piece } & (
  | { from: "sheets"; amount: number; cut: Cut }
  | { from: "roll"; amount: number; pieces: number; rows: readonly Rows[] }
  /** no sheet or roll is known: the pieces' own area */
  | { from: "area"; amount: number; pieces: number }
)

/**
 * What the pieces for some cups take of their supply: mm² of sheet or µm of roll, spoiled pieces counted, not
 * rounded.
 *
 * @param band the layer's own, for a wrap; null: all that the bare bands leave
 * @param cups at least one
 * @throws {Refusal} a supply that pieces are not cut from, a piece without size or too large for its sheet or
 *   roll, a band that cannot be wrapped; see `cutSheets`, `cutRoll`, `wrapPiece`
 */
export function pieceNeed(use: PieceUse, blank: Blank, band: Band | null, cups: number): PieceNeed {
  const { supply, reprintPpm } = use
  const piece = pieceOf(use, blank, band)
  switch (supply.baseUnit) {
    case "mm2": {
      if (supply.sheet === null) {
        const pieces = withReprints(cups, reprintPpm)
        const mm2 = (piece.pieceWidthUm / 1000) * (piece.pieceHeightUm / 1000)
        return { piece, from: "area", amount: pieces * mm2, pieces }
      }
      const { widthUm: sheetWidthUm, heightUm: sheetHeightUm } = supply.sheet
      const cut = about(supply.name, () =>
        cutSheets({ ...piece, sheetWidthUm, sheetHeightUm, pieces: cups, reprintPpm }),
      )
      return { piece, from: "sheets", amount: cut.takenMm2, cut }
    }
    case "um": {
      const { rollWidthUm } = supply
      if (rollWidthUm === null) {
        throw new Refusal(`Say how wide the roll of ${supply.name} is, or give its length a cup.`)
      }
      const { lengthUm, pieces, rows } = about(supply.name, () =>
        cutRoll({ ...piece, rollWidthUm, pieces: cups, reprintPpm }),
      )
      return { piece, from: "roll", amount: lengthUm, pieces, rows }
    }
    case "uL":
    case "mg":
    case "each":
      throw new Refusal(
        `${supply.name} is not counted by area or length; give its amount or number a cup instead of a piece.`,
      )
  }
}

/** The piece that a use cuts, and how many for some cups, spoiled ones counted. @throws {Refusal} see `pieceNeed` */
export function piecesFor(
  use: PieceUse,
  blank: Blank,
  band: Band | null,
  cups: number,
): { piece: Piece; pieces: number } {
  return { piece: pieceOf(use, blank, band), pieces: withReprints(cups, use.reprintPpm) }
}

/** The piece's size and how it may lie, margin and gap as the use says. */
function pieceOf(use: PieceUse, blank: Blank, band: Band | null): Piece {
  const { supply, cut, marginUm, gapUm, mayTurn } = use
  const lies = { marginUm, gapUm, mayTurn }
  if (cut.shape === "flat") {
    if (!(cut.widthUm > 0 && cut.heightUm > 0)) {
      throw new Refusal(`Say how wide and how high the piece of ${supply.name} is.`)
    }
    return { pieceWidthUm: cut.widthUm, pieceHeightUm: cut.heightUm, ...lies }
  }
  const { fromUm, toUm } = coveredBand(blank, band)
  const { widthUm, heightUm } = wrapPiece({
    rings: ringsBetween(blank.rings, fromUm, toUm),
    overlapUm: cut.overlapUm,
  })
  return { pieceWidthUm: widthUm, pieceHeightUm: heightUm, ...lies }
}

/** Which supply a refusal is about: a layer may cut from several. */
function about<T>(supply: string, work: () => T): T {
  try {
    return work()
  } catch (error) {
    if (error instanceof Refusal) throw new Refusal(`${supply}: ${error.message}`)
    throw error
  }
}

/**
 * What so much of a supply is in sheets. Pieces are cut off in strips over the full width, so what is no whole
 * sheet is an offcut as wide as a sheet.
 *
 * @returns whole sheets, and the offcut's length in µm
 */
export function sheetsIn(
  amountMm2: number,
  { widthUm, heightUm }: SheetSize,
): { whole: number; restUm: number } {
  const oneMm2 = sheetMm2({ widthUm, heightUm })
  const whole = Math.floor(amountMm2 / oneMm2)
  return { whole, restUm: Math.round(((amountMm2 - whole * oneMm2) / widthUm) * 1e6) }
}

/** The area of a sheet, whole mm². */
export function sheetMm2({ widthUm, heightUm }: SheetSize): number {
  return Math.round((widthUm / 1000) * (heightUm / 1000))
}

/** So much of a supply as a person says it: "10 sheets", "1 sheet", "3.4 sheets", "less than 0.1 sheets". */
export function saySheets(amountMm2: number, sheet: SheetSize): string {
  const tenths = Math.round((10 * Math.abs(amountMm2)) / sheetMm2(sheet))
  const sign = amountMm2 < 0 ? "−" : ""
  if (tenths === 0 && amountMm2 !== 0) return `${sign ? `${sign} ` : ""}less than 0.1 sheets`
  return `${sign}${(tenths / 10).toLocaleString("en-US")} ${tenths === 10 ? "sheet" : "sheets"}`
}
