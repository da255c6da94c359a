import type { CupState, SupplyKind } from "../../db/tables.ts"
import { type IsoDate, sayDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type VesselWord, vesselWord } from "../domain/vessels.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { HELD, type HeldRow, heldOf } from "../shelf/service.ts"

/** What stands on the way from a maker's lot to a buyer, in this order. A mix stands with the coat it was mixed for. */
export const THINGS = ["lot", "delivery", "container", "coat", "cup", "order", "buyer"] as const
export type ThingKind = (typeof THINGS)[number]

/** What a picture may be of: any thing on the way, or all cups of a batch. */
export const FOCUSES = [...THINGS, "batch"] as const
export type FocusKind = (typeof FOCUSES)[number]

/** One thing on the way. A bottle before and after it was topped up is two, since they hold different lots. */
export interface Thing {
  key: string
  kind: ThingKind
  /** what it stands for, for the address of its own picture */
  ref: { kind: FocusKind; id: number }
  name: string
  /** what else is said of it, most important first */
  says: string[]
  /** for putting cups of one batch together */
  batchId?: number
  state?: CupState
  /** what a container is called: a bottle, a can, a jar */
  vessel?: VesselWord
}

/** From one thing into the next. */
export interface Link {
  from: string
  to: string
  /** the coat came off this cup again */
  off: boolean
}

/** All that a thing came from, and all that it went into. */
export interface Lineage {
  /** a delivery of several lots and a bottle that was topped up are several */
  focus: string[]
  things: Map<string, Thing>
  links: Link[]
  /** supplies that stay on no cup were left out */
  onlyWhatStays: boolean
  /** there would be too much of it: what is drawn ends there, and goes on from a box */
  endsAt: "containers" | "cups" | null
}

/** A delivery of more bottles is followed no further than to them. */
const MANY_BOTTLES = 8

/** What is used at a cup and does not stay on it. */
const STAYS_NOT: readonly SupplyKind[] = ["solvent", "abrasive", "consumable", "packaging"]

/**
 * Follows a thing both ways: back to makers' lots and on to buyers, through every top-up and split. From a cup back,
 * only what stays on it is followed: gloves, wipes and solvents are left out.
 *
 * @throws {Refusal} no such thing
 */
export function lineageOf(studio: Studio, kind: FocusKind, id: number): Lineage {
  const trace = new Trace(studio, kind === "cup" || kind === "batch" || kind === "order" || kind === "buyer")
  trace.start(kind, id)
  return trace.lineage()
}

/** One filling of a container: its own, or a top-up. What is in it from then on is another thing. */
interface Filling {
  movementId: number
  isReceipt: boolean
  sourceId: number | null
  on: IsoDate
}

interface Bottle {
  id: number
  code: string
  supply: string
  kind: SupplyKind
  vessel: VesselWord
  lotId: number
  deliveryId: number | null
  fillings: Filling[]
}

class Trace {
  readonly #studio: Studio
  readonly #today: IsoDate
  readonly #onlyWhatStays: boolean
  readonly #things = new Map<string, Thing>()
  readonly #links = new Map<string, Link>()
  readonly #followed = new Set<string>()
  readonly #bottles = new Map<number, Bottle>()
  #focus: string[] = []
  #endsAt: Lineage["endsAt"] = null

  constructor(studio: Studio, onlyWhatStays: boolean) {
    this.#studio = studio
    this.#today = todayOf(studio)
    this.#onlyWhatStays = onlyWhatStays
  }

