import type { BaseUnit, CupState, ExpiryBasis, SupplyKind } from "../../db/tables.ts"
import { checksOfMix, type MixCheck } from "../batches/service.ts"
import { coatShares } from "../domain/coat-shares.ts"
import type { IsoDate } from "../domain/dates.ts"
import type { Working } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Room } from "../domain/room.ts"
import { isPriced } from "../ledger/priced.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"

/** A lot that was in a container when it was used, and how it came there. */
export interface LotShare {
  lotId: number
  number: string | null
  maker: string | null
  seller: string | null
  receivedOn: IsoDate | null
  expiresOn: IsoDate | null
  /** what that day rests on: printed on the label, or reckoned from how long the supply keeps */
  expiryBasis: ExpiryBasis
  /** the container it was poured over from; null for the container's own filling */
  toppedUpFrom: string | null
}

/** What one container gave to one coat, and of it to this cup. */
export interface UseTrace {
  container: string
  supply: string
  kind: SupplyKind
  baseUnit: BaseUnit
  /** this cup's part of `coatAmount`; the parts of all its cups add up to it */
  amount: number
  coatAmount: number
  /** 0 where no price is known */
  costMicro: number
  /** something was paid for what was in the container; false: nobody said what it cost */
  priced: boolean
  openedOn: IsoDate | null
  lots: LotShare[]
}

/** One coat on the cup, from one mix or straight from containers. */
export interface CoatTrace {
  coatId: number
  happenedAt: string
  happenedOn: IsoDate
  device: string
  mix: string | null
  /** how that mix was found later */
  mixChecks: MixCheck[]
  /** serials of all cups that had this coat, this one too */
  cups: string[]
  /** something past its day was used because the person insisted */
  insisted: boolean
  /** the cup was scuffed and wiped before it: minutes; null: it was not */
  scuffMin: number | null
  /** where it was put on, as it was said; null: it was not */
  room: Room | null
  /** when it came off again; null: it is still on the cup */
  strippedAt: string | null
  uses: UseTrace[]
  workings: Working[]
}

/** Everything that is known of a cup. */
export interface CupTrace {
  serial: string
  state: CupState
  batchId: number
  design: string
  version: number
  startedOn: IsoDate
  /** the day on which it was found good or a second, or was scrapped; null: in work */
  finishedOn: IsoDate | null
  /** when it went on in another batch than it was started in, the first first */
  wentOn: { happenedAt: string; fromBatchId: number; toBatchId: number }[]
  order: { id: number; dueOn: IsoDate; buyer: string | null } | null
  /** of all uses of which a price is known */
  costMicro: number
  layers: { position: number; name: string; kind: string; coats: CoatTrace[] }[]
}

/** The last of these that stands says whether the work on the cup `c` is over; being sent or coming back does not. */
const FINISHED_ON = `(SELECT CASE h.state WHEN 'in work' THEN NULL ELSE a.happened_on END
    FROM cup_change h JOIN action a ON a.id = h.action_id
    WHERE h.cup_id = c.id AND h.state IN ('in work', 'good', 'second', 'scrapped') AND ${stands("a.id")}
    ORDER BY h.id DESC LIMIT 1)`

/**
 * From a cup back to everything it is made of: layer, coat, mix, container, lot, maker, seller, delivery.
 *
 * @throws {Refusal} no cup with that serial, or its start was undone
 */
export function traceCup(studio: Studio, serial: string): CupTrace {
  const { file } = studio
  const cup = file.firstText<{
    id: number
    serial: string
    state: CupState | null
    batch_id: number
    version_id: number
    design: string
    version: number
    started_on: string
    finished_on: string | null
    order_id: number | null
    due_on: string
    buyer: string | null
  }>(
    `SELECT c.id, c.serial, c.state, c.batch_id, v.id AS version_id, d.name AS design, v.number AS version,
       (SELECT a.happened_on FROM cup_change h JOIN action a ON a.id = h.action_id WHERE h.cup_id = c.id
          ORDER BY h.id LIMIT 1) AS started_on, ${FINISHED_ON} AS finished_on, o.id AS order_id, ol.due_on, y.name AS buyer
     FROM cup c JOIN batch b ON b.id = c.batch_id
       JOIN design_version v ON v.id = b.version_id JOIN design d ON d.id = v.design_id
       LEFT JOIN order_line ol ON ol.id = c.order_line_id LEFT JOIN customer_order o ON o.id = ol.order_id
       LEFT JOIN buyer y ON y.id = o.buyer_id
     WHERE c.serial = ?`,
    [serial],
  )
  if (!cup || cup.state === null) {
    throw new Refusal(`There is no cup ${serial}. Check the serial on the cup, or look for its batch.`, {
      status: 404,
    })
  }
  const coats = coatsOf(studio, cup.id)
  const layers = file
    .allText<{ id: number; position: number; name: string; kind: string }>(
      "SELECT id, position, name, kind FROM layer WHERE version_id = ? ORDER BY position",
      [cup.version_id],
    )
    .map(({ id, position, name, kind }) => ({ position, name, kind, coats: coats.get(id) ?? [] }))
  const all = [...coats.values()].flat().flatMap((coat) => coat.uses)
  return {
    serial: cup.serial,
    state: cup.state,
    batchId: cup.batch_id,
    design: cup.design,
    version: cup.version,
    startedOn: cup.started_on,
    finishedOn: cup.finished_on,
    wentOn: file.allText<CupTrace["wentOn"][number]>(
      `SELECT a.happened_at AS happenedAt, m.from_batch_id AS fromBatchId, m.to_batch_id AS toBatchId
       FROM cup_move m JOIN action a ON a.id = m.action_id WHERE m.cup_id = ? AND ${stands("a.id")} ORDER BY m.id`,
      [cup.id],
    ),
    order: cup.order_id === null ? null : { id: cup.order_id, dueOn: cup.due_on, buyer: cup.buyer },
    costMicro: all.reduce((sum, use) => sum + use.costMicro, 0),
    layers,
  }
}

