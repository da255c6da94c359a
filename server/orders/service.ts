import type { OrderState } from "../../db/tables.ts"
import { sql } from "../../db/words.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { changed, made } from "../ledger/row-change.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { type Order, orderById } from "./list.ts"

export {
  assignCups,
  cupsToAssign,
  type FreeFinished,
  freeCups,
  freeFinished,
  returnCups,
  sendCups,
} from "./cups.ts"
export { isAllSent, type LineState, type Order, orderById, orderChip, ordersList } from "./list.ts"

export interface BuyerInput {
  name: string
  contact?: string
}

export interface LineInput {
  /** a line that is there already; left out for a new one */
  lineId?: number | null
  designId: number
  quantity: number
  dueOn: IsoDate
  note: string
  /** of one cup; null: as the design says; left out: a line that is there keeps the one it has */
  priceMicro?: number | null
}

export interface OrderInput {
  buyerId: number | null
  /** in place of the id: a buyer by name, kept now if it is a new one */
  buyerName?: string
  note: string
  lines: readonly LineInput[]
}

/** Keeps a buyer. @returns its id. @throws {Refusal} a name that is taken or missing */
export function addBuyer(studio: Studio, input: BuyerInput): number {
  const name = input.name.trim()
  if (name === "") throw new Refusal("Write the buyer's name.", { field: "buyer" })
  return studio.file.transaction(() => {
    if (buyerCalled(studio, name) !== null) {
      throw new Refusal(`There is already a buyer called ${name}.`, { field: "buyer" })
    }
    return studio.file.insert("buyer", { name, contact: (input.contact ?? "").trim() })
  })
}

export function buyers(studio: Studio): { id: number; name: string; contact: string }[] {
  return studio.file.all(sql.selectFrom("buyer").select(["id", "name", "contact"]).orderBy("name"))
}

/**
 * Keeps an order: a draft is a question, a planned one a promise.
 *
 * @throws {Refusal} no lines, a line without cups, a due date that is past, a design that is not there
 */
export function addOrder(
  studio: Studio,
  by: Actor,
  input: OrderInput & { state: "draft" | "planned" },
): Done<{ orderId: number }> {
  const { file } = studio
  return act(studio, "order", by, input, (now) => {
    const today = todayOf(studio)
    refuseOddLines(studio, input.lines)
    for (const [index, line] of input.lines.entries()) refusePast(line, index, today)
    const buyerId = buyerFor(studio, now, input)
    const orderId = made(now, "order", () => {
      const id = file.insert("customer_order", {
        buyer_id: buyerId,
        state: input.state,
        taken_on: today,
        note: input.note,
      })
      for (const [index, line] of input.lines.entries()) insertLine(studio, id, index + 1, line)
      return id
    })
    const verb = input.state === "draft" ? "Kept as a draft:" : "Took"
    const order = orderById(studio, orderId)
    return { summary: `${verb} ${orderName(order)}: ${linesInWords(order)}`, answer: { orderId } }
  })
}

/**
 * Changes an open order: its lines become those given. A line that is left out goes, unless cups belong or
 * belonged to it; a due date that has passed since it was written may stay as it is.
 *
 * @throws {Refusal} no such order, a closed one, a line with cups taken out or given another design
 */
export function changeOrder(
  studio: Studio,
  by: Actor,
  orderId: number,
  input: OrderInput,
): Done<{ orderId: number }> {
  return act(studio, "change order", by, { orderId, ...input }, (now) => {
    refuseClosed(studio, orderId)
    refuseOddLines(studio, input.lines)
    const buyerId = buyerFor(studio, now, input)
    changed(now, "order", orderId, () => {
      writeLines(studio, orderId, input.lines)
      studio.file.run(
        sql
          .updateTable("customer_order")
          .set({ buyer_id: buyerId, note: input.note })
          .where("id", "=", orderId),
      )
    })
    const order = orderById(studio, orderId)
    return { summary: `Changed ${orderName(order)}: ${linesInWords(order)}`, answer: { orderId } }
  })
}

/** Which states an order may go to from each. What is sent or called off can be taken up again. */
const NEXT: Record<OrderState, readonly OrderState[]> = {
  draft: ["planned", "cancelled"],
  planned: ["draft", "done", "cancelled"],
  done: ["planned"],
  cancelled: ["draft", "planned"],
}

/** @throws {Refusal} no such order, or a step that makes no sense */
export function setOrderState(
  studio: Studio,
  by: Actor,
  orderId: number,
  state: OrderState,
): Done<{ orderId: number }> {
  return act(studio, "order state", by, { orderId, state }, (now) => {
    const order = orderById(studio, orderId)
    if (order.state !== state && !NEXT[order.state].includes(state)) {
      throw new Refusal(`An order that is ${order.state} cannot become ${state}.`, { status: 409 })
    }
    changed(now, "order", orderId, () => {
      studio.file.run(sql.updateTable("customer_order").set({ state }).where("id", "=", orderId))
    })
    return { summary: stepInWords(order, state), answer: { orderId } }
  })
}

