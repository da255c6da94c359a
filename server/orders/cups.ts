import type { CupState } from "../../db/tables.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { changeCup } from "../ledger/cups.ts"
import { changed } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import { heldLotsOn, heldWords } from "../tracing/service.ts"

interface CupRow {
  id: number
  serial: string
  state: CupState
  order_line_id: number | null
  design_id: number
  design: string
}

const CUP = `SELECT c.id, c.serial, c.state, c.order_line_id, v.design_id, d.name AS design
  FROM cup c JOIN batch b ON b.id = c.batch_id JOIN design_version v ON v.id = b.version_id
  JOIN design d ON d.id = v.design_id WHERE c.state IS NOT NULL`

/**
 * Puts cups on an order line: finished ones, or ones still in work. What a cup was for before stays in the
 * history.
 *
 * @throws {Refusal} a closed order, more cups than the line asks for, a cup that is scrapped, sent, of another
 *   design or for another order
 */
export function assignCups(
  studio: Studio,
  by: Actor,
  input: { orderLineId: number; cupIds: readonly number[] },
): Done<{ orderId: number; serials: string[] }> {
  return act(studio, "assign", by, input, (now) => {
    const line = openLine(studio, input.orderLineId)
    const cups = cupsChosen(studio, input.cupIds)
    for (const cup of cups) {
      if (cup.state !== "good" && cup.state !== "second" && cup.state !== "in work") {
        throw new Refusal(`Cup ${cup.serial} is ${cup.state}, so it cannot go on an order.`, {
          field: "cupIds",
        })
      }
      if (cup.order_line_id !== null) {
        const where = cup.order_line_id === input.orderLineId ? "on this line already" : "for another order"
        throw new Refusal(`Cup ${cup.serial} is ${where}.`, { status: 409, field: "cupIds" })
      }
      if (cup.design_id !== line.design_id) {
        throw new Refusal(`Cup ${cup.serial} is ${cup.design}; this line asks for ${line.design}.`, {
          field: "cupIds",
        })
      }
    }
    const room = line.quantity - line.has
    if (cups.length > room) {
      throw new Refusal(
        room <= 0
          ? "This line has all its cups."
          : `This line has room for ${room} more; ${cups.length} were chosen.`,
        { field: "cupIds" },
      )
    }
    for (const cup of cups) changeCup(now, cup.id, { orderLineId: input.orderLineId })
    const serials = cups.map((cup) => cup.serial)
    return {
      summary: `Put ${serials.join(", ")} on order ${line.order_id}`,
      answer: { orderId: line.order_id, serials },
    }
  })
}

/** Takes cups off the order they are for. @throws {Refusal} a cup that is for none, or sent */
export function freeCups(studio: Studio, by: Actor, cupIds: readonly number[]): Done<{ serials: string[] }> {
  return act(studio, "free", by, { cupIds }, (now) => {
    const cups = cupsChosen(studio, cupIds)
    for (const cup of cups) {
      if (cup.order_line_id === null) {
        throw new Refusal(`Cup ${cup.serial} is not on an order.`, { status: 409, field: "cupIds" })
      }
      if (cup.state === "sent") {
        throw new Refusal(`Cup ${cup.serial} is sent. Undo the sending first.`, {
          status: 409,
          field: "cupIds",
        })
      }
      changeCup(now, cup.id, { orderLineId: null })
    }
    const serials = cups.map((cup) => cup.serial)
    return { summary: `Took ${serials.join(", ")} off the order`, answer: { serials } }
  })
}

/**
 * Marks finished cups as sent to the buyer of their order.
 *
 * @param heldToo cups of a held lot go too: whoever sends them was told
 * @throws {Refusal} a cup unfinished or on no order; one of a held lot, unless those go too
 */
export function sendCups(
  studio: Studio,
  by: Actor,
  cupIds: readonly number[],
  heldToo = false,
): Done<{ serials: string[] }> {
  return act(studio, "send", by, { cupIds, ...(heldToo && { heldToo }) }, (now) => {
    const cups = cupsChosen(studio, cupIds)
    if (!heldToo) refuseHeld(studio, cups)
    for (const cup of cups) {
      if (cup.state !== "good" && cup.state !== "second") {
        throw new Refusal(`Cup ${cup.serial} is ${cup.state}; only finished cups are sent.`, {
          status: 409,
          field: "cupIds",
        })
      }
      if (cup.order_line_id === null) {
        throw new Refusal(`Put cup ${cup.serial} on an order first, so that it is known where it went.`, {
          field: "cupIds",
        })
      }
      changeCup(now, cup.id, { state: "sent" })
    }
    const serials = cups.map((cup) => cup.serial)
    return { summary: `Sent ${serials.join(", ")}`, answer: { serials } }
  })
}

/**
 * Marks sent cups as come back. Each keeps the order it was for and still counts for its line: whether another is made
 * in its place is for the person to say.
 *
 * @param makeAnother asks for one more cup on the line of each, and takes a closed order up again
 * @throws {Refusal} a cup that was not sent
 */
export function returnCups(
  studio: Studio,
  by: Actor,
  cupIds: readonly number[],
  makeAnother = false,
): Done<{ serials: string[] }> {
  return act(studio, "return", by, makeAnother ? { cupIds, makeAnother } : { cupIds }, (now) => {
    const cups = cupsChosen(studio, cupIds)
    for (const cup of cups) {
      if (cup.state !== "sent") {
        throw new Refusal(`Cup ${cup.serial} is ${cup.state}; only a cup that was sent can come back.`, {
          status: 409,
          field: "cupIds",
        })
      }
      changeCup(now, cup.id, { state: "returned" })
    }
    if (makeAnother) for (const cup of cups) askForAnother(now, cup.order_line_id)
    const serials = cups.map((cup) => cup.serial)
    const more = makeAnother ? `; ${cups.length} more to make` : ""
    return { summary: `Came back: ${serials.join(", ")}${more}`, answer: { serials } }
  })
}

