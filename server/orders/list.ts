import type { OrderState } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"

/** An order line and how far it is. A scrapped cup does not count for it; one that came back does, since another is made only when asked for. */
export interface LineState {
  lineId: number
  designId: number
  design: string
  quantity: number
  dueOn: IsoDate
  note: string
  /** of one cup; null: not said */
  priceMicro: number | null
  /** finished cups put on it, those sent left out */
  ready: number
  sent: number
  /** sent once and come back */
  cameBack: number
  inWork: number
  /** cups still to be started */
  toStart: number
}

export interface Order {
  orderId: number
  state: OrderState
  buyerId: number | null
  buyer: string | null
  contact: string
  takenOn: IsoDate
  note: string
  /** the earliest due date of its lines */
  dueOn: IsoDate
  lines: LineState[]
}

interface Row {
  order_id: number
  state: OrderState
  buyer_id: number | null
  buyer: string | null
  contact: string | null
  taken_on: string
  order_note: string
  line_id: number
  design_id: number
  design: string
  quantity: number
  due_on: string
  note: string
  price_micro: number | null
  ready: number
  sent: number
  came_back: number
  in_work: number
}

const LINES = `SELECT o.id AS order_id, o.state, o.buyer_id, b.name AS buyer, b.contact, o.taken_on, o.note AS order_note,
    l.id AS line_id, l.design_id, d.name AS design, l.quantity, l.due_on, l.note, l.price_micro,
    coalesce(sum(c.state IN ('good', 'second')), 0) AS ready, coalesce(sum(c.state = 'sent'), 0) AS sent,
    coalesce(sum(c.state = 'returned'), 0) AS came_back,
    coalesce(sum(c.state = 'in work'), 0) AS in_work
  FROM customer_order o JOIN order_line l ON l.order_id = o.id JOIN design d ON d.id = l.design_id
  LEFT JOIN buyer b ON b.id = o.buyer_id LEFT JOIN cup c ON c.order_line_id = l.id`

/** Orders by due date, the earliest first. @param states only orders in these; all when left out */
export function ordersList(studio: Studio, states?: readonly OrderState[]): Order[] {
  const wanted = states ?? ["draft", "planned", "done", "cancelled"]
  const rows = studio.file.allText<Row>(
    `${LINES} WHERE o.state IN (SELECT value FROM json_each(?)) GROUP BY l.id ORDER BY o.id, l.position`,
    [JSON.stringify(wanted)],
  )
  return ordersFrom(rows).sort((a, b) => compare(a.dueOn, b.dueOn) || a.orderId - b.orderId)
}

/** @throws {Refusal} no such order */
export function orderById(studio: Studio, orderId: number): Order {
  const rows = studio.file.allText<Row>(`${LINES} WHERE o.id = ? GROUP BY l.id ORDER BY l.position`, [
    orderId,
  ])
  const [order] = ordersFrom(rows)
  if (!order) throw new Refusal("There is no such order.", { status: 404 })
  return order
}

/** Sent whole; a cup that came back since was sent too. */
export function isAllSent(order: Order): boolean {
  return order.lines.every((line) => line.sent + line.cameBack >= line.quantity)
}

/** What an order is to a person: one sent whole is sent, also while nobody closed it. */
export function orderChip(order: Order): OrderState | "sent" | "came back" {
  if (order.state !== "planned" || !isAllSent(order)) return order.state
  return order.lines.some((line) => line.sent > 0) ? "sent" : "came back"
}

function ordersFrom(rows: readonly Row[]): Order[] {
  const orders = new Map<number, Order>()
  for (const row of rows) {
    const order = orders.get(row.order_id) ?? {
      orderId: row.order_id,
      state: row.state,
      buyerId: row.buyer_id,
      buyer: row.buyer,
      contact: row.contact ?? "",
      takenOn: row.taken_on,
      note: row.order_note,
      dueOn: row.due_on,
      lines: [],
    }
    orders.set(row.order_id, order)
    if (row.due_on < order.dueOn) order.dueOn = row.due_on
    order.lines.push({
      lineId: row.line_id,
      designId: row.design_id,
      design: row.design,
      quantity: row.quantity,
      dueOn: row.due_on,
      note: row.note,
      priceMicro: row.price_micro,
      ready: row.ready,
      sent: row.sent,
      cameBack: row.came_back,
      inWork: row.in_work,
      toStart: Math.max(0, row.quantity - row.ready - row.sent - row.came_back - row.in_work),
    })
  }
  return [...orders.values()]
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}
