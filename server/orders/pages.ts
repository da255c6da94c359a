import { stillCuring } from "../batches/service.ts"
import { designs } from "../designs/service.ts"
import { plainMoney } from "../domain/money.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { type FormState, rowsTyped } from "../web/forms.ts"
import type { Typed } from "../web/nest.ts"
import { buyers, cupsToAssign, isAllSent, type Order, orderById, orderChip, ordersList } from "./service.ts"

const SPARE_LINES = 3
const PAST_SHOWN = 30

/** Open orders by due date, then those that are sent whole or closed. */
export function listPage(studio: Studio) {
  const today = todayOf(studio)
  const all = ordersList(studio).map((order) => summed(order, today))
  const open = all.filter((order) => order.isOpen)
  const past = all
    .filter((order) => !order.isOpen)
    .toReversed()
    .slice(0, PAST_SHOWN)
  const planned = open.filter((order) => order.state === "planned")
  const drafts = open.length - planned.length
  const toMake = planned.reduce((sum, order) => sum + order.left, 0)
  return {
    title: "Orders",
    lead:
      open.length === 0
        ? "No order is open."
        : `${count(planned.length, "planned order")} with ${count(toMake, "cup")} still to finish` +
          (drafts > 0 ? `, and ${count(drafts, "draft")}.` : "."),
    open,
    past,
    isEmpty: open.length === 0 && past.length === 0,
    hasDesigns: designs(studio).length > 0,
  }
}

function summed(order: Order, today: string) {
  const sum = (of: (line: Order["lines"][number]) => number) =>
    order.lines.reduce((n, line) => n + of(line), 0)
  const waits = (order.state === "planned" || order.state === "draft") && !isAllSent(order)
  return {
    ...order,
    chip: orderChip(order),
    name: nameOf(order),
    says: order.lines.map((line) => `${line.quantity} × ${line.design}`).join(", "),
    cups: sum((line) => line.quantity),
    left: sum((line) => line.toStart + line.inWork),
    isOpen: waits,
    overdue: waits && order.dueOn < today,
  }
}

function nameOf(order: Order): string {
  return `Order ${order.orderId}${order.buyer === null ? "" : ` for ${order.buyer}`}`
}

export function newPage(studio: Studio, state: FormState | null) {
  return editPage(studio, state, {
    title: "New order",
    back: { to: "/orders", label: "Orders" },
    isNew: true,
    buyer: "",
    note: "",
    saved: [],
    button: "Keep the order",
  })
}

export function changePage(studio: Studio, orderId: number, state: FormState | null) {
  const order = orderById(studio, orderId)
  return editPage(studio, state, {
    title: `Change order ${orderId}`,
    back: { to: `/orders/${orderId}`, label: nameOf(order) },
    isNew: false,
    buyer: order.buyer ?? "",
    note: order.note,
    saved: order.lines,
    button: "Keep the changes",
  })
}

function editPage(
  studio: Studio,
  state: FormState | null,
  page: {
    title: string
    back: { to: string; label: string }
    isNew: boolean
    buyer: string
    note: string
    saved: readonly Order["lines"][number][]
    button: string
  },
) {
  const today = todayOf(studio)
  const typed = rowsTyped(state, "lines") ?? []
  // a spare line that was left empty comes back too and stays under the fold
  const filled = Math.max(page.saved.length, typed.findLastIndex(isFilled) + 1)
  const rows = Math.max(typed.length, filled, page.saved.length + SPARE_LINES)
  const lines = Array.from({ length: rows }, (_, index) => {
    const saved = page.saved[index]
    return {
      index,
      nth: index + 1,
      optional: index > 0,
      lineId: saved?.lineId ?? "",
      designId: saved?.designId ?? "",
      quantity: saved?.quantity ?? "",
      dueOn: saved?.dueOn ?? "",
      note: saved?.note ?? "",
      price: saved === undefined || saved.priceMicro === null ? "" : plainMoney(saved.priceMicro),
    }
  })
  const { saved: _saved, ...shown } = page
  return {
    ...shown,
    today,
    currency: settingsOf(studio).currency,
    designs: designs(studio).map((design) => ({
      id: design.designId,
      name: `${design.name} (${design.blank})`,
    })),
    buyers: buyers(studio).map((buyer) => buyer.name),
    /** the first line stands open, further ones wait under a fold */
    first: lines.slice(0, Math.max(1, filled)),
    more: lines.slice(Math.max(1, filled)),
  }
}