const COATS = `SELECT c.id AS coat_id, c.layer_id, a.happened_at, a.happened_on, a.device, c.insisted, c.workings, x.code AS mix,
       c.scuff_min, c.room_celsius_tenths, c.room_humidity_percent, (
         SELECT min(b.happened_at) FROM strip s JOIN action b ON b.id = s.action_id
         WHERE s.cup_id = cc.cup_id AND s.action_id > c.action_id AND s.from_position <= l.position AND ${stands("b.id")}
       ) AS stripped_at
     FROM coat_cup cc JOIN coat c ON c.id = cc.coat_id JOIN action a ON a.id = c.action_id
       JOIN layer l ON l.id = c.layer_id LEFT JOIN mix x ON x.coat_id = c.id
     WHERE cc.cup_id = ? AND ${stands("a.id")} ORDER BY a.happened_at, c.id`

const LOTS = `WITH RECURSIVE took (id) AS MATERIALIZED (
       SELECT DISTINCT m.container_id FROM coat_cup cc CROSS JOIN movement m ON m.coat_id = cc.coat_id WHERE cc.cup_id = ?),
     came (container_id, lot_id, entered, direct_id, at_id, source_id, since) AS (
       SELECT t.container_id, t.lot_id, t.movement_id, m.source_container_id, t.container_id, m.source_container_id, t.movement_id
       FROM took CROSS JOIN container_lot t ON t.container_id = took.id CROSS JOIN movement m ON m.id = t.movement_id
       WHERE ${stands("m.action_id")}
       UNION
       SELECT c.container_id, c.lot_id, c.entered, c.direct_id, t.container_id, m.source_container_id, t.movement_id
       FROM came c CROSS JOIN container_lot t ON t.container_id = c.source_id AND t.movement_id < c.since AND t.lot_id = c.lot_id
         CROSS JOIN movement m ON m.id = t.movement_id WHERE ${stands("m.action_id")})
     SELECT came.container_id AS containerId, came.entered, l.id AS lotId, l.number, k.name AS maker, e.name AS seller,
       d.received_on AS receivedOn, l.expires_on AS expiresOn, l.expiry_basis AS expiryBasis, src.code AS toppedUpFrom
     FROM came CROSS JOIN lot l ON l.id = came.lot_id LEFT JOIN maker k ON k.id = l.maker_id
       LEFT JOIN container src ON src.id = came.direct_id
       CROSS JOIN container origin ON origin.id = came.at_id
       LEFT JOIN receipt_line r ON r.id = origin.receipt_line_id LEFT JOIN delivery d ON d.id = r.delivery_id
       LEFT JOIN seller e ON e.id = d.seller_id
     WHERE came.source_id IS NULL
     ORDER BY came.entered, l.id, came.since`

