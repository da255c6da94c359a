import type { ExpiryBasis } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { sayDate } from "../domain/said-day.ts"
import { containerCode } from "../domain/studio-code.ts"
import { type Act, nextId } from "./act.ts"
import { move } from "./move.ts"
import { stands } from "./stands.ts"

/** A lot as it stands on the label. `number` null: none printed. */
export interface LotFacts {
  supplyId: number
  makerId: number | null
  number: string | null
  madeOn: IsoDate | null
  expiresOn: IsoDate | null
  expiryBasis: ExpiryBasis
}

/**
 * The lot with that number of that maker, made if it is new. A lot without a number is always a new one. A lot
 * whose dates were not known learns them; one whose every delivery was undone is described anew.
 *
 * @returns the lot's id
 * @throws {Refusal} the lot is known with another expiry day
 */
export function lotOf(act: Act, facts: LotFacts): number {
  if (facts.number !== null) {
    const known = act.file.firstText<{ id: number; expires_on: string | null; expiry_basis: ExpiryBasis }>(
      "SELECT id, expires_on, expiry_basis FROM lot WHERE supply_id = ? AND coalesce(maker_id, 0) = ? AND number = ?",
      [facts.supplyId, facts.makerId ?? 0, facts.number],
    )
    if (known) {
      if (neverCame(act, known.id)) describe(act, known.id, facts)
      else learnDates(act, known, facts)
      return known.id
    }
  }
  return act.file.insert("lot", {
    supply_id: facts.supplyId,
    maker_id: facts.makerId,
    number: facts.number,
    made_on: facts.madeOn,
    expires_on: facts.expiresOn,
    expiry_basis: facts.expiryBasis,
  })
}

/** Whether all containers that were filled with the lot were undone: it never came then. */
function neverCame(act: Act, lotId: number): boolean {
  const stand = act.file.firstText<{ stands: number }>(
    `SELECT ${stands("m.action_id")} AS stands
     FROM container_lot t JOIN movement m ON m.id = t.movement_id WHERE t.lot_id = ? ORDER BY stands DESC LIMIT 1`,
    [lotId],
  )
  return stand?.stands === 0
}

function describe(act: Act, lotId: number, { madeOn, expiresOn, expiryBasis }: LotFacts): void {
  act.file.runText("UPDATE lot SET made_on = ?, expires_on = ?, expiry_basis = ? WHERE id = ?", [
    madeOn,
    expiresOn,
    expiryBasis,
    lotId,
  ])
}

function learnDates(
  act: Act,
  known: { id: number; expires_on: string | null; expiry_basis: ExpiryBasis },
  facts: LotFacts,
): void {
  if (facts.expiryBasis !== "label") return
  if (known.expiry_basis === "label") {
    if (facts.expiresOn === known.expires_on) return
    throw new Refusal(
      `Lot ${facts.number} is in the book with expiry ${sayDate(known.expires_on!, act.happenedOn)}. Look at the label again, or leave the date empty to keep that one.`,
      { field: "expiresOn" },
    )
  }
  act.file.runText(
    "UPDATE lot SET expires_on = ?, expiry_basis = 'label', made_on = coalesce(?, made_on) WHERE id = ?",
    [facts.expiresOn, facts.madeOn, known.id],
  )
}

/** A new container and what is in it. */
export interface Filling {
  supplyId: number
  lotId: number
  receiptLineId: number | null
  kitUnit: number | null
  fullAmount: number
  amount: number
  costMicro: number
  basis: "counted" | "estimated"
}

/**
 * Puts a new container on the shelf with a code of its own.
 *
 * @returns its id and code
 */
export function fillContainer(act: Act, filling: Filling): { id: number; code: string } {
  const code = containerCode(nextId(act.file, "container"))
  const id = act.file.insert("container", {
    code,
    supply_id: filling.supplyId,
    lot_id: filling.lotId,
    receipt_line_id: filling.receiptLineId,
    kit_unit: filling.kitUnit,
    full_amount: filling.fullAmount,
    empty_mg: null,
  })
  const movement = move(act, id, filling.amount, {
    kind: "receive",
    basis: filling.basis,
    costMicro: filling.costMicro,
  })
  act.file.insert("container_lot", {
    container_id: id,
    lot_id: filling.lotId,
    movement_id: movement,
    use_by: null,
  })
  return { id, code }
}

/**
 * An empty bottle with a code, to decant into: same supply and lot as the one it is filled from.
 *
 * @param size of an offcut, in µm
 */
export function emptyContainer(
  act: Act,
  like: { supply_id: number; lot_id: number },
  fullAmount: number,
  size: { widthUm: number; heightUm: number } | null = null,
): { id: number; code: string } {
  const code = containerCode(nextId(act.file, "container"))
  const id = act.file.insert("container", {
    code,
    supply_id: like.supply_id,
    lot_id: like.lot_id,
    receipt_line_id: null,
    kit_unit: null,
    full_amount: fullAmount,
    empty_mg: null,
    ...(size && { width_um: size.widthUm, height_um: size.heightUm }),
  })
  return { id, code }
}
