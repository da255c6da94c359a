import type { IsoDate } from "../domain/dates.ts"
import type { Studio } from "../ledger/studio.ts"
import {
  type FreeFinished,
  freeFinished,
  type LineState,
  type Order,
  orderById,
  ordersList,
} from "../orders/service.ts"
import type { Asked } from "./asked.ts"

/** Finished cups of one design that are for nobody, while an order still waits for such cups. */
export interface CupsThere {
  design: string
  /** good ones */
  free: number
  seconds: number
  /** open order lines that could take them, the first due first */
  lines: {
    orderId: number
    buyer: string | null
    lineId: number
    dueOn: IsoDate
    /** good ones it could take at once */
    cupIds: number[]
  }[]
  /** asked about by an order that is kept nowhere yet */
  forTyped: boolean
}

/**
 * Finished cups that no order has and that the planned orders still want made; with an order that is asked about, those
 * of its designs alone, its own lines first. A forecast counts them for nobody: whether an order takes them is for the
 * person to say.
 */
export function cupsThere(studio: Studio, asked: Asked): CupsThere[] {
  const planned = wanting(ordersList(studio, ["planned"]))
  const own = asked.kind === "draft" ? wanting([orderById(studio, asked.orderId)]) : []
  const typed = asked.kind === "typed" ? [asked.line.designId] : []
  const about = own.length + typed.length > 0 ? [...own.map(designOf), ...typed] : planned.map(designOf)
  const lines = [...own, ...planned.filter(({ line }) => own.every((one) => one.line.lineId !== line.lineId))]
  return [...freeFinished(studio, [...new Set(about)])].map(([designId, cups]) => ({
    design: cups.design,
    free: cups.cupIds.length,
    seconds: cups.seconds,
    lines: lines
      .filter(({ line }) => line.designId === designId)
      .map(({ order, line }) => lineView(order, line, cups)),
    forTyped: typed.includes(designId),
  }))
}

interface Wanting {
  order: Order
  line: LineState
}

/** Lines of open orders with cups still to start. */
function wanting(orders: readonly Order[]): Wanting[] {
  return orders
    .filter(({ state }) => state === "planned" || state === "draft")
    .flatMap((order) => order.lines.filter((line) => line.toStart > 0).map((line) => ({ order, line })))
}

function designOf({ line }: Wanting): number {
  return line.designId
}

function lineView(
  { orderId, buyer }: Order,
  { lineId, dueOn, toStart }: LineState,
  { cupIds }: FreeFinished,
) {
  return { orderId, buyer, lineId, dueOn, cupIds: cupIds.slice(0, toStart) }
}