/** The coats on a cup that still stand, by layer id, the earliest first. */
function coatsOf(studio: Studio, cupId: number): Map<number, CoatTrace[]> {
  const rows = studio.file.allText<{
    coat_id: number
    layer_id: number
    happened_at: string
    happened_on: string
    device: string
    insisted: number
    scuff_min: number | null
    room_celsius_tenths: number | null
    room_humidity_percent: number | null
    stripped_at: string | null
    workings: string
    mix: string | null
  }>(COATS, [cupId])
  const coats = new Map<number, CoatTrace[]>()
  const cupsOf = byCoat(
    studio.file.allText<{ coat_id: number; id: number; serial: string }>(
      `SELECT with_it.coat_id, u.id, u.serial FROM coat_cup cc CROSS JOIN coat_cup with_it ON with_it.coat_id = cc.coat_id
         CROSS JOIN cup u ON u.id = with_it.cup_id WHERE cc.cup_id = ? ORDER BY with_it.coat_id, u.id`,
      [cupId],
    ),
  )
  const takenBy = byCoat(takenFor(studio, cupId))
  const lots = lotsFor(studio, cupId)
  for (const row of rows) {
    const cups = cupsOf.get(row.coat_id) ?? []
    const place = cups.findIndex((one) => one.id === cupId)
    const coat: CoatTrace = {
      coatId: row.coat_id,
      happenedAt: row.happened_at,
      happenedOn: row.happened_on,
      device: row.device,
      mix: row.mix,
      mixChecks: row.mix === null ? [] : checksOfMix(studio, row.mix),
      cups: cups.map((one) => one.serial),
      insisted: row.insisted === 1,
      scuffMin: row.scuff_min,
      room: roomOf(row.room_celsius_tenths, row.room_humidity_percent),
      strippedAt: row.stripped_at,
      uses: usesOf(takenBy.get(row.coat_id) ?? [], lots, cups.length, place),
      // written by our own engine and checked as JSON by the file
      workings: JSON.parse(row.workings) as Working[],
    }
    coats.set(row.layer_id, [...(coats.get(row.layer_id) ?? []), coat])
  }
  return coats
}

function roomOf(celsiusTenths: number | null, humidityPercent: number | null): Room | null {
  return celsiusTenths === null && humidityPercent === null ? null : { celsiusTenths, humidityPercent }
}

function byCoat<Row extends { coat_id: number }>(rows: readonly Row[]): Map<number, Row[]> {
  const coats = new Map<number, Row[]>()
  for (const row of rows) {
    const known = coats.get(row.coat_id)
    if (known) known.push(row)
    else coats.set(row.coat_id, [row])
  }
  return coats
}

/** What a container gave to a coat: what was measured afterwards, and what of that was undone, counts in. */
interface Taken {
  coat_id: number
  /** the first movement by which it gave */
  id: number
  container_id: number
  code: string
  supply: string
  kind: SupplyKind
  base_unit: BaseUnit
  amount: number
  costMicro: number
  priced: number
  opened_on: string | null
}

/** All that was taken for the coats of a cup, the first first. */
function takenFor(studio: Studio, cupId: number): Taken[] {
  return studio.file.allText<Taken>(
    `SELECT m.coat_id, min(m.id) AS id, m.container_id, c.code, s.name AS supply, s.kind, s.base_unit,
       -sum(m.amount) AS amount, -sum(m.cost_micro) AS costMicro,
       sum(m.cost_micro) < 0 OR ${isPriced("c.id")} AS priced, c.opened_on
     FROM coat_cup cc CROSS JOIN movement m ON m.coat_id = cc.coat_id CROSS JOIN container c ON c.id = m.container_id
       CROSS JOIN supply s ON s.id = c.supply_id
     WHERE cc.cup_id = ? AND m.kind IN ('use', 'reverse') GROUP BY m.coat_id, c.id HAVING sum(m.amount) < 0
     ORDER BY min(m.id)`,
    [cupId],
  )
}

function usesOf(
  taken: readonly Taken[],
  lots: ReadonlyMap<number, readonly Entered[]>,
  cups: number,
  place: number,
): UseTrace[] {
  const shares = coatShares(taken, cups)
  return taken
    .map((row, nth) => ({
      container: row.code,
      supply: row.supply,
      kind: row.kind,
      baseUnit: row.base_unit,
      amount: shares[nth]?.amounts[place] ?? 0,
      coatAmount: row.amount,
      costMicro: shares[nth]?.costsMicro[place] ?? 0,
      priced: row.priced === 1,
      openedOn: row.opened_on,
      lots: thereBefore(lots.get(row.container_id) ?? [], row.id),
    }))
    .filter((use) => use.amount > 0)
}

/** A lot in a container, and by which movement it came into it. */
interface Entered extends LotShare {
  containerId: number
  entered: number
}

/** The lots that were there when a movement took; one that came in twice by the same way is told once. */
function thereBefore(lots: readonly Entered[], movementId: number): LotShare[] {
  const told = new Set<string>()
  const shares: LotShare[] = []
  for (const { containerId: _container, entered, ...share } of lots) {
    if (entered >= movementId) continue
    const { lotId, seller, receivedOn, toppedUpFrom } = share
    const key = `${lotId}|${seller}|${receivedOn}|${toppedUpFrom}`
    if (told.has(key)) continue
    told.add(key)
    shares.push(share)
  }
  return shares
}

/**
 * The lots of each container that a cup's coats took from, each with every delivery that it came by: back through
 * bottles it was poured from, and those they were poured from.
 */
function lotsFor(studio: Studio, cupId: number): Map<number, Entered[]> {
  const rows = studio.file.allText<Entered>(LOTS, [cupId])
  const lots = new Map<number, Entered[]>()
  for (const row of rows) {
    const known = lots.get(row.containerId)
    if (known) known.push(row)
    else lots.set(row.containerId, [row])
  }
  return lots
}
