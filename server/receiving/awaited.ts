import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Act } from "../ledger/act.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"

/** A purchase that has not come in full. */
export interface Awaited {
  purchaseId: number
  missing: number
  expectedOn: IsoDate
}

/** Packs still to come of each purchase that was not called off. Below zero where more came than was ordered. */
const AWAITED = `SELECT p.id AS purchaseId, p.pack_id AS packId, p.seller_id AS sellerId, p.expected_on AS expectedOn,
    p.count - coalesce((SELECT sum(l.count) FROM receipt_line l WHERE l.purchase_id = p.id
      AND ${stands("l.action_id")}), 0) AS missing
  FROM purchase p WHERE p.cancelled = 0`

/** What is ordered of a pack and has not come, what this seller owes first, then the oldest. */
export function awaited(studio: Pick<Studio, "file">, packId: number, sellerId: number | null): Awaited[] {
  return studio.file.allText<Awaited>(
    `SELECT purchaseId, missing, expectedOn FROM (${AWAITED}) WHERE packId = ? AND missing > 0
     ORDER BY sellerId = ? DESC, purchaseId`,
    [packId, sellerId ?? 0],
  )
}

/** Which purchases a count of packs is for: what one of them cannot take goes to the next. */
export interface Part {
  purchaseId: number | null
  count: number
}

/**
 * Shares what came out over the purchases it may be for.
 *
 * @param told a purchase the person chose; null: none; undefined: those that are open
 * @returns the parts, and how many came beyond what was ordered
 * @throws {Refusal} the chosen purchase is not open, or of another pack
 */
export function partsFor(
  now: Act,
  came: { packId: number; count: number; deliveryId: number; sellerId: number | null },
  told: number | null | undefined,
): { parts: Part[]; over: number } {
  if (told === null) return { parts: [{ purchaseId: null, count: came.count }], over: 0 }
  if (told !== undefined) {
    refuseWrongPurchase(now, told, came.packId)
    return { parts: [{ purchaseId: told, count: came.count }], over: 0 }
  }
  const parts: Part[] = []
  let left = came.count
  for (const { purchaseId, missing } of awaited(now, came.packId, came.sellerId)) {
    if (left === 0) break
    const count = Math.min(left, missing)
    parts.push({ purchaseId, count })
    left -= count
  }
  if (left === 0) return { parts, over: 0 }
  const last = parts.at(-1)
  // more than was ordered stays beside what was ordered
  if (last) {
    last.count += left
    return { parts, over: left }
  }
  const filled = filledHere(now, came)
  return { parts: [{ purchaseId: filled, count: left }], over: filled === null ? 0 : left }
}

/** The purchase of a pack that this very delivery has filled, or null. */
function filledHere(now: Act, came: { packId: number; deliveryId: number }): number | null {
  const row = now.file.firstText<{ id: number }>(
    `SELECT p.id FROM receipt_line l JOIN purchase p ON p.id = l.purchase_id
     WHERE l.delivery_id = ? AND p.pack_id = ? AND p.cancelled = 0 AND ${stands("l.action_id")} ORDER BY l.id DESC LIMIT 1`,
    [came.deliveryId, came.packId],
  )
  return row?.id ?? null
}

/** @throws {Refusal} it was called off or never made */
export function packOfPurchase(now: Pick<Act, "file">, purchaseId: number): number {
  const told = now.file.firstText<{ packId: number; cancelled: number }>(
    "SELECT pack_id AS packId, cancelled FROM purchase WHERE id = ?",
    [purchaseId],
  )
  if (told && told.cancelled === 0) return told.packId
  throw new Refusal("That purchase is not open any more. Choose another, or none.", { field: "purchaseId" })
}

function refuseWrongPurchase(now: Act, purchaseId: number, packId: number): void {
  if (packOfPurchase(now, purchaseId) === packId) return
  throw new Refusal("That purchase is of another pack. Choose another, or none.", { field: "purchaseId" })
}

/** One thing that was ordered, as far as a delivery goes. Packs throughout. */
export interface ExpectedLine extends Awaited {
  packId: number
  pack: string
  sellerId: number
  seller: string
  ordered: number
  /** with other deliveries, and with this one */
  cameBefore: number
  cameHere: number
  /** of what came here */
  damaged: number
  leaked: number
  /** other packs that came in its place */
  substituted: number
  /** beyond what was ordered */
  over: number
}

/** What is ordered and has not come, from anybody, the next expected first. */
export function expectedFromAll(studio: Studio): ExpectedLine[] {
  return expectedIn(studio, NO_DELIVERY, null).toSorted((a, b) =>
    a.expectedOn < b.expectedOn ? -1 : a.expectedOn > b.expectedOn ? 1 : 0,
  )
}

/** None has this number. */
const NO_DELIVERY = 0

/**
 * What a delivery should bring: purchases from its seller that are open or that it brought something of. What is
 * still to come stands first.
 *
 * @param sellerId null: from anybody
 */
export function expectedIn(studio: Studio, deliveryId: number, sellerId: number | null): ExpectedLine[] {
  const problem = (what: string) =>
    `coalesce((SELECT sum(x.count) FROM receipt_problem x WHERE x.purchase_id = w.purchaseId AND x.what = '${what}'
       AND x.delivery_id = :delivery AND ${stands("x.action_id")}), 0)`
  return studio.file.allText<ExpectedLine>(
    `SELECT w.purchaseId, max(w.missing, 0) AS missing, max(-w.missing, 0) AS over, w.expectedOn, w.packId, w.sellerId,
       k.name AS pack, s.name AS seller,
       p.count AS ordered, w.cameHere, p.count - w.missing - w.cameHere AS cameBefore,
       ${problem("damaged")} AS damaged, ${problem("leaked")} AS leaked, ${problem("substituted")} AS substituted
     FROM (SELECT a.*, coalesce((SELECT sum(l.count) FROM receipt_line l WHERE l.purchase_id = a.purchaseId
         AND l.delivery_id = :delivery AND ${stands("l.action_id")}), 0) AS cameHere FROM (${AWAITED}) a) w
       JOIN purchase p ON p.id = w.purchaseId JOIN pack k ON k.id = w.packId JOIN seller s ON s.id = w.sellerId
     WHERE (w.missing > 0 AND (:seller IS NULL OR w.sellerId = :seller)) OR w.cameHere > 0 OR damaged > 0
     ORDER BY w.missing <= 0, k.name COLLATE NOCASE, w.purchaseId`,
    { delivery: deliveryId, seller: sellerId },
  )
}
