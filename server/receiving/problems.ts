import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { packById } from "../supplies/service.ts"
import { awaited, packOfPurchase } from "./awaited.ts"
import { deliveryById } from "./deliveries.ts"

/** What a line of a delivery is, as far as something may be wrong with it. */
interface Line {
  deliveryId: number
  lineId: number
  packId: number
  purchaseId: number | null
  count: number
  insteadOf?: number | null | undefined
  leftPpm?: number | null | undefined
}

/** Writes down what of a line came otherwise than ordered. */
export function noteProblems(now: Act, line: Line): void {
  const row = {
    action_id: now.actionId,
    delivery_id: line.deliveryId,
    line_id: line.lineId,
    purchase_id: line.purchaseId,
    pack_id: line.packId,
    count: line.count,
  }
  if (line.leftPpm != null) now.file.insert("receipt_problem", { ...row, what: "leaked" })
  if (line.insteadOf != null) now.file.insert("receipt_problem", { ...row, what: "substituted" })
}

/**
 * The purchase in whose place another pack came.
 *
 * @throws {Refusal} it is not open, or of this very pack
 */
export function replaced(now: Act, purchaseId: number, packId: number): number {
  if (packOfPurchase(now, purchaseId) !== packId) return purchaseId
  throw new Refusal("That is the very pack that was ordered, so it came in nothing else's place.", {
    field: "insteadOf",
  })
}

/**
 * Writes down packs that came damaged and were not taken in. What was ordered stays open: they are still owed.
 *
 * @throws {Refusal} a closed delivery; a count that cannot be
 */
export function noteDamaged(
  studio: Studio,
  by: Actor,
  input: { deliveryId: number; packId: number; count: number },
): Done<{ deliveryId: number }> {
  return act(studio, "damaged", by, input, (now) => {
    const delivery = deliveryById(studio, input.deliveryId)
    const pack = packById(studio, input.packId)
    if (delivery.closed)
      throw new Refusal("This delivery is closed. Open it again, or begin a new one.", {
        field: "deliveryId",
      })
    if (!Number.isSafeInteger(input.count) || input.count < 1 || input.count > 1000)
      throw new Refusal("How many came is a whole number from 1 to 1000.", { field: "count" })
    now.file.insert("receipt_problem", {
      action_id: now.actionId,
      delivery_id: delivery.id,
      line_id: null,
      purchase_id: awaited(now, pack.id, delivery.sellerId)[0]?.purchaseId ?? null,
      pack_id: pack.id,
      what: "damaged",
      count: input.count,
    })
    const many = input.count === 1 ? "" : `${input.count} × `
    return {
      summary: `${many}${pack.name} came damaged and was not taken in`,
      answer: { deliveryId: delivery.id },
    }
  })
}

/** What came damaged with a delivery, the newest first. */
export interface DamagedLine {
  actionId: number
  name: string
  count: number
}

export function damagedIn(studio: Studio, deliveryId: number): DamagedLine[] {
  return studio.file.allText<DamagedLine>(
    `SELECT x.action_id AS actionId, k.name, x.count FROM receipt_problem x JOIN pack k ON k.id = x.pack_id
     WHERE x.delivery_id = ? AND x.what = 'damaged'
       AND ${stands("x.action_id")}
     ORDER BY x.id DESC`,
    [deliveryId],
  )
}
