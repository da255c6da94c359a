import { type IsoDate, parseDate, sayDate } from "../domain/dates.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { changed, made } from "../ledger/row-change.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { addSeller, sellers } from "../supplies/service.ts"
import { shareExtras, takeBackExtras } from "./extras.ts"

/** What came in one go, from one seller. */
export interface Delivery {
  id: number
  sellerId: number | null
  seller: string | null
  receivedOn: IsoDate
  kind: "bought" | "opening"
  note: string
  closed: boolean
  /** of the whole delivery, shared out over what was taken in when it is finished */
  shippingMicro: number
  taxMicro: number
}

const DELIVERY = `SELECT d.id, d.seller_id AS sellerId, s.name AS seller, d.received_on AS receivedOn, d.kind, d.note, d.closed,
    d.shipping_micro AS shippingMicro, d.tax_micro AS taxMicro
  FROM delivery d LEFT JOIN seller s ON s.id = d.seller_id`

export interface DeliveryInput {
  sellerId: number | null
  /** in place of the id: a seller nobody knew, added now */
  newSeller?: { name: string; leadTimeDays: number }
  receivedOn: IsoDate
  note: string
}

/**
 * Begins a delivery; its lines are added one by one with `receive`.
 *
 * @throws {Refusal} no such seller; a day that is still to come
 */
export function startDelivery(studio: Studio, by: Actor, input: DeliveryInput): Done<{ deliveryId: number }> {
  return act(studio, "begin delivery", by, input, (now) => {
    const today = todayOf(studio)
    const day = parseDate(input.receivedOn)
    if (!day.ok) throw new Refusal(day.message, { field: "receivedOn" })
    if (day.date > today) {
      throw new Refusal(
        `${sayDate(day.date, today)} is still to come. Put the day on which the delivery came.`,
        { field: "receivedOn" },
      )
    }
    if (input.sellerId !== null) refuseUnknownSeller(studio, input.sellerId)
    const sellerId = input.newSeller ? sellerNamed(studio, now, input.newSeller) : input.sellerId
    const deliveryId = made(now, "delivery", () =>
      studio.file.insert("delivery", {
        seller_id: sellerId,
        received_on: day.date,
        kind: "bought",
        note: input.note,
      }),
    )
    const delivery = deliveryById(studio, deliveryId)
    return { summary: `Began ${deliveryName(delivery, today)}`, answer: { deliveryId } }
  })
}

function sellerNamed(studio: Studio, now: Act, seller: { name: string; leadTimeDays: number }): number {
  const name = seller.name.toLowerCase()
  const known = sellers(studio).find((one) => one.name.toLowerCase() === name)
  return known?.id ?? made(now, "seller", () => addSeller(studio, seller))
}

/** "the delivery of Tue 1 Dec from Near & Co" */
function deliveryName({ seller, receivedOn }: Delivery, today: IsoDate): string {
  return `the delivery of ${sayDate(receivedOn, today)}${seller === null ? "" : ` from ${seller}`}`
}

/** Deliveries that are not finished, the one begun last first, with how far each is. */
export function openDeliveries(studio: Studio): (Delivery & { lines: number; device: string | null })[] {
  return studio.file
    .allText<DeliveryRow & { lines: number; device: string | null }>(
      `SELECT x.*, (SELECT count(*) FROM receipt_line l WHERE l.delivery_id = x.id
           AND ${stands("l.action_id")}) AS lines,
         (SELECT a.device FROM row_change c JOIN action a ON a.id = c.action_id
          WHERE c.thing = 'delivery' AND c.thing_id = x.id AND c.before IS NULL ORDER BY c.id DESC LIMIT 1) AS device
       FROM (${DELIVERY} WHERE d.closed = 0 AND d.kind = 'bought') x ORDER BY x.id DESC`,
    )
    .map(({ lines, device, ...row }) => ({ ...deliveryOf(row), lines, device }))
}

/** The delivery that was begun last and is not closed, or null. */
export function openDelivery(studio: Studio): Delivery | null {
  return openDeliveries(studio)[0] ?? null
}

/** The last deliveries that were bought, the newest first. */
export function recentDeliveries(studio: Studio): Delivery[] {
  return studio.file
    .allText<DeliveryRow>(`${DELIVERY} WHERE d.kind = 'bought' ORDER BY d.id DESC LIMIT 5`)
    .map(deliveryOf)
}

/** What was put in as on the shelf on the first day, by the day it stands under, the newest first. */
export function openingDeliveries(studio: Studio): Delivery[] {
  return studio.file
    .allText<DeliveryRow>(`${DELIVERY} WHERE d.kind = 'opening' ORDER BY d.id DESC`)
    .map(deliveryOf)
}

/** @throws {Refusal} 404 when there is none with that id */
export function deliveryById(studio: Studio, deliveryId: number): Delivery {
  const row = studio.file.firstText<DeliveryRow>(`${DELIVERY} WHERE d.id = ?`, [deliveryId])
  if (!row) throw new Refusal("There is no such delivery.", { status: 404 })
  return deliveryOf(row)
}

/** What a whole delivery cost besides its packs. */
export interface Extras {
  shippingMicro: number
  taxMicro: number
}

