import { checksOfMix, type MixCheck } from "../batches/service.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Room } from "../domain/room.ts"
import { codeMeant, parseStudioCode, type StudioCode, studioCodeProblem } from "../domain/studio-code.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { orderChip, ordersList } from "../orders/service.ts"
import { pairOfLot, placeIn } from "../shelf/service.ts"
import { packsByCode } from "../supplies/service.ts"

/** What a code stands for. */
export type Found =
  | { kind: "page"; to: string }
  /** a lot number that several lots carry */
  | { kind: "lots"; lots: NumberedLot[]; pairs: LotPair[] }
  /** a name, or part of one: who is called so, with what they ordered */
  | { kind: "buyers"; buyers: BuyerFound[] }
  /** a code printed on a pack: the supplies inside */
  | { kind: "pack"; pack: string; supplies: string[] }
  | {
      kind: "nothing"
      sentence: string
      /** what it was probably read for, and is there */
      meant?: { code: string; to: string }
    }

export interface NumberedLot {
  lotId: number
  supply: string
  maker: string | null
  held: boolean
}

/** Part A and part B of a resin that carry one number, as a kit's two bottles do. */
export interface LotPair {
  lotId: number
  otherId: number
  says: string
  bothHeld: boolean
}

/** A buyer, their orders and the cups for them. */
export interface BuyerFound {
  name: string
  orders: { orderId: number; dueOn: string; chip: string; cups: { serial: string; design: string }[] }[]
}

/** One mix: the cups it went onto, and how much it took from which containers. */
export interface Mix {
  code: string
  resinSystem: string
  layer: string
  batchId: number
  mixedAt: string
  undone: boolean
  /** where it was put on, as far as that was said */
  room: Room
  /** found left in the mixing cup, µL; null: nobody looked */
  leftUl: number | null
  cups: { serial: string }[]
  /** amounts by the book now; measured: not only as planned */
  containers: {
    code: string
    supply: string
    baseUnit: BaseUnit
    amount: number
    measured: boolean
    /** what was in it when this was taken; several where it had been topped up */
    lots: { number: string | null; maker: string | null }[]
  }[]
  checks: MixCheck[]
}

/**
 * Finds what a scanned or typed code is: the studio's own (container, cup, mix), a lot number, a pack's, the number
 * of an order, or a buyer's name.
 *
 * @param text as it came, at most 200 characters
 */
export function find(studio: Studio, text: string): Found {
  const said = text.trim()
  if (said === "") return { kind: "nothing", sentence: "Scan a code, or type one." }
  const place = placeIn(said)
  if (place !== null) return { kind: "page", to: `/shelf/place?${new URLSearchParams({ name: place })}` }
  const own = parseStudioCode(said)
  const page = own === null ? null : pageOf(studio, own)
  if (page !== null) return { kind: "page", to: page }
  const order = ORDER.exec(said)
  if (order?.[1] && isOrder(studio, Number(order[2])))
    return { kind: "page", to: `/orders/${Number(order[2])}` }

  const lots = lotsNumbered(studio, said)
  const [lot, ...more] = lots
  if (lot && more.length === 0) return { kind: "page", to: `/lots/${lot.lotId}` }
  if (lot) return { kind: "lots", lots, pairs: pairsAmong(studio, lots) }

  const [pack] = packsByCode(studio, said)
  if (pack) return { kind: "pack", pack: pack.name, supplies: pack.contents.map((one) => one.supply) }
  // a number alone may be a lot's or a pack's: those come before an order's
  if (order && isOrder(studio, Number(order[2]))) return { kind: "page", to: `/orders/${Number(order[2])}` }
  const buyers = buyersCalled(studio, said)
  if (buyers.length > 0) return { kind: "buyers", buyers }
  const meant = codeMeant(said)
  const to = meant === null ? null : pageOf(studio, meant)
  return {
    kind: "nothing",
    sentence: sentenceFor(said, own),
    ...(meant !== null && to !== null && { meant: { code: meant.code, to } }),
  }
}