/** One more cup on a line, in an order that is open for it. */
function askForAnother(now: Act, lineId: number | null): void {
  const { file } = now
  const line = file.firstText<{ order_id: number }>("SELECT order_id FROM order_line WHERE id = ?", [lineId])
  if (!line) return
  changed(now, "order", line.order_id, () => {
    file.runText("UPDATE order_line SET quantity = quantity + 1 WHERE id = ?", [lineId])
    file.runText("UPDATE customer_order SET state = 'planned' WHERE id = ? AND state = 'done'", [
      line.order_id,
    ])
  })
}

function refuseHeld(studio: Studio, cups: readonly CupRow[]): void {
  const held = heldLotsOn(
    studio,
    cups.map((cup) => cup.id),
  )
  const said = cups.flatMap((cup) => {
    const lots = held.get(cup.id)
    return lots === undefined ? [] : [`${cup.serial} (${lots.map(heldWords).join("; ")})`]
  })
  if (said.length === 0) return
  throw new Refusal(
    `Nothing is marked as sent yet. Of a held lot: ${said.join(", ")}. Take the tick off, or send it all the same.`,
    { status: 409, field: "cupIds" },
  )
}

/** A cup as the order's page lists it. */
export interface OrderCup {
  id: number
  serial: string
  state: CupState
  /** “lot held: Clear A, lot A-17”, of each held lot on it */
  held: string[]
}

/** Cups of a line, and those of its design that are for nobody yet: finished first, then in work. */
export function cupsToAssign(
  studio: Studio,
  line: { lineId: number; designId: number },
): { on: OrderCup[]; free: OrderCup[] } {
  const on = studio.file.allText<Omit<OrderCup, "held">>(
    "SELECT id, serial, state FROM cup WHERE order_line_id = ? AND state IS NOT NULL ORDER BY id",
    [line.lineId],
  )
  const free = studio.file.allText<Omit<OrderCup, "held">>(
    `SELECT c.id, c.serial, c.state FROM cup c JOIN batch b ON b.id = c.batch_id
       JOIN design_version v ON v.id = b.version_id
     WHERE v.design_id = ? AND c.order_line_id IS NULL AND c.state IN ('good', 'second', 'in work')
     ORDER BY c.state = 'in work', c.id LIMIT 200`,
    [line.designId],
  )
  const heldLots = heldLotsOn(
    studio,
    [...on, ...free].map((cup) => cup.id),
  )
  const withHeld = (cup: Omit<OrderCup, "held">) => ({
    ...cup,
    held: (heldLots.get(cup.id) ?? []).map(heldWords),
  })
  return { on: on.map(withHeld), free: free.map(withHeld) }
}

/** Finished cups of a design that are for nobody and of no held lot. */
export interface FreeFinished {
  design: string
  /** the good ones, the oldest first */
  cupIds: number[]
  /** how many there are besides that are seconds */
  seconds: number
}

/** By design: finished cups that an order could take as they are. A design without any is not in it. */
export function freeFinished(studio: Studio, designIds: readonly number[]): Map<number, FreeFinished> {
  const found = new Map<number, FreeFinished>()
  if (designIds.length === 0) return found
  const rows = studio.file.allText<{ id: number; state: CupState; designId: number; design: string }>(
    `SELECT c.id, c.state, v.design_id AS designId, d.name AS design FROM design_version v
       JOIN design d ON d.id = v.design_id JOIN batch b ON b.version_id = v.id JOIN cup c ON c.batch_id = b.id
     WHERE v.design_id IN (SELECT value FROM json_each(?)) AND c.order_line_id IS NULL
       AND c.state IN ('good', 'second') ORDER BY c.id`,
    [JSON.stringify(designIds)],
  )
  const held = heldLotsOn(
    studio,
    rows.map((row) => row.id),
  )
  for (const { id, state, designId, design } of rows) {
    if (held.has(id)) continue
    const free = found.get(designId) ?? { design, cupIds: [], seconds: 0 }
    found.set(designId, free)
    if (state === "good") free.cupIds.push(id)
    else free.seconds += 1
  }
  return found
}

function openLine(studio: Studio, lineId: number) {
  const line = studio.file.firstText<{
    order_id: number
    state: string
    design_id: number
    design: string
    quantity: number
    has: number
  }>(
    `SELECT l.order_id, o.state, l.design_id, d.name AS design, l.quantity,
       (SELECT count(*) FROM cup c WHERE c.order_line_id = l.id AND c.state IN ('good', 'second', 'in work', 'sent', 'returned')) AS has
     FROM order_line l JOIN customer_order o ON o.id = l.order_id JOIN design d ON d.id = l.design_id
     WHERE l.id = ?`,
    [lineId],
  )
  if (!line) throw new Refusal("There is no such order line.", { status: 404 })
  if (line.state === "done" || line.state === "cancelled") {
    throw new Refusal(`This order is ${line.state}. Set it to planned first.`, { status: 409 })
  }
  return line
}

function cupsChosen(studio: Studio, cupIds: readonly number[]): CupRow[] {
  const cups = studio.file.allText<CupRow>(
    `${CUP} AND c.id IN (SELECT value FROM json_each(?)) ORDER BY c.id`,
    [JSON.stringify(cupIds)],
  )
  if (cups.length === 0) throw new Refusal("Choose the cups first.", { field: "cupIds" })
  if (cups.length !== new Set(cupIds).size) {
    throw new Refusal("One of those cups is not there.", { status: 404, field: "cupIds" })
  }
  return cups
}