/**
 * Closes a delivery: nothing is added to it any more, and its shipping and tax are shared out over what was taken
 * in. Closing again changes nothing.
 *
 * @param extras left out: as they were put in before
 * @throws {Refusal} costs to share out, and nothing that was taken in
 */
export function closeDelivery(
  studio: Studio,
  by: Actor,
  deliveryId: number,
  extras?: Extras,
): Done<{ deliveryId: number }> {
  return act(studio, "finish delivery", by, { deliveryId, ...extras }, (now) => {
    const delivery = deliveryById(studio, deliveryId)
    const { shippingMicro, taxMicro } = extras ?? delivery
    const name = deliveryName(delivery, todayOf(studio))
    if (delivery.closed) return { summary: `Finished ${name}`, answer: { deliveryId } }
    changed(now, "delivery", deliveryId, () => {
      studio.file.runText("UPDATE delivery SET closed = 1, shipping_micro = ?, tax_micro = ? WHERE id = ?", [
        shippingMicro,
        taxMicro,
        deliveryId,
      ])
    })
    shareExtras(now, deliveryId, shippingMicro + taxMicro)
    return { summary: `Finished ${name}`, answer: { deliveryId } }
  })
}

/** Opens a closed delivery again: something was forgotten. Its costs are shared out anew when it is finished. */
export function reopenDelivery(studio: Studio, by: Actor, deliveryId: number): Done<{ deliveryId: number }> {
  return act(studio, "reopen delivery", by, { deliveryId }, (now) => {
    const delivery = deliveryById(studio, deliveryId)
    changed(now, "delivery", deliveryId, () => {
      studio.file.runText("UPDATE delivery SET closed = 0 WHERE id = ?", [deliveryId])
    })
    takeBackExtras(now, deliveryId)
    return { summary: `Opened ${deliveryName(delivery, todayOf(studio))} again`, answer: { deliveryId } }
  })
}

/** One line of a delivery: so many of a pack, its lots, and the containers it became. */
export interface DeliveryLine {
  lineId: number
  actionId: number
  /** what was received, in the words of the history */
  summary: string
  /** the pack's name; of opening stock the supply's */
  name: string
  count: number
  /** of one pack */
  priceMicro: number
  undone: boolean
  /** of a pack, so that the same can be taken in again */
  isPack: boolean
  /** it leaked, or came in place of another */
  otherwise: string | null
  containers: LineContainer[]
}

/** A container of a line, and the lot on its label. */
interface LineContainer {
  code: string
  supply: string
  /** what was in it, in base units */
  came: number
  baseUnit: BaseUnit
  lotNumber: string | null
  expiresOn: IsoDate | null
  /** that day has passed */
  expired: boolean
}

/** The lines of a delivery, the newest first. */
export function deliveryLines(studio: Studio, deliveryId: number): DeliveryLine[] {
  const rows = studio.file.allText<LineRow>(
    `SELECT l.id AS lineId, l.action_id AS actionId, a.summary, p.name AS pack, l.count, l.price_micro AS priceMicro,
       EXISTS (SELECT 1 FROM action r WHERE r.reverses_action_id = l.action_id) AS undone,
       (SELECT group_concat(x.what, ', ') FROM receipt_problem x WHERE x.line_id = l.id) AS otherwise
     FROM receipt_line l JOIN action a ON a.id = l.action_id LEFT JOIN pack p ON p.id = l.pack_id
     WHERE l.delivery_id = ? ORDER BY l.id DESC`,
    [deliveryId],
  )
  const containers = studio.file.allText<Omit<LineContainer, "expired"> & { lineId: number }>(
    `SELECT c.receipt_line_id AS lineId, c.code, s.name AS supply, s.base_unit AS baseUnit, t.number AS lotNumber, t.expires_on AS expiresOn,
       (SELECT m.amount FROM movement m WHERE m.container_id = c.id AND m.kind = 'receive') AS came
     FROM receipt_line l JOIN container c ON c.receipt_line_id = l.id JOIN supply s ON s.id = c.supply_id
     JOIN lot t ON t.id = c.lot_id WHERE l.delivery_id = ? ORDER BY c.id`,
    [deliveryId],
  )
  const byLine = new Map<number, LineContainer[]>()
  const today = todayOf(studio)
  for (const { lineId, ...container } of containers) {
    const expired = !isUsableOn(container.expiresOn, today)
    byLine.set(lineId, [...(byLine.get(lineId) ?? []), { ...container, expired }])
  }
  return rows.map(({ pack, undone, ...row }) => {
    const own = byLine.get(row.lineId) ?? []
    return {
      ...row,
      name: pack ?? own[0]?.supply ?? "",
      isPack: pack !== null,
      undone: undone === 1,
      containers: own,
    }
  })
}

interface DeliveryRow extends Omit<Delivery, "closed"> {
  closed: number
}

interface LineRow extends Omit<DeliveryLine, "name" | "undone" | "isPack" | "containers"> {
  pack: string | null
  undone: number
}

function deliveryOf(row: DeliveryRow): Delivery {
  return { ...row, closed: row.closed === 1 }
}

function refuseUnknownSeller(studio: Studio, sellerId: number): void {
  if (studio.file.firstText("SELECT 1 FROM seller WHERE id = ?", [sellerId])) return
  throw new Refusal("That seller is not in the book. Choose another.", { field: "sellerId" })
}
