import type { BaseUnit } from "../../db/tables.ts"
import { type Countable, type Places, rankedForCounting } from "../domain/count-worth.ts"
import { type IsoDate, plusDays } from "../domain/dates.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"

/** "Lately", for how fast something is used. */
export const LATELY_DAYS = 30

/** A container worth counting next, and why. */
export interface Suggestion extends Countable {
  code: string
  supply: string
  baseUnit: BaseUnit
  places: Places
  /** when somebody last weighed or counted it; null: never */
  lookedOn: IsoDate | null
}

/**
 * The last action by which somebody looked: a count or weighing of its own, which may have found nothing to change,
 * or a line of a count of the shelf that was accepted.
 */
const LOOKED = `SELECT max(id) FROM (
    SELECT max(k.action_id) AS id FROM movement k WHERE k.container_id = c.id AND k.kind = 'count' AND ${stands("k.action_id")}
    UNION ALL SELECT max(l.action_id) FROM stocktake_line l JOIN stocktake_end e ON e.stocktake_id = l.stocktake_id
      WHERE l.container_id = c.id AND e.how = 'accepted' AND ${stands("l.action_id")} AND ${stands("e.action_id")}
    UNION ALL SELECT looked.id FROM looked WHERE looked.code = c.code)`

/** What is worth counting next, by worth, by speed and by doubt (`rankedForCounting`). */
export function worthCounting(studio: Studio, most = 8): Suggestion[] {
  const rows = studio.file.allText<Omit<Suggestion, "places">>(
    `WITH looked (code, id) AS MATERIALIZED (
       SELECT json_extract(a.answer, '$.code'), max(a.id) FROM action a
       WHERE a.kind IN ('count', 'weigh') AND json_extract(a.answer, '$.difference') IS NOT NULL AND ${stands("a.id")} GROUP BY 1),
     seen AS (SELECT c.id, c.code, c.supply_id, c.amount_left, c.cost_left_micro, (${LOOKED}) AS looked_id
       FROM container c WHERE c.amount_left > 0)
     SELECT c.code, s.name AS supply, s.base_unit AS baseUnit, c.amount_left AS amountLeft, c.cost_left_micro AS costLeftMicro,
       coalesce(-sum(CASE WHEN a.happened_on > :since THEN m.cost_micro END), 0) AS usedLatelyMicro,
       coalesce(-sum(CASE WHEN m.basis = 'planned' AND m.action_id > coalesce(c.looked_id, 0) THEN m.amount END), 0) AS unseen,
       (SELECT happened_on FROM action WHERE id = c.looked_id) AS lookedOn
     FROM seen c JOIN supply s ON s.id = c.supply_id JOIN movement m ON m.container_id = c.id JOIN action a ON a.id = m.action_id
     WHERE m.kind = 'use' AND ${stands("m.action_id")} GROUP BY c.id ORDER BY c.id`,
    { since: plusDays(todayOf(studio), -LATELY_DAYS) },
  )
  return rankedForCounting(rows).slice(0, most)
}