  lineage(): Lineage {
    return {
      focus: this.#focus,
      things: this.#things,
      links: [...this.#links.values()],
      onlyWhatStays: this.#onlyWhatStays,
      endsAt: this.#endsAt,
    }
  }

  start(kind: FocusKind, id: number): void {
    switch (kind) {
      case "lot":
        this.#focus = [this.#lot(id)]
        this.#received("c.lot_id = ?", id)
        break
      case "delivery":
        this.#received("l.delivery_id = ?", id)
        this.#focus = [...this.#things.values()]
          .filter((one) => one.kind === "delivery")
          .map((one) => one.key)
        break
      case "container": {
        const bottle = this.#bottle(id)
        this.#focus = bottle.fillings.map((_, index) => this.#filled(bottle, index))
        for (const index of bottle.fillings.keys()) {
          this.#backFrom(bottle, index)
          this.#onFrom(bottle, index)
        }
        break
      }
      case "coat":
        this.#focus = [this.#coat(id)]
        this.#backFromCoat(id)
        this.#onFromCoat(id)
        break
      case "cup":
        this.#focus = [this.#cup(id)]
        this.#backFromCup(id)
        this.#onFromCup(id)
        break
      case "batch":
        this.#focus = this.#cups("c.batch_id = ?", id, true)
        break
      case "order":
        this.#focus = [this.#order(id)]
        this.#cups("ol.order_id = ?", id, true)
        break
      case "buyer": {
        this.#focus = [this.#buyer(id)]
        for (const order of this.#ids("SELECT id FROM customer_order WHERE buyer_id = ? ORDER BY id", id)) {
          this.#order(order)
          this.#cups("ol.order_id = ?", order, false)
        }
        this.#endsAt = "cups"
        break
      }
    }
    if (this.#focus.length === 0) throw new Refusal("There is no such thing to follow.", { status: 404 })
  }

  /** Everything that was filled at a delivery, and where it went. */
  #received(where: string, id: number): void {
    const ids = this.#ids(
      `SELECT c.id FROM container c JOIN receipt_line l ON l.id = c.receipt_line_id JOIN action a ON a.id = l.action_id
       WHERE ${where} AND ${stands("a.id")} ORDER BY c.id`,
      id,
    )
    // of one lot all is followed: that is what a trace is for
    if (ids.length > MANY_BOTTLES && this.#focus.length === 0) this.#endsAt = "containers"
    for (const one of ids) {
      const bottle = this.#bottle(one)
      this.#backFrom(bottle, 0)
      if (this.#endsAt === null) this.#onFrom(bottle, 0)
    }
  }

  #cups(where: string, id: number, isFollowedBack: boolean): string[] {
    const ids = this.#ids(
      `SELECT c.id FROM cup c LEFT JOIN order_line ol ON ol.id = c.order_line_id
       WHERE ${where} AND c.state IS NOT NULL ORDER BY c.id`,
      id,
    )
    return ids.map((one) => {
      if (isFollowedBack) this.#backFromCup(one)
      this.#onFromCup(one)
      return this.#cup(one)
    })
  }

  // Back

  #backFrom(bottle: Bottle, index: number): void {
    const key = this.#filled(bottle, index)
    if (this.#has("back", key)) return
    const { movementId, isReceipt, sourceId } = bottle.fillings[index]!
    if (index > 0) {
      this.#link(this.#filled(bottle, index - 1), key)
      this.#backFrom(bottle, index - 1)
    }
    if (sourceId !== null) {
      const source = this.#bottle(sourceId)
      const at = fillingAt(source, movementId)
      if (at < 0) return
      this.#link(this.#filled(source, at), key)
      this.#backFrom(source, at)
    } else if (isReceipt) {
      this.#link(this.#lot(bottle.lotId), this.#delivery(bottle))
      this.#link(this.#delivery(bottle), key)
    }
  }

