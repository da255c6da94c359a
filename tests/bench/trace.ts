import assert from "node:assert/strict"
import { join } from "node:path"
import Database from "better-sqlite3"
import type { Studio } from "../../server/ledger/studio.ts"
import { traceLot } from "../../server/tracing/service.ts"
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
 * Tracing a lot to its cups in a long history, against the bare query by index that returns the same cups, and
 * nothing else. A second line has the same lot's trace in a history a quarter as long.
 */
export async function tracing(folder: string): Promise<Line[]> {
  const path = join(folder, "history.db")
  const history = longHistory(path)
  const studio: Studio = { file: history.file, now: () => assert.fail("a trace needs no clock") }
  const bare = new Database(path, { readonly: true })
  const cups = bare.prepare(CUPS)
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
    const times = await byTurns({
      trace: () => traceLot(studio, lot!),
      bare: () => cups.all(lot!),
      twice: () => traceLot(studio, twice!),
      fourTimes: () => traceLot(studio, fourTimes!),
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

function serials(cups: readonly unknown[]): string[] {
  return (cups as { serial: string }[]).map((cup) => cup.serial)
}
