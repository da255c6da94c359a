import type { BaseUnit } from "../../db/tables.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import type { LotTrace, TracedCup } from "./lot.ts"
import { lotAmounts } from "./lot-amounts.ts"

/** Cups of a lot by where they are now. */
export interface WhereNow {
  /** words for the heading: "Sent" */
  where: "In work" | "In stock" | "Sent" | "Come back" | "Scrapped"
  cups: TracedCup[]
}

/** Groups cups by where they are: what can still be stopped first, what is out of the house last. */
export function whereNow(cups: readonly TracedCup[]): WhereNow[] {
  const groups: [WhereNow["where"], readonly TracedCup["state"][]][] = [
    ["In work", ["in work"]],
    ["In stock", ["good", "second"]],
    ["Sent", ["sent"]],
    ["Come back", ["returned"]],
    ["Scrapped", ["scrapped"]],
  ]
  return groups
    .map(([where, states]) => ({ where, cups: cups.filter((cup) => states.includes(cup.state)) }))
    .filter((group) => group.cups.length > 0)
}

/** A buyer with an order that holds cups of the lot. */
export interface BuyerToTell {
  orderId: number
  buyer: string | null
  contact: string | null
  serials: string[]
  /** when and how they were told; null: not yet */
  told: { on: string; how: string; actionId: number } | null
}

/** Whom to tell: buyers of the lot's cups that left the house, by order. */
export function buyersOf(studio: Studio, trace: LotTrace): BuyerToTell[] {
  const told = new Map(
    studio.file
      .allText<{ orderId: number; on: string; how: string; actionId: number }>(
        `SELECT t.order_id AS orderId, a.happened_on AS "on", t.how, a.id AS actionId FROM told t
           JOIN action a ON a.id = t.action_id WHERE t.lot_id = ? AND ${stands("a.id")} ORDER BY t.id`,
        [trace.lotId],
      )
      .map(({ orderId, ...one }) => [orderId, one]),
  )
  const orders = new Map<number, BuyerToTell>()
  for (const { orderId, buyer, contact, serial, state } of trace.cups) {
    if (orderId === null || (state !== "sent" && state !== "returned")) continue
    const known = orders.get(orderId)
    if (known) known.serials.push(serial)
    else orders.set(orderId, { orderId, buyer, contact, serials: [serial], told: told.get(orderId) ?? null })
  }
  return [...orders.values()]
}

/**
 * Writes down that a buyer was told about a lot.
 *
 * @param input.how by what way: "wrote an e-mail"; may be empty
 * @throws {Refusal} no such lot or order, or told before
 */
export function tellBuyer(
  studio: Studio,
  by: Actor,
  input: { lotId: number; orderId: number; how: string },
): Done<{ orderId: number }> {
  return act(studio, "tell", by, input, (now) => {
    const order = now.file.firstText<{ buyer: string | null }>(
      "SELECT y.name AS buyer FROM customer_order o LEFT JOIN buyer y ON y.id = o.buyer_id WHERE o.id = ?",
      [input.orderId],
    )
    const lot = now.file.firstText<{ supply: string; number: string | null }>(
      "SELECT s.name AS supply, l.number FROM lot l JOIN supply s ON s.id = l.supply_id WHERE l.id = ?",
      [input.lotId],
    )
    if (!order || !lot) throw new Refusal("There is no such order or lot.", { status: 404 })
    const before = now.file.firstText(
      `SELECT 1 FROM told t WHERE t.lot_id = ? AND t.order_id = ? AND ${stands("t.action_id")}`,
      [input.lotId, input.orderId],
    )
    if (before) throw new Refusal("This buyer was told before.", { status: 409 })
    now.file.insert("told", {
      action_id: now.actionId,
      lot_id: input.lotId,
      order_id: input.orderId,
      how: input.how,
    })
    return {
      summary: `Told ${order.buyer ?? `the buyer of order ${input.orderId}`} about ${lot.supply}, lot ${lot.number ?? "without a number"}`,
      answer: { orderId: input.orderId },
    }
  })
}

/** Writes down what a buyer says about a cup. @throws {Refusal} no such cup, or nothing said */
export function complain(
  studio: Studio,
  by: Actor,
  input: { serial: string; what: string },
): Done<{ serial: string }> {
  return act(studio, "complaint", by, input, (now) => {
    const cup = now.file.firstText<{ id: number }>(
      "SELECT id FROM cup WHERE serial = ? AND state IS NOT NULL",
      [input.serial],
    )
    if (!cup) throw new Refusal(`There is no cup ${input.serial}.`, { status: 404 })
    if (input.what === "") throw new Refusal("Say what the buyer saw.", { field: "what" })
    now.file.insert("complaint", { action_id: now.actionId, cup_id: cup.id, what: input.what })
    return { summary: `Complaint about cup ${input.serial}: ${input.what}`, answer: { serial: input.serial } }
  })
}

/** What was said about a cup, the latest first. */
export function complaintsOf(studio: Studio, serial: string): { on: string; what: string }[] {
  return studio.file.allText(
    `SELECT a.happened_on AS "on", p.what FROM complaint p JOIN action a ON a.id = p.action_id JOIN cup c ON c.id = p.cup_id
     WHERE c.serial = ? AND ${stands("a.id")} ORDER BY p.id DESC`,
    [serial],
  )
}

/**
 * Where everything that came of a lot went, for the drill that auditors ask for. Amounts in the supply's base unit; of a
 * bottle that holds other lots too, the lot's own share.
 */
export interface LotBalance {
  baseUnit: BaseUnit
  came: number
  onCups: number
  left: number
  /** poured into bottles of other lots, less what came back; what became of it is among the amounts above */
  pouredOn: number
  /** of other lots, poured into bottles of this one; counted with those */
  pouredIn: number
  wasted: number
  /** what counts found missing (above zero) or too much */
  unexplained: number
}

/** What came of a lot, and what became of it: came = on cups + left + wasted + unexplained, to the last unit. */
export function balanceOf(studio: Studio, trace: LotTrace): LotBalance {
  const { left, ...amounts } = lotAmounts(studio, trace.lotId)
  const allLeft = [...left.values()].reduce((sum, part) => sum + part, 0)
  return { baseUnit: trace.baseUnit, ...amounts, left: allLeft }
}