  #backFromCoat(coatId: number): boolean {
    const uses = this.#studio.file.allText<{ id: number; movementId: number }>(
      `SELECT m.container_id AS id, min(m.id) AS movementId FROM movement m
       WHERE m.coat_id = ? AND m.kind IN ('use', 'reverse') GROUP BY m.container_id HAVING sum(m.amount) < 0 ORDER BY 2`,
      [coatId],
    )
    const shown = uses.filter(({ id }) => !this.#onlyWhatStays || !STAYS_NOT.includes(this.#bottle(id).kind))
    for (const { id, movementId } of shown) {
      const bottle = this.#bottle(id)
      const at = fillingAt(bottle, movementId)
      if (at < 0) continue
      this.#link(this.#filled(bottle, at), this.#coat(coatId))
      this.#backFrom(bottle, at)
    }
    return shown.length > 0
  }

  #backFromCup(cupId: number): void {
    const key = this.#cup(cupId)
    if (this.#has("back", key)) return
    const coats = this.#ids(
      `SELECT c.id FROM coat_cup cc JOIN coat c ON c.id = cc.coat_id JOIN action a ON a.id = c.action_id
       WHERE cc.cup_id = ? AND ${stands("a.id")} ORDER BY a.happened_at, c.id`,
      cupId,
    )
    for (const coat of coats) if (this.#backFromCoat(coat)) this.#onto(coat, cupId)
  }

  // On

  #onFrom(bottle: Bottle, index: number): void {
    const key = this.#filled(bottle, index)
    if (this.#has("on", key)) return
    const from = bottle.fillings[index]!.movementId
    const next = bottle.fillings[index + 1]?.movementId ?? Number.MAX_SAFE_INTEGER
    const uses = this.#studio.file.allText<{ id: number }>(
      `SELECT m.coat_id AS id FROM movement m JOIN coat c ON c.id = m.coat_id
       WHERE m.container_id = ? AND m.kind IN ('use', 'reverse') AND ${stands("c.action_id")}
       GROUP BY m.coat_id HAVING sum(m.amount) < 0 AND min(m.id) > ? AND min(m.id) < ? ORDER BY min(m.id)`,
      [bottle.id, from, next],
    )
    for (const { id } of uses) {
      this.#link(key, this.#coat(id))
      this.#onFromCoat(id)
    }
    const pours = this.#studio.file.allText<{ id: number; movementId: number }>(
      `SELECT m.container_id AS id, m.id AS movementId FROM movement m
       WHERE m.source_container_id = ? AND m.kind = 'transfer' AND m.id > ? AND m.id < ? AND ${stands("m.action_id")} ORDER BY m.id`,
      [bottle.id, from, next],
    )
    for (const { id, movementId } of pours) {
      const into = this.#bottle(id)
      const at = into.fillings.findIndex((one) => one.movementId === movementId)
      if (at < 0) continue
      this.#link(key, this.#filled(into, at))
      this.#onFrom(into, at)
    }
    if (index + 1 < bottle.fillings.length) {
      this.#link(key, this.#filled(bottle, index + 1))
      this.#onFrom(bottle, index + 1)
    }
  }

  #onFromCoat(coatId: number): void {
    if (this.#has("on", this.#coat(coatId))) return
    const cups = this.#ids(
      `SELECT c.id FROM coat_cup cc JOIN cup c ON c.id = cc.cup_id WHERE cc.coat_id = ? AND c.state IS NOT NULL ORDER BY c.id`,
      coatId,
    )
    for (const cup of cups) {
      this.#onto(coatId, cup)
      this.#onFromCup(cup)
    }
  }

  #onFromCup(cupId: number): void {
    const key = this.#cup(cupId)
    if (this.#has("on", key)) return
    const [order] = this.#ids(
      "SELECT ol.order_id AS id FROM cup c JOIN order_line ol ON ol.id = c.order_line_id WHERE c.id = ?",
      cupId,
    )
    if (order !== undefined) this.#link(key, this.#order(order))
  }

  #onto(coatId: number, cupId: number): void {
    const off = this.#studio.file.firstText(
      `SELECT 1 FROM coat c JOIN layer y ON y.id = c.layer_id JOIN strip s ON s.cup_id = ?
       WHERE c.id = ? AND s.action_id > c.action_id AND s.from_position <= y.position AND ${stands("s.action_id")}`,
      [cupId, coatId],
    )
    this.#link(this.#coat(coatId), this.#cup(cupId), off !== undefined)
  }

  // Things, each made once

  #lot(id: number): string {
    return this.#thing(`lot ${id}`, () => {
      const lot = this.#row<{ number: string | null; supply: string; maker: string | null }>(
        `SELECT l.number, s.name AS supply, k.name AS maker FROM lot l JOIN supply s ON s.id = l.supply_id
         LEFT JOIN maker k ON k.id = l.maker_id WHERE l.id = ?`,
        id,
      )
      const says = [lot.supply, ...(lot.maker === null ? [] : [lot.maker])]
      return { kind: "lot", ref: { kind: "lot", id }, name: lot.number ?? "no number", says }
    })
  }

  /** A delivery as far as it brought one lot, so that lots that came together do not look like one. */
  #delivery({ lotId, deliveryId, id: bottleId }: Bottle): string {
    const id = deliveryId ?? 0
    return this.#thing(`delivery ${id} ${lotId}`, () => {
      const row = this.#row<{ on: IsoDate; seller: string | null; kind: string }>(
        deliveryId === null
          ? `SELECT a.happened_on AS "on", NULL AS seller, 'opening' AS kind FROM movement m
             JOIN action a ON a.id = m.action_id WHERE m.container_id = ? ORDER BY m.id LIMIT 1`
          : `SELECT d.received_on AS "on", e.name AS seller, d.kind FROM delivery d
             LEFT JOIN seller e ON e.id = d.seller_id WHERE d.id = ?`,
        deliveryId ?? bottleId,
      )
      const from = row.kind === "opening" ? "the first shelf" : (row.seller ?? "seller not named")
      return {
        kind: "delivery",
        ref: deliveryId === null ? { kind: "lot", id: lotId } : { kind: "delivery", id },
        name: from,
        says: [sayDate(row.on, this.#today)],
      }
    })
  }

  #filled(bottle: Bottle, index: number): string {
    const { movementId, isReceipt, on } = bottle.fillings[index]!
    // two boxes of one bottle: without it, the later one looks as if it came from itself
    const before = bottle.fillings.length > 1 ? ["before its top-up"] : []
    return this.#thing(`container ${bottle.id} ${movementId}`, () => ({
      kind: "container",
      ref: { kind: "container", id: bottle.id },
      name: bottle.code,
      vessel: bottle.vessel,
      says: [
        bottle.supply,
        ...(index > 0
          ? [`topped up ${sayDate(on, this.#today)}`]
          : isReceipt
            ? before
            : [`split off ${sayDate(on, this.#today)}`, ...before]),
      ],
    }))
  }

  #coat(id: number): string {
    return this.#thing(`coat ${id}`, () => {
      const coat = this.#row<{ layer: string; mix: string | null; on: IsoDate; batchId: number }>(
        `SELECT y.name AS layer, x.code AS mix, a.happened_on AS "on", c.batch_id AS batchId FROM coat c
         JOIN layer y ON y.id = c.layer_id JOIN action a ON a.id = c.action_id LEFT JOIN mix x ON x.coat_id = c.id
         WHERE c.id = ?`,
        id,
      )
      const day = sayDate(coat.on, this.#today)
      return {
        kind: "coat",
        ref: { kind: "coat", id },
        name: coat.mix === null ? coat.layer : `Mix ${coat.mix}`,
        says: coat.mix === null ? [day] : [coat.layer, day],
        batchId: coat.batchId,
      }
    })
  }

  #cup(id: number): string {
    return this.#thing(`cup ${id}`, () => {
      const cup = this.#row<{ serial: string; state: CupState | null; design: string; batchId: number }>(
        `SELECT c.serial, c.state, d.name AS design, c.batch_id AS batchId FROM cup c JOIN batch b ON b.id = c.batch_id
         JOIN design_version v ON v.id = b.version_id JOIN design d ON d.id = v.design_id
         WHERE c.id = ? AND c.state IS NOT NULL`,
        id,
      )
      const says = [cup.design, cup.state ?? ""]
      const { batchId } = cup
      return {
        kind: "cup",
        ref: { kind: "cup", id },
        name: cup.serial,
        says,
        batchId,
        state: cup.state ?? "good",
      }
    })
  }

  #order(id: number): string {
    return this.#thing(`order ${id}`, () => {
      const order = this.#row<{ buyerId: number | null; dueOn: IsoDate | null }>(
        `SELECT o.buyer_id AS buyerId, min(l.due_on) AS dueOn FROM customer_order o
         LEFT JOIN order_line l ON l.order_id = o.id WHERE o.id = ? GROUP BY o.id`,
        id,
      )
      if (order.buyerId !== null) this.#link(`order ${id}`, this.#buyer(order.buyerId))
      const says = order.dueOn === null ? [] : [`due ${sayDate(order.dueOn, this.#today)}`]
      return { kind: "order", ref: { kind: "order", id }, name: `Order ${id}`, says }
    })
  }

  #buyer(id: number): string {
    return this.#thing(`buyer ${id}`, () => {
      const { name } = this.#row<{ name: string }>("SELECT name FROM buyer WHERE id = ?", id)
      return { kind: "buyer", ref: { kind: "buyer", id }, name, says: [] }
    })
  }

  #bottle(id: number): Bottle {
    const known = this.#bottles.get(id)
    if (known) return known
    const row = this.#row<Omit<Bottle, "fillings" | "vessel"> & HeldRow>(
      `SELECT c.id, c.code, s.name AS supply, ${HELD}, c.lot_id AS lotId, r.delivery_id AS deliveryId FROM container c
       JOIN supply s ON s.id = c.supply_id LEFT JOIN receipt_line r ON r.id = c.receipt_line_id WHERE c.id = ?`,
      id,
    )
    const fillings = this.#studio.file
      .allText<Omit<Filling, "isReceipt"> & { isReceipt: number }>(
        `SELECT DISTINCT m.id AS movementId, m.kind = 'receive' AS isReceipt, m.source_container_id AS sourceId,
           a.happened_on AS "on" FROM container_lot t JOIN movement m ON m.id = t.movement_id
         JOIN action a ON a.id = m.action_id WHERE t.container_id = ? AND ${stands("m.action_id")} ORDER BY m.id`,
        [id],
      )
      .map((one) => ({ ...one, isReceipt: one.isReceipt === 1 }))
    const bottle = { ...row, vessel: vesselWord(heldOf(row)), fillings }
    this.#bottles.set(id, bottle)
    return bottle
  }

  #thing(key: string, make: () => Omit<Thing, "key">): string {
    if (!this.#things.has(key)) this.#things.set(key, { key, ...make() })
    return key
  }

  #link(from: string, to: string, off = false): void {
    this.#links.set(`${from} > ${to}`, { from, to, off })
  }

  /** Whether a thing was followed that way before; it counts as followed from now on. */
  #has(way: "back" | "on", key: string): boolean {
    const was = this.#followed.has(`${way} ${key}`)
    this.#followed.add(`${way} ${key}`)
    return was
  }

  #ids(query: string, id: number): number[] {
    return this.#studio.file.allText<{ id: number }>(query, [id]).map((row) => row.id)
  }

  #row<Row extends object>(query: string, id: number): Row {
    const row = this.#studio.file.firstText<Row>(query, [id])
    if (!row) throw new Refusal("There is no such thing to follow.", { status: 404 })
    return row
  }
}

/** Which filling was in a container when a movement took from it; −1: none stands. */
function fillingAt(bottle: Bottle, movementId: number): number {
  return bottle.fillings.findLastIndex((one) => one.movementId < movementId)
}
