import { designs, plansOf } from "../designs/service.ts"
import { holdsOf } from "../domain/offcuts.ts"
import { piecesFor, sheetsIn } from "../domain/pieces.ts"
import type { SheetSize } from "../domain/plan.ts"
import { Refusal, refusalOr } from "../domain/refusal.ts"
import type { Piece } from "../domain/sheets.ts"
import { formatAmount } from "../domain/units.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { emptyContainer } from "../ledger/fill.ts"
import { transfer } from "../ledger/move.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { containerInAct, nameOf } from "./find.ts"
import { isHeld, useByOf } from "./marks.ts"

/** What a pack of sheets holds besides whole sheets, where a piece of a design that is made now fits on it. */
export interface OffcutIn {
  code: string
  supply: string
  widthUm: number
  heightUm: number
  areaMm2: number
  /** a piece of these fits */
  designs: string[]
}

/** @returns null: whole sheets alone, a rest that no design's piece fits on, an offcut already, or no sheets */
export function offcutIn(studio: Studio, code: string): OffcutIn | null {
  const pack = studio.file.firstText<{
    id: number
    supply_id: number
    supply: string
    amount_left: number
    width_um: number | null
    sheet_width_um: number | null
    sheet_height_um: number | null
  }>(
    `SELECT c.id, c.supply_id, s.name AS supply, c.amount_left, c.width_um, s.sheet_width_um, s.sheet_height_um
     FROM container c JOIN supply s ON s.id = c.supply_id WHERE c.code = ?`,
    [code],
  )
  if (!pack?.sheet_width_um || !pack.sheet_height_um || pack.width_um !== null) return null
  const sheet: SheetSize = { widthUm: pack.sheet_width_um, heightUm: pack.sheet_height_um }
  const { whole, restUm } = sheetsIn(pack.amount_left, sheet)
  if (restUm === 0) return null
  const areaMm2 = pack.amount_left - whole * Math.round((sheet.widthUm / 1000) * (sheet.heightUm / 1000))
  const offcut = {
    containerId: pack.id,
    supplyId: pack.supply_id,
    widthUm: sheet.widthUm,
    heightUm: restUm,
    amountLeft: areaMm2,
  }
  const fitting = piecesCut(studio, pack.supply_id).filter(({ piece }) => holdsOf(piece, offcut) > 0)
  if (fitting.length === 0) return null
  const names = [...new Set(fitting.map(({ design }) => design))]
  return { code, supply: pack.supply, widthUm: sheet.widthUm, heightUm: restUm, areaMm2, designs: names }
}

/**
 * Puts the offcut that a pack holds besides its whole sheets on the shelf by itself, with its size: same lot, its part
 * of the cost. Pieces are cut from it before a sheet is begun.
 *
 * @returns the offcut's code
 * @throws {Refusal} unknown, held, or it holds no offcut that a piece of a design fits on
 */
export function shelveOffcut(studio: Studio, by: Actor, code: string): Done<{ code: string }> {
  return act(studio, "transfer", by, { offcut: code }, (now) => {
    const pack = containerInAct(now, code)
    if (isHeld(now, pack))
      throw new Refusal(`${nameOf(pack)} is held. Release it first, if it may be used.`, { status: 409 })
    const offcut = offcutIn(studio, pack.code)
    if (offcut === null) {
      throw new Refusal(
        `${nameOf(pack)} holds no offcut that a piece of one of your designs fits on: there is nothing to put by.`,
        { status: 409 },
      )
    }
    const { widthUm, heightUm, areaMm2 } = offcut
    const kept = emptyContainer(now, pack, areaMm2, { widthUm, heightUm })
    transfer(now, pack.id, kept.id, areaMm2, "estimated", useByOf(now, pack))
    return {
      summary: `Put by the offcut ${kept.code} of ${offcut.supply}, ${saySize(studio, offcut)}`,
      answer: { code: kept.code },
    }
  })
}

/** "30.5 cm × 18.1 cm" */
export function saySize(studio: Studio, { widthUm, heightUm }: SheetSize): string {
  const { units } = settingsOf(studio)
  return `${formatAmount(widthUm, "um", units)} × ${formatAmount(heightUm, "um", units)}`
}

/** The pieces that designs in their latest version cut from a supply. */
function piecesCut(studio: Studio, supplyId: number): { design: string; piece: Piece }[] {
  const plans = plansOf(
    studio,
    designs(studio).map((design) => design.versionId),
  )
  return [...plans.values()].flatMap((plan) =>
    plan.layers.flatMap(({ uses, band }) =>
      uses.flatMap((use) => {
        if (use.how !== "piece" || use.supply.id !== supplyId) return []
        const found = refusalOr(() => piecesFor(use, plan.blank, band, 1))
        return found instanceof Refusal ? [] : [{ design: plan.designName, piece: found.piece }]
      }),
    ),
  )
}