/** Whether anything was put into a line that was sent. */
function isFilled(line: Typed): boolean {
  return Object.values(line).some((value) => typeof value === "string" && value.trim() !== "")
}

export function orderPage(studio: Studio, orderId: number, state: FormState | null) {
  const today = todayOf(studio)
  const order = orderById(studio, orderId)
  const isOpen = order.state === "planned" || order.state === "draft"
  const chosen = state?.values.what?.includes("send") ? (state.values.cupIds ?? []) : null
  const lines = order.lines.map((line) => {
    const { on, free } = cupsToAssign(studio, line)
    const ready = on.filter((cup) => cup.state === "good" || cup.state === "second")
    const isAsked = chosen !== null && ready.some((cup) => chosen.includes(String(cup.id)))
    const curing = stillCuring(
      studio,
      ready.map((cup) => cup.id),
    )
    const has = line.ready + line.sent + line.cameBack + line.inWork
    return {
      ...line,
      has,
      left: Math.max(0, line.quantity - has),
      overdue: isOpen && line.dueOn < today && line.sent + line.cameBack < line.quantity,
      sentCups: on.filter((cup) => cup.state === "sent"),
      backCups: on.filter((cup) => cup.state === "returned"),
      inWorkCups: on.filter((cup) => cup.state === "in work"),
      readyCups: ready.map((cup) => ({
        ...cup,
        curedAt: curing.get(cup.id) ?? null,
        ticked: !isAsked || chosen.includes(String(cup.id)),
      })),
      someCure: curing.size > 0,
      // the second tap, once it was said
      sendHeld: isAsked && ready.some((cup) => cup.held.length > 0 && chosen.includes(String(cup.id))),
      freeCups: isOpen && has < line.quantity ? free : [],
      // good ones of no held lot, as many as the line lacks: put on it with one tap
      atOnce: isOpen ? atOnce(free, line.quantity - has) : [],
      canStart: isOpen && line.toStart > 0,
    }
  })
  return {
    title: nameOf(order),
    lead: leadOf(order, lines),
    back: { to: "/orders", label: "Orders" },
    order,
    path: `/orders/${orderId}`,
    isOpen,
    isDraft: order.state === "draft",
    isPlanned: order.state === "planned",
    // planned and not all begun: what it still needs may have to be bought
    asksForMore: order.state === "planned" && lines.some((line) => line.toStart > 0),
    callOff: order.state === "draft" ? "Discard the draft" : "Cancel the order",
    allSent: isAllSent(order),
    lines,
  }
}

function atOnce(free: ReturnType<typeof cupsToAssign>["free"], lacking: number): number[] {
  const good = free.filter((cup) => cup.state === "good" && cup.held.length === 0)
  return good.slice(0, Math.max(0, lacking)).map((cup) => cup.id)
}

function leadOf(order: Order, lines: readonly Order["lines"][number][]): string {
  const sum = (of: (line: Order["lines"][number]) => number) => lines.reduce((n, line) => n + of(line), 0)
  const asked = sum((line) => line.quantity)
  const parts = [
    [sum((line) => line.sent), "sent"],
    [sum((line) => line.ready), "ready"],
    [sum((line) => line.cameBack), "come back"],
    [sum((line) => line.inWork), "in work"],
    [sum((line) => line.toStart), "to start"],
  ] as const
  const told = parts.filter(([n]) => n > 0).map(([n, word]) => `${n} ${word}`)
  const state = {
    draft: "A draft",
    planned: "Planned",
    done: "Done",
    cancelled: "Cancelled",
    sent: "Sent",
    "came back": "Came back",
  }[orderChip(order)]
  return `${state}: ${count(asked, "cup")}, ${told.join(", ")}.`
}

function count(n: number, one: string): string {
  return `${n.toLocaleString("en-US")} ${n === 1 ? one : `${one}s`}`
}
