import type { BaseUnit, CupState, ExpiryBasis } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { onHandOf } from "../ledger/on-hand.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { lotAmounts } from "./lot-amounts.ts"

/** A container that a lot is or was in: filled with it, or topped up from one that was. */
export interface TracedContainer {
  code: string
  /** all that is in it */
  amountLeft: number
  /** what of that is of the lot: less where it was poured together with another */
  amountOfLot: number
  openedOn: IsoDate | null
  /** the day it is to be used by, its opening and what was poured in counted; null: none, or it is empty */
  useBy: IsoDate | null
  held: boolean
  seller: string | null
  receivedOn: IsoDate | null
  toppedUpFrom: string | null
}

/** A cup that a lot went into. */
export interface TracedCup {
  serial: string
  state: CupState
  design: string
  batchId: number
  /** layers that have the lot, in order: "Seal coat, Final coat" */
  layers: string
  firstOn: IsoDate
  orderId: number | null
  buyer: string | null
  contact: string | null
}

/** A lot, where it is, and every cup it went into. */
export interface LotTrace {
  lotId: number
  supplyId: number
  supply: string
  baseUnit: BaseUnit
  number: string | null
  maker: string | null
  madeOn: IsoDate | null
  expiresOn: IsoDate | null
  expiryBasis: ExpiryBasis
  held: boolean
  /** of the lot alone, in all containers it is in */
  amountLeft: number
  containers: TracedContainer[]
  cups: TracedCup[]
}

/**
 * From a lot forward: its containers, through every top-up, and the cups coated from them while it was inside.
 *
 * @throws {Refusal} no such lot
 */
export function traceLot(studio: Studio, lotId: number): LotTrace {
  const { file } = studio
  const lot = file.firstText<
    Omit<LotTrace, "held" | "containers" | "cups" | "amountLeft"> & { held: number }
  >(
    `SELECT l.id AS lotId, s.id AS supplyId, s.name AS supply, s.base_unit AS baseUnit, l.number, k.name AS maker,
       l.made_on AS madeOn, l.expires_on AS expiresOn, l.expiry_basis AS expiryBasis, l.held
     FROM lot l JOIN supply s ON s.id = l.supply_id LEFT JOIN maker k ON k.id = l.maker_id WHERE l.id = ?`,
    [lotId],
  )
  if (!lot) throw new Refusal("There is no such lot.", { status: 404 })
  const containers = containersOf(studio, lotId)
  return {
    ...lot,
    held: lot.held === 1,
    containers,
    amountLeft: containers.reduce((sum, container) => sum + container.amountOfLot, 0),
    cups: file.allText<TracedCup>(CUPS_OF_LOT, [lotId]),
  }
}

/**
 * Uses by lot, container and coat, net of what was undone; one that was measured back to nothing is none. CROSS JOIN keeps
 * the order: from the few rows of `container_lot` to the movements of their containers, each step by an index, so that a
 * million other movements do not matter.
 *
 * @param from where the rows `t` of container_lot come from
 * @param where which of them
 */
export const usesOfLots = (from: string, where: string) =>
  `SELECT t.lot_id, t.container_id, used.coat_id, min(used.action_id) AS action_id
   FROM ${from}
     CROSS JOIN movement came ON came.id = t.movement_id
     CROSS JOIN movement used ON used.container_id = t.container_id AND used.id > t.movement_id
   WHERE ${where} AND used.kind = 'use' AND used.coat_id IS NOT NULL AND ${stands("came.action_id")} AND ${stands("used.action_id")}
   GROUP BY t.lot_id, t.container_id, t.movement_id, used.coat_id HAVING sum(used.amount) < 0`