function stepInWords(order: Order, state: OrderState): string {
  const name = orderName(order)
  switch (state) {
    case "draft":
      return `Made ${name} a draft again`
    case "planned":
      return order.state === "draft" ? `Planned ${name}` : `Took ${name} up again`
    case "done":
      return `Closed ${name} as done`
    case "cancelled":
      return order.state === "draft" ? `Discarded ${name}, a draft` : `Cancelled ${name}`
  }
}

/** "order 12 for Tess Wilder" */
export function orderName({ orderId, buyer }: Order): string {
  return `order ${orderId}${buyer === null ? "" : ` for ${buyer}`}`
}

function linesInWords({ lines }: Order): string {
  const told = lines.slice(0, 3).map((line) => `${line.quantity} × ${line.design}`)
  const more = lines.length - told.length
  return `${told.join(", ")}${more > 0 ? ` and ${more} more ${more === 1 ? "line" : "lines"}` : ""}`
}

function buyerFor(studio: Studio, now: Act, { buyerId, buyerName = "" }: OrderInput): number | null {
  const name = buyerName.trim()
  if (name === "") return buyerId
  return buyerCalled(studio, name) ?? made(now, "buyer", () => addBuyer(studio, { name }))
}

function buyerCalled(studio: Studio, name: string): number | null {
  return (
    studio.file.firstText<{ id: number }>("SELECT id FROM buyer WHERE lower(name) = lower(?)", [name])?.id ??
    null
  )
}

/** Makes an order's lines those given. */
function writeLines(studio: Studio, orderId: number, lines: readonly LineInput[]): void {
  const { file } = studio
  const today = todayOf(studio)
  const known = new Map(
    file.all(sql.selectFrom("order_line").selectAll().where("order_id", "=", orderId)).map((l) => [l.id, l]),
  )
  const kept = new Set(lines.map((line) => line.lineId ?? 0))
  for (const line of known.values()) {
    if (kept.has(line.id)) continue
    refuseWithCups(
      studio,
      line.id,
      "This line has cups, so it stays. Take its cups off it and put 1 instead.",
    )
    file.run(sql.deleteFrom("order_line").where("id", "=", line.id))
  }
  // out of the way first: positions are unique
  file.runText("UPDATE order_line SET position = -position WHERE order_id = ?", [orderId])
  for (const [index, line] of lines.entries()) {
    const before = line.lineId ? known.get(line.lineId) : undefined
    if (line.lineId && !before) {
      throw new Refusal("That line is not in this order any more.", { status: 404 })
    }
    if (!before) {
      refusePast(line, index, today)
      insertLine(studio, orderId, index + 1, line)
      continue
    }
    if (before.due_on !== line.dueOn) refusePast(line, index, today)
    if (before.design_id !== line.designId) {
      refuseWithCups(
        studio,
        before.id,
        "This line has cups of its design. Add another line for the other design.",
      )
    }
    file.run(
      sql
        .updateTable("order_line")
        .set({
          position: index + 1,
          design_id: line.designId,
          quantity: line.quantity,
          due_on: line.dueOn,
          note: line.note,
          ...(line.priceMicro === undefined ? {} : { price_micro: line.priceMicro }),
        })
        .where("id", "=", before.id),
    )
  }
}

function insertLine(studio: Studio, orderId: number, position: number, line: LineInput): void {
  studio.file.insert("order_line", {
    order_id: orderId,
    position,
    design_id: line.designId,
    quantity: line.quantity,
    due_on: line.dueOn,
    note: line.note,
    price_micro: line.priceMicro ?? null,
  })
}

function refuseOddLines(studio: Studio, lines: readonly LineInput[]): void {
  if (lines.length === 0) {
    throw new Refusal("An order needs at least one line: a design, how many, and when.", { field: "lines" })
  }
  for (const [index, line] of lines.entries()) {
    if (!Number.isSafeInteger(line.quantity) || line.quantity < 1) {
      throw new Refusal("How many must be a whole number of cups, at least 1.", {
        field: `lines[${index}][quantity]`,
      })
    }
    const design = sql.selectFrom("design").select("id").where("id", "=", line.designId)
    if (!studio.file.first(design)) {
      throw new Refusal("Choose the design that is ordered.", { field: `lines[${index}][designId]` })
    }
  }
}

function refusePast(line: LineInput, index: number, today: IsoDate): void {
  if (line.dueOn < today) {
    throw new Refusal("That due date has passed. Put today or a later day.", {
      field: `lines[${index}][dueOn]`,
    })
  }
}

function refuseClosed(studio: Studio, orderId: number): void {
  const order = studio.file.first(sql.selectFrom("customer_order").select("state").where("id", "=", orderId))
  if (!order) throw new Refusal("There is no such order.", { status: 404 })
  if (order.state === "done" || order.state === "cancelled") {
    throw new Refusal(`This order is ${order.state}. Set it to planned first.`, { status: 409 })
  }
}

/** Cups keep the history of what they were for, so a line they name is not taken away under them. */
function refuseWithCups(studio: Studio, lineId: number, sentence: string): void {
  const has = studio.file.firstText(
    "SELECT 1 FROM cup WHERE order_line_id = ? UNION ALL SELECT 1 FROM cup_change WHERE order_line_id = ? LIMIT 1",
    [lineId, lineId],
  )
  if (has) throw new Refusal(sentence, { status: 409, field: "lines" })
}
