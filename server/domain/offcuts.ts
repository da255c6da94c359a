import { Refusal, refusalOr } from "./refusal.ts"
import { type Cut, cutSheets, fitPieces, type Piece } from "./sheets.ts"

/**
 * An offcut that stands on the shelf by itself. Strips are cut off it over its full width, as off a sheet, so that
 * what is left of it keeps its width and loses height.
 */
export interface ShelvedOffcut {
  containerId: number
  supplyId: number
  widthUm: number
  /** as it was put on the shelf */
  heightUm: number
  /** mm² left of it */
  amountLeft: number
}

/** Pieces cut from one offcut. */
export interface OffcutCut {
  containerId: number
  cut: Cut
}

/** How high an offcut is now, in µm: its area by its width, and never higher than it was. */
export function heightNowUm({ widthUm, heightUm, amountLeft }: ShelvedOffcut): number {
  return Math.min(heightUm, Math.floor((amountLeft / widthUm) * 1e6))
}

/**
 * Cuts pieces from offcuts before a sheet is begun: the smallest that a piece fits on first, each filled before the
 * next.
 *
 * @param pieces how many, spoiled ones counted
 * @returns what is cut from which, and the pieces that are left to cut from sheets
 */
export function cutOffcuts(
  piece: Piece,
  pieces: number,
  offcuts: readonly ShelvedOffcut[],
): { cuts: OffcutCut[]; left: number } {
  const cuts: OffcutCut[] = []
  let left = pieces
  for (const offcut of offcuts.toSorted((a, b) => a.amountLeft - b.amountLeft)) {
    if (left === 0) break
    const sheet = sheetOf(offcut)
    const fit = holdsOf(piece, offcut)
    if (sheet === null || fit === 0) continue
    const some = Math.min(left, fit)
    const cut = cutSheets({ ...piece, ...sheet, pieces: some, reprintPpm: 0 })
    // used up, it is used up to the last mm², whatever its height was rounded to
    const isUsedUp = cut.offcut === null
    const takenMm2 = isUsedUp ? offcut.amountLeft : Math.min(offcut.amountLeft, cut.takenMm2)
    cuts.push({ containerId: offcut.containerId, cut: { ...cut, takenMm2 } })
    left -= some
  }
  return { cuts, left }
}

/** How many pieces an offcut holds; 0: none. */
export function holdsOf(piece: Piece, offcut: ShelvedOffcut): number {
  const sheet = sheetOf(offcut)
  if (sheet === null) return 0
  const fit = refusalOr(() => fitPieces({ ...piece, ...sheet }))
  return fit instanceof Refusal ? 0 : fit.perSheet
}

/** The offcuts as they are when some amounts were taken from them. */
export function withoutDrawn(
  offcuts: readonly ShelvedOffcut[],
  draws: readonly { from?: number; amount: number }[],
): ShelvedOffcut[] {
  return offcuts
    .map((offcut) => ({
      ...offcut,
      amountLeft: draws
        .filter(({ from }) => from === offcut.containerId)
        .reduce((rest, { amount }) => rest - amount, offcut.amountLeft),
    }))
    .filter(({ amountLeft }) => amountLeft > 0)
}

function sheetOf(offcut: ShelvedOffcut): { sheetWidthUm: number; sheetHeightUm: number } | null {
  const heightUm = heightNowUm(offcut)
  return heightUm > 0 ? { sheetWidthUm: offcut.widthUm, sheetHeightUm: heightUm } : null
}
