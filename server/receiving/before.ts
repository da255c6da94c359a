import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Actor, Done } from "../ledger/act.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import type { LabelledLot } from "./lots.ts"
import { type Received, receive } from "./receive.ts"

/** What stood on the label that was taken in before. */
export interface LotBefore {
  lineId: number
  number: string
  madeOn: IsoDate | null
  expiresOn: IsoDate | null
}

/**
 * The lot of the line before, if one number stood on all of it: often the next thing of that maker has it too, a
 * hardener after its resin. Of another maker's thing it says nothing, and one tap would trace a lot that never was.
 */
export function lotBefore(
  studio: Studio,
  deliveryId: number,
  pack: { id: number; makerId: number | null },
): LotBefore | null {
  const last = studio.file.firstText<{ id: number; packId: number | null; makerId: number | null }>(
    `SELECT l.id, l.pack_id AS packId, p.maker_id AS makerId FROM receipt_line l LEFT JOIN pack p ON p.id = l.pack_id
     WHERE l.delivery_id = ? AND ${stands("l.action_id")} ORDER BY l.id DESC LIMIT 1`,
    [deliveryId],
  )
  if (!last) return null
  const ofOneMaker = pack.makerId !== null && last.makerId === pack.makerId
  return last.packId === pack.id || ofOneMaker ? lotOfLine(studio, last.id) : null
}

/** @returns null when its containers have no lot number, or several */
export function lotOfLine(studio: Studio, lineId: number): LotBefore | null {
  const lots = labelsOf(studio, lineId)
  const [first] = lots
  if (first?.number == null || lots.some((lot) => lot.number !== first.number)) return null
  return { lineId, number: first.number, madeOn: first.madeOn, expiresOn: first.expiresOn }
}

/**
 * Takes so many more of the same in: the same pack, lots, dates and price as a line of an open delivery.
 *
 * @throws {Refusal} no such line, or it was undone; as `receive`
 */
export function receiveAgain(
  studio: Studio,
  by: Actor,
  input: { lineId: number; count: number },
): Done<Received & { deliveryId: number }> {
  const line = studio.file.firstText<{ deliveryId: number; packId: number | null; priceMicro: number }>(
    `SELECT l.delivery_id AS deliveryId, l.pack_id AS packId, l.price_micro AS priceMicro
     FROM receipt_line l WHERE l.id = ? AND (${stands("l.action_id")} OR EXISTS (SELECT 1 FROM action WHERE key = ?))`,
    // the very form that was done before has its answer, whatever became of the line
    [input.lineId, by.key],
  )
  if (!line || line.packId === null)
    throw new Refusal("That line is not in the book any more. Scan the thing again.", { status: 409 })
  const { deliveryId, packId, priceMicro } = line
  const lots = labelsOf(studio, input.lineId)
  const done = receive(studio, by, { deliveryId, packId, count: input.count, priceMicro, lots })
  return { ...done, answer: { ...done.answer, deliveryId } }
}

/** What stood on the labels of a line, one for each supply. A day that was worked out is not a label's. */
function labelsOf(studio: Studio, lineId: number): LabelledLot[] {
  return studio.file.allText<LabelledLot>(
    `SELECT DISTINCT c.supply_id AS supplyId, t.number, t.made_on AS madeOn,
       iif(t.expiry_basis = 'label', t.expires_on, NULL) AS expiresOn
     FROM container c JOIN lot t ON t.id = c.lot_id WHERE c.receipt_line_id = ? ORDER BY c.id`,
    [lineId],
  )
}
