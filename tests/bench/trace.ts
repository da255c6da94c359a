import assert from "node:assert/strict"
import { join } from "node:path"
import Database from "better-sqlite3"
import type { Studio } from "../../server/ledger/studio.ts"
import { type CupTrace, traceCup, traceLot } from "../../server/tracing/service.ts"
import { longHistory } from "./long-history.ts"
import { byTurns, type Line } from "./measure.ts"

const MOVEMENTS = 1_000_000

/** The same rows with as little as can be: from the lot's containers by index to their uses, coats and cups. */
const CUPS = `SELECT u.serial, u.state, d.name AS design, u.batch_id AS batchId,
    group_concat(DISTINCT y.name) AS layers, min(a.happened_on) AS firstOn, o.id AS orderId, p.name AS buyer, p.contact
  FROM container_lot t
    CROSS JOIN movement used ON used.container_id = t.container_id AND used.id > t.movement_id
    CROSS JOIN coat c ON c.id = used.coat_id
    CROSS JOIN action a ON a.id = used.action_id
    CROSS JOIN layer y ON y.id = c.layer_id
    CROSS JOIN design_version v ON v.id = y.version_id
    CROSS JOIN design d ON d.id = v.design_id
    CROSS JOIN coat_cup cc ON cc.coat_id = c.id
    CROSS JOIN cup u ON u.id = cc.cup_id
    LEFT JOIN order_line ol ON ol.id = u.order_line_id
    LEFT JOIN customer_order o ON o.id = ol.order_id
    LEFT JOIN buyer p ON p.id = o.buyer_id
  WHERE t.lot_id = ? GROUP BY u.id`

/**
 * The same the other way, with as little as can be: a cup's coats with all cups on them, what each took, and the lots
 * in those containers, with their makers, sellers and deliveries.
 */
const LOTS = `SELECT c.id AS coatId, y.name AS layer, a.happened_at, a.device, c.workings, x.code AS mix,
    (SELECT group_concat(w.serial) FROM coat_cup with_it CROSS JOIN cup w ON w.id = with_it.cup_id WHERE with_it.coat_id = c.id) AS cups,
    k.code, s.name AS supply, s.kind, s.base_unit, used.amount, used.cost_micro, k.opened_on, l.id AS lotId, l.number,
    l.expires_on, l.expiry_basis, n.name AS maker, e.name AS seller, d.received_on
  FROM cup u
    CROSS JOIN coat_cup cc ON cc.cup_id = u.id
    CROSS JOIN coat c ON c.id = cc.coat_id
    CROSS JOIN action a ON a.id = c.action_id
    CROSS JOIN layer y ON y.id = c.layer_id
    LEFT JOIN mix x ON x.coat_id = c.id
    CROSS JOIN movement used ON used.coat_id = c.id
    CROSS JOIN container k ON k.id = used.container_id
    CROSS JOIN supply s ON s.id = k.supply_id
    CROSS JOIN container_lot t ON t.container_id = k.id AND t.movement_id < used.id
    CROSS JOIN lot l ON l.id = t.lot_id
    LEFT JOIN maker n ON n.id = l.maker_id
    LEFT JOIN receipt_line r ON r.id = k.receipt_line_id
    LEFT JOIN delivery d ON d.id = r.delivery_id
    LEFT JOIN seller e ON e.id = d.seller_id
  WHERE u.serial = ?`

/**
 * Tracing a lot to its cups, and a cup to its lots, in a long history, against the bare query by index that returns the same cups, and
 * nothing else. Further lines have the same traces in a history a quarter as long.
 */
export async function tracing(folder: string): Promise<Line[]> {
  const path = join(folder, "history.db")
  const history = longHistory(path)
  const studio: Studio = { file: history.file, now: () => assert.fail("a trace needs no clock") }
  const bare = new Database(path, { readonly: true })
  const cups = bare.prepare(CUPS)
  const lots = bare.prepare(LOTS)
  const lines: Line[] = []
  for (const movements of [MOVEMENTS / 4, MOVEMENTS]) {
    const filled = history.fill(movements)
    const [lot, twice, fourTimes] = ([60, 120, 240] as const).map((count) => {
      const id = history.lotOfCups(count)
      const found = serials(cups.all(id))
      assert.equal(found.length, count)
      assert.deepEqual(serials(traceLot(studio, id).cups), found)
      return id
    })
    // every cup of the three lots; that also is what a server has done that has run for a while
    const made = [lot, twice, fourTimes].flatMap((id) => serials(cups.all(id!)))
    for (const one of made) assert.deepEqual(lotsOf(traceCup(studio, one)), lotsOfRows(lots.all(one)))
    const serial = made[0]!
    const back = await byTurns({
      trace: () => traceCup(studio, serial),
      bare: () => lots.all(serial),
    })
    const times = await byTurns({
      trace: () => traceLot(studio, lot!),
      bare: () => cups.all(lot!),
      twice: () => traceLot(studio, twice!),
      fourTimes: () => traceLot(studio, fourTimes!),
    })
    lines.push({
      name: `trace a cup to its lots among ${filled} movements`,
      value: back.trace,
      unit: "ms",
      floor: back.bare,
      aim: { ratio: 2 },
    })
    lines.push({
      name: `trace a lot to 60 cups among ${filled} movements`,
      value: times.trace,
      unit: "ms",
      floor: times.bare,
      aim: { ratio: 2 },
      growth: { twice: times.twice / times.trace, fourTimes: times.fourTimes / times.trace },
    })
  }
  bare.close()
  history.file.close()
  return lines.reverse()
}

/** Coat, container and lot of each share, in one order. */
function lotsOf(trace: CupTrace): string[] {
  const coats = trace.layers.flatMap((layer) => layer.coats)
  return coats
    .flatMap((coat) =>
      coat.uses.flatMap((use) => use.lots.map((one) => `${coat.coatId} ${use.container} ${one.lotId}`)),
    )
    .sort()
}

function lotsOfRows(rows: readonly unknown[]): string[] {
  return (rows as { coatId: number; code: string; lotId: number }[])
    .map((row) => `${row.coatId} ${row.code} ${row.lotId}`)
    .sort()
}

function serials(cups: readonly unknown[]): string[] {
  return (cups as { serial: string }[]).map((cup) => cup.serial)
}
