import type { StudioFile } from "../../db/file.ts"
import type { SupplyKind } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"

/**
 * How money comes onto the shelf and leaves it again. "poured": from one bottle into another of the same supply, so
 * it adds up to nothing; "late": a delivery's shipping and tax on what was gone before they were shared out.
 */
export type Flow =
  | "begun"
  | "bought"
  | "extras"
  | "poured"
  | "cups"
  | "other use"
  | "waste"
  | "given"
  | "counted"
  | "late"

/** What changed of one supply on one day in one way. Plus: onto the shelf; minus: off it. */
export interface Change {
  supplyId: number
  kind: SupplyKind
  flow: Flow
  micro: number
}

/** The reason under which a thing left the studio as a gift and not as waste. */
const GIVEN = "given away"

/**
 * SQL: every change of an amount or its cost as `change(action_id,
 * supply_id, container_id, amount, micro, reason, day, flow)`.
 *
 * A change stands on the day on which it happened, whenever it was written down; what came in, on the day its
 * delivery came, with its shipping and tax, so that nothing is used before it is there. An undo stands on the day of
 * what it takes back: what was undone is as if it had never been done.
 */
export const CHANGES = `WITH change AS (
  SELECT of.action_id, c.supply_id, c.id AS container_id, m.amount, m.cost_micro AS micro, a.reason,
    CASE of.kind WHEN 'receive' THEN coalesce(d.received_on, a.happened_on)
      ELSE max(a.happened_on, coalesce(d.received_on, '')) END AS day,
    CASE of.kind WHEN 'receive' THEN iif(d.kind = 'opening', 'begun', 'bought')
      WHEN 'transfer' THEN 'poured'
      WHEN 'use' THEN iif(of.coat_id IS NULL, 'other use', 'cups')
      WHEN 'count' THEN 'counted'
      ELSE iif(lower(trim(a.reason)) = '${GIVEN}', 'given', 'waste') END AS flow
  FROM movement m JOIN movement of ON of.id = coalesce(m.reverses_movement_id, m.id)
    JOIN action a ON a.id = of.action_id JOIN container c ON c.id = m.container_id
    LEFT JOIN receipt_line r ON r.id = c.receipt_line_id LEFT JOIN delivery d ON d.id = r.delivery_id
  UNION ALL
  SELECT s.action_id, c.supply_id, c.id, 0, iif(part.late = 1, s.kept_micro - s.share_micro, s.share_micro), '', d.received_on,
    iif(part.late = 1, 'late', 'extras')
  FROM container_cost s JOIN container c ON c.id = s.container_id
    JOIN receipt_line r ON r.id = c.receipt_line_id JOIN delivery d ON d.id = r.delivery_id
    CROSS JOIN (SELECT 0 AS late UNION ALL SELECT 1) part
)`

/**
 * What changed from a day to a day, both counted in, by supply and way.
 *
 * @param from left out: from the beginning
 * @param to left out: all there is
 */
export function changesOf(file: StudioFile, from: IsoDate = "", to: IsoDate = FAR_OFF): Change[] {
  return file.allText<Change>(
    `${CHANGES} SELECT s.id AS supplyId, s.kind, change.flow, sum(change.micro) AS micro
     FROM change JOIN supply s ON s.id = change.supply_id WHERE change.day BETWEEN ? AND ?
     GROUP BY s.id, change.flow HAVING sum(change.micro) <> 0 ORDER BY s.id, change.flow`,
    [from, to],
  )
}

/** After every day that is written down: a change of time zone may put the last one on tomorrow. */
export const FAR_OFF: IsoDate = "9999-12-31"
