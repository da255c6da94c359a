import { leftOtherwise } from "../ledger/row-change.ts"
import { queryRule, type Rule, undone } from "./rule.ts"

/** Orders, purchases, deliveries, Set up and designs are edited rows: what an action wrote down of one still stands. */
const edited: Rule = {
  name: "what was edited stands as it was left",
  check: (file) =>
    leftOtherwise(file).map(({ thing, id, summary }) => ({
      where: `${thing} ${id}`,
      sentence: `It was changed since by something that is not in the history; last in it: “${summary}”.`,
    })),
}

/** Only the last that is known of a container counts; less may be written than is missing, where less was left. */
const counted = queryRule(
  "an accepted count is written",
  `SELECT 'container ' || c.code AS place, l.found - l.book AS difference, coalesce(m.amount, 0) AS written
   FROM stocktake_end e JOIN stocktake_line l ON l.stocktake_id = e.stocktake_id AND l.action_id < e.action_id
     JOIN container c ON c.id = l.container_id
     LEFT JOIN movement m ON m.action_id = e.action_id AND m.container_id = l.container_id
   WHERE e.how = 'accepted' AND l.id = (
       SELECT max(o.id) FROM stocktake_line o WHERE o.stocktake_id = l.stocktake_id AND o.container_id = l.container_id
         AND o.action_id < e.action_id AND NOT (${undone("o.action_id")}
           AND (SELECT r.id FROM action r WHERE r.reverses_action_id = o.action_id) < e.action_id))
     AND coalesce(m.amount, 0) <> l.found - l.book
     AND NOT (l.found < l.book AND coalesce(m.amount, 0) BETWEEN l.found - l.book AND 0 AND coalesce((
       SELECT sum(x.amount) FROM movement x WHERE x.container_id = l.container_id AND x.action_id <= e.action_id), 0) = 0)`,
  (row) => `A count that was accepted found a difference of ${row.difference}; ${row.written} was written.`,
)

const endedTwice = queryRule(
  "a count ends once",
  `SELECT 'count ' || e.stocktake_id AS place, count(*) AS times FROM stocktake_end e
   WHERE NOT ${undone("e.action_id")} GROUP BY e.stocktake_id HAVING count(*) > 1`,
  (row) => `It was accepted or dropped ${row.times} times.`,
)

export const editRules: readonly Rule[] = [edited, counted, endedTwice]