/** Cups by lot. */
export const CUPS_OF_LOT = `SELECT u.serial, u.state, d.name AS design, u.batch_id AS batchId,
    replace(group_concat(DISTINCT y.name ORDER BY y.position), ',', ', ') AS layers, min(a.happened_on) AS firstOn, o.id AS orderId, p.name AS buyer, p.contact
  FROM (${usesOfLots("container_lot t", "t.lot_id = ?")}) use
    CROSS JOIN coat c ON c.id = use.coat_id
    CROSS JOIN action a ON a.id = use.action_id
    CROSS JOIN coat_cup cc ON cc.coat_id = c.id
    CROSS JOIN cup u ON u.id = cc.cup_id
    JOIN layer y ON y.id = c.layer_id
    JOIN design_version v ON v.id = y.version_id JOIN design d ON d.id = v.design_id
    LEFT JOIN order_line ol ON ol.id = u.order_line_id LEFT JOIN customer_order o ON o.id = ol.order_id
    LEFT JOIN buyer p ON p.id = o.buyer_id
  WHERE u.state IS NOT NULL
  GROUP BY u.id ORDER BY u.id`

function containersOf(studio: Studio, lotId: number): TracedContainer[] {
  const rows = studio.file.allText<
    Omit<TracedContainer, "held" | "useBy" | "amountOfLot"> & { id: number; held: number; mixed: number }
  >(
    `SELECT c.id, c.code, c.amount_left AS amountLeft, c.opened_on AS openedOn, c.held, e.name AS seller,
       d.received_on AS receivedOn, CASE WHEN count(*) = count(src.code) THEN replace(group_concat(DISTINCT src.code), ',', ', ') END AS toppedUpFrom,
       EXISTS (SELECT 1 FROM container_lot o WHERE o.container_id = c.id AND o.lot_id <> t.lot_id) AS mixed
     FROM container_lot t JOIN movement m ON m.id = t.movement_id JOIN container c ON c.id = t.container_id
       LEFT JOIN container src ON src.id = m.source_container_id
       LEFT JOIN receipt_line r ON r.id = c.receipt_line_id LEFT JOIN delivery d ON d.id = r.delivery_id
       LEFT JOIN seller e ON e.id = d.seller_id
     WHERE t.lot_id = ? AND ${stands("m.action_id")}
     GROUP BY c.id ORDER BY min(t.movement_id)`,
    [lotId],
  )
  const ids = rows.map((row) => row.id)
  const useBy = new Map(
    onHandOf(studio.file, settingsOf(studio).timeZone, ids).map((one) => [one.containerId, one.useBy]),
  )
  // only where lots were poured together is there a share to be followed
  const shares = rows.some((row) => row.mixed === 1) ? lotAmounts(studio, lotId).left : null
  return rows.map(({ id, mixed: _mixed, ...row }) => ({
    ...row,
    amountOfLot: shares === null ? row.amountLeft : (shares.get(id) ?? 0),
    useBy: useBy.get(id) ?? null,
    held: row.held === 1,
  }))
}

/** So many lots of a supply are shown for choosing one; older ones are found by their number. */
const LOTS_TO_CHOOSE = 50

/** The lots of each supply that came last, for choosing one: of resins and hardeners first, then by the supply's name. */
export function recentLots(studio: Studio): {
  lotId: number
  supplyId: number
  supply: string
  number: string | null
  maker: string | null
  held: number
  /** how many lots of the supply there are in all */
  ofSupply: number
}[] {
  return studio.file.allText(
    `SELECT lotId, supplyId, supply, number, maker, held, ofSupply FROM (
       SELECT l.id AS lotId, s.id AS supplyId, s.name AS supply, s.kind, l.number, k.name AS maker, l.held,
         count(*) OVER (PARTITION BY s.id) AS ofSupply, row_number() OVER (PARTITION BY s.id ORDER BY l.id DESC) AS nth
       FROM lot l JOIN supply s ON s.id = l.supply_id LEFT JOIN maker k ON k.id = l.maker_id
       WHERE EXISTS (SELECT 1 FROM container_lot t JOIN movement m ON m.id = t.movement_id
         WHERE t.lot_id = l.id AND ${stands("m.action_id")})
     ) WHERE nth <= ${LOTS_TO_CHOOSE}
     ORDER BY kind IN ('resin', 'hardener') DESC, supply COLLATE NOCASE, supplyId, lotId DESC`,
  )
}
