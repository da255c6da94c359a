import { sql } from "../../db/words.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"

export interface PurchaseInput {
  sellerId: number
  packId: number
  count: number
  orderedOn: IsoDate
  expectedOn: IsoDate
}

/** Packs that are ordered and have not all come. */
export interface OpenPurchase {
  purchaseId: number
  sellerId: number
  seller: string
  packId: number
  pack: string
  count: number
  /** packs still to come */
  awaited: number
  orderedOn: IsoDate
  expectedOn: IsoDate
}

/**
 * Notes that packs are ordered; from then on they count as coming on the day they are expected.
 *
 * @returns the purchase's id
 * @throws {Refusal} no packs, a pack or seller that is not there, expected before it was ordered
 */
export function orderPacks(studio: Studio, input: PurchaseInput): number {
  const { file } = studio
  if (!Number.isSafeInteger(input.count) || input.count < 1) {
    throw new Refusal("How many packs must be a whole number, at least 1.", { field: "count" })
  }
  if (input.expectedOn < input.orderedOn) {
    throw new Refusal("It cannot be expected before it is ordered. Put that day or a later one.", {
      field: "expectedOn",
    })
  }
  return file.transaction(() => {
    if (!file.first(sql.selectFrom("pack").select("id").where("id", "=", input.packId))) {
      throw new Refusal("Choose the pack that is ordered.", { field: "packId" })
    }
    if (!file.first(sql.selectFrom("seller").select("id").where("id", "=", input.sellerId))) {
      throw new Refusal("Choose who it is ordered from.", { field: "sellerId" })
    }
    return file.insert("purchase", {
      seller_id: input.sellerId,
      pack_id: input.packId,
      count: input.count,
      ordered_on: input.orderedOn,
      expected_on: input.expectedOn,
      cancelled: 0,
    })
  })
}

const OPEN = `SELECT * FROM (
    SELECT p.id AS purchaseId, p.seller_id AS sellerId, s.name AS seller, p.pack_id AS packId, k.name AS pack, p.count,
      p.ordered_on AS orderedOn, p.expected_on AS expectedOn,
      p.count - coalesce((SELECT sum(l.count) FROM receipt_line l WHERE l.purchase_id = p.id
        AND NOT EXISTS (SELECT 1 FROM action r WHERE r.reverses_action_id = l.action_id)), 0) AS awaited
    FROM purchase p JOIN seller s ON s.id = p.seller_id JOIN pack k ON k.id = p.pack_id WHERE p.cancelled = 0)
  WHERE awaited > 0`

/** What is ordered and has not come, the next expected first. */
export function openPurchases(studio: Studio): OpenPurchase[] {
  return studio.file.allText<OpenPurchase>(`${OPEN} ORDER BY expectedOn, purchaseId`)
}

/** Calls off what has not come of a purchase. @throws {Refusal} it is not open any more */
export function cancelPurchase(studio: Studio, purchaseId: number): OpenPurchase {
  return studio.file.transaction(() => {
    const open = studio.file.firstText<OpenPurchase>(`${OPEN} AND purchaseId = ?`, [purchaseId])
    if (!open) throw new Refusal("That purchase is not open any more.", { status: 409 })
    studio.file.run(sql.updateTable("purchase").set({ cancelled: 1 }).where("id", "=", purchaseId))
    return open
  })
}
