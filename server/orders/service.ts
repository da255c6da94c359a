import type { OrderState } from "../../db/tables.ts"
import { sql } from "../../db/words.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"

export { assignCups, cupsToAssign, freeCups, sendCups } from "./cups.ts"
export { type LineState, type Order, orderById, ordersList } from "./list.ts"

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
}

export interface OrderInput {
  buyerId: number | null
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

/** The buyer with that name, kept now if it is a new one. */
export function buyerNamed(studio: Studio, name: string): number {
  return buyerCalled(studio, name.trim()) ?? addBuyer(studio, { name })
}

export function buyers(studio: Studio): { id: number; name: string; contact: string }[] {
  return studio.file.all(sql.selectFrom("buyer").select(["id", "name", "contact"]).orderBy("name"))
}

/**
 * Keeps an order: a draft is a question, a planned one a promise.
 *
 * @returns the order's id
 * @throws {Refusal} no lines, a line without cups, a due date that is past, a design that is not there
 */
export function addOrder(studio: Studio, input: OrderInput & { state: "draft" | "planned" }): number {
  const { file } = studio
  const today = todayOf(studio)
  return file.transaction(() => {
    refuseOddLines(studio, input.lines)
    for (const [index, line] of input.lines.entries()) refusePast(line, index, today)
    const orderId = file.insert("customer_order", {
      buyer_id: input.buyerId,
      state: input.state,
      taken_on: today,
      note: input.note,
    })
    for (const [index, line] of input.lines.entries()) insertLine(studio, orderId, index + 1, line)
    return orderId
  })
}

/**
 * Changes an open order: its lines become those given. A line that is left out goes, unless cups belong or
 * belonged to it; a due date that has passed since it was written may stay as it is.
 *
 * @throws {Refusal} no such order, a closed one, a line with cups taken out or given another design
 */
export function changeOrder(studio: Studio, orderId: number, input: OrderInput): void {
  const { file } = studio
  const today = todayOf(studio)
  file.transaction(() => {
    refuseClosed(studio, orderId)
    refuseOddLines(studio, input.lines)
    const known = new Map(
      file
        .all(sql.selectFrom("order_line").selectAll().where("order_id", "=", orderId))
        .map((l) => [l.id, l]),
    )
    const kept = new Set(input.lines.map((line) => line.lineId ?? 0))
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
    for (const [index, line] of input.lines.entries()) {
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
          })
          .where("id", "=", before.id),
      )
    }
    file.run(
      sql
        .updateTable("customer_order")
        .set({ buyer_id: input.buyerId, note: input.note })
        .where("id", "=", orderId),
    )
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
export function setOrderState(studio: Studio, orderId: number, state: OrderState): void {
  const { file } = studio
  file.transaction(() => {
    const order = file.first(sql.selectFrom("customer_order").select("state").where("id", "=", orderId))
    if (!order) throw new Refusal("There is no such order.", { status: 404 })
    if (order.state === state) return
    if (!NEXT[order.state].includes(state)) {
      throw new Refusal(`An order that is ${order.state} cannot become ${state}.`, { status: 409 })
    }
    file.run(sql.updateTable("customer_order").set({ state }).where("id", "=", orderId))
  })
}

function buyerCalled(studio: Studio, name: string): number | null {
  return (
    studio.file.firstText<{ id: number }>("SELECT id FROM buyer WHERE lower(name) = lower(?)", [name])?.id ??
    null
  )
}

function insertLine(studio: Studio, orderId: number, position: number, line: LineInput): void {
  studio.file.insert("order_line", {
    order_id: orderId,
    position,
    design_id: line.designId,
    quantity: line.quantity,
    due_on: line.dueOn,
    note: line.note,
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