/** "12", "order 12", "Order no. 12", "#12" */
const ORDER = /^(order\s*(?:no\.?|number)?\s*#?|#)?\s*(\d{1,9})$/i
const MOST_BUYERS = 20

function isOrder({ file }: Studio, orderId: number): boolean {
  return file.firstText("SELECT 1 FROM customer_order WHERE id = ?", [orderId]) !== undefined
}

/** Buyers with the words in their name, each with the orders due last first. Two letters at least, or all would match. */
function buyersCalled(studio: Studio, said: string): BuyerFound[] {
  const { file } = studio
  const words = said.toLowerCase().split(/\s+/)
  if (said.length < 2) return []
  const buyers = file
    .allText<{ id: number; name: string }>("SELECT id, name FROM buyer ORDER BY id DESC")
    .filter((one) => words.every((word) => one.name.toLowerCase().includes(word)))
    .slice(0, MOST_BUYERS)
  if (buyers.length === 0) return []
  const orders = ordersList(studio).toReversed()
  return buyers.map(({ id, name }) => ({
    name,
    orders: orders
      .filter((order) => order.buyerId === id)
      .map((order) => ({
        orderId: order.orderId,
        dueOn: order.dueOn,
        chip: orderChip(order),
        cups: file.allText<{ serial: string; design: string }>(
          `SELECT c.serial, d.name AS design FROM order_line l JOIN design d ON d.id = l.design_id
           JOIN cup c ON c.order_line_id = l.id WHERE l.order_id = ? AND c.state IS NOT NULL ORDER BY c.id`,
          [order.orderId],
        ),
      })),
  }))
}

/** Which of these lots are the two parts of one resin. */
function pairsAmong(studio: Studio, lots: readonly NumberedLot[]): LotPair[] {
  return lots.flatMap((lot) =>
    pairOfLot(studio, lot.lotId)
      .filter((other) => other.lotId > lot.lotId && lots.some((one) => one.lotId === other.lotId))
      .map((other) => ({
        lotId: lot.lotId,
        otherId: other.lotId,
        says: `${lot.supply} and ${other.supply}`,
        bothHeld: lot.held && other.held,
      })),
  )
}

/** @throws {Refusal} 404: no such mix */
export function mixByCode(studio: Studio, code: string): Mix {
  const { file } = studio
  const row = file.firstText<
    Omit<Mix, "cups" | "containers" | "undone" | "checks" | "room"> &
      Room & { coatId: number; undone: number }
  >(
    `SELECT m.code, r.name AS resinSystem, l.name AS layer, c.batch_id AS batchId, a.happened_at AS mixedAt,
       c.room_celsius_tenths AS celsiusTenths, c.room_humidity_percent AS humidityPercent, (
         SELECT f.left_ul FROM mix_left f WHERE f.coat_id = c.id AND ${stands("f.action_id")} ORDER BY f.id DESC LIMIT 1
       ) AS leftUl,
       m.coat_id AS coatId, EXISTS (SELECT 1 FROM action u WHERE u.reverses_action_id = a.id) AS undone
     FROM mix m JOIN resin_system r ON r.id = m.resin_system_id JOIN coat c ON c.id = m.coat_id
     JOIN layer l ON l.id = c.layer_id JOIN action a ON a.id = c.action_id WHERE m.code = ?`,
    [code],
  )
  if (!row) throw new Refusal(`There is no mix with the code ${code}.`, { status: 404 })
  const { coatId, undone, celsiusTenths, humidityPercent, ...mix } = row
  const lots = file.allText<Mix["containers"][number]["lots"][number] & { code: string }>(
    `SELECT c.code, l.number, k.name AS maker FROM container_lot t JOIN container c ON c.id = t.container_id
       JOIN movement e ON e.id = t.movement_id JOIN lot l ON l.id = t.lot_id LEFT JOIN maker k ON k.id = l.maker_id
     WHERE ${stands("e.action_id")} AND t.movement_id < (
       SELECT min(m.id) FROM movement m WHERE m.coat_id = ? AND m.container_id = c.id
     ) GROUP BY c.id, l.id ORDER BY c.id, min(t.movement_id)`,
    [coatId],
  )
  return {
    ...mix,
    room: { celsiusTenths, humidityPercent },
    undone: undone === 1,
    checks: checksOfMix(studio, mix.code),
    cups: file.allText(
      "SELECT u.serial FROM coat_cup c JOIN cup u ON u.id = c.cup_id WHERE c.coat_id = ? ORDER BY u.id",
      [coatId],
    ),
    containers: file
      .allText<Omit<Mix["containers"][number], "measured" | "lots"> & { measured: number }>(
        `SELECT c.code, s.name AS supply, s.base_unit AS baseUnit, -sum(m.amount) AS amount, EXISTS (
             SELECT 1 FROM coat_actual f WHERE f.coat_id = m.coat_id AND f.supply_id = s.id AND ${stands("f.action_id")}
           ) AS measured
         FROM movement m JOIN container c ON c.id = m.container_id JOIN supply s ON s.id = c.supply_id
         WHERE m.coat_id = ? AND m.kind IN ('use', 'reverse') GROUP BY c.id HAVING sum(m.amount) < 0 ORDER BY min(m.id)`,
        [coatId],
      )
      .map((one) => ({
        ...one,
        measured: one.measured === 1,
        lots: lots.filter(({ code }) => code === one.code).map(({ number, maker }) => ({ number, maker })),
      })),
  }
}

function pageOf({ file }: Studio, { kind, code }: StudioCode): string | null {
  const isThere = (query: string) => file.firstText(query, [code]) !== undefined
  switch (kind) {
    case "container":
      return isThere("SELECT 1 FROM container WHERE code = ?") ? `/containers/${code}` : null
    case "cup":
      return isThere("SELECT 1 FROM cup WHERE serial = ?") ? `/cups/${code}` : null
    case "mix":
      return isThere("SELECT 1 FROM mix WHERE code = ?") ? `/mixes/${code}` : null
  }
}

/** Lots that are on hand or were; not those whose receipt was undone. */
function lotsNumbered({ file }: Studio, number: string): NumberedLot[] {
  return file
    .allText<Omit<NumberedLot, "held"> & { held: number }>(
      `SELECT l.id AS lotId, s.name AS supply, k.name AS maker, l.held FROM lot l JOIN supply s ON s.id = l.supply_id
       LEFT JOIN maker k ON k.id = l.maker_id WHERE l.number = ? COLLATE NOCASE AND EXISTS (
         SELECT 1 FROM container_lot t JOIN movement m ON m.id = t.movement_id WHERE t.lot_id = l.id
           AND ${stands("m.action_id")})
       ORDER BY s.name LIMIT 50`,
      [number],
    )
    .map((row) => ({ ...row, held: row.held === 1 }))
}

function sentenceFor(said: string, own: StudioCode | null): string {
  if (own !== null) return `${own.code} looks right, but no ${own.kind} of this studio has that code.`
  return (
    studioCodeProblem(said) ??
    `“${said.slice(0, 60)}” is no code, lot number, pack, order or buyer that is known here.`
  )
}
