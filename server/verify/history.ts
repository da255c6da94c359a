import { queryRule, type Rule } from "./rule.ts"

/** An undo takes back every movement of its action, each once and exactly, and nothing else. */
const reversals = queryRule(
  "undo takes back all of it",
  `SELECT 'action ' || u.id AS place, u.reverses_action_id AS action,
     (SELECT count(*) FROM movement m WHERE m.action_id = u.reverses_action_id) AS done,
     (SELECT count(*) FROM movement m WHERE m.action_id = u.id) AS taken_back,
     (SELECT count(*) FROM movement m JOIN movement o ON o.id = m.reverses_movement_id
      WHERE m.action_id = u.id AND o.action_id = u.reverses_action_id AND o.amount = -m.amount AND o.container_id = m.container_id) AS exact
   FROM action u WHERE u.reverses_action_id IS NOT NULL GROUP BY u.id HAVING done <> taken_back OR done <> exact`,
  (row) =>
    `It takes back action ${row.action}, which made ${row.done} movements; ${row.exact} of them are taken back exactly.`,
)

/** An undo takes back, container by container, the parts of a delivery's costs that its action gave. */
const costReversals = queryRule(
  "undo takes back shares of costs",
  `SELECT 'action ' || u.id AS place, s.container_id AS container
   FROM action u JOIN container_cost s ON s.action_id IN (u.id, u.reverses_action_id)
   WHERE u.reverses_action_id IS NOT NULL GROUP BY u.id, s.container_id HAVING sum(s.share_micro) <> 0`,
  (row) => `What container ${row.container} was given of a delivery's costs is not taken back exactly.`,
)

const strayReversals = queryRule(
  "only an undo takes back",
  `SELECT 'movement ' || m.id AS place FROM movement m JOIN action a ON a.id = m.action_id
   WHERE (m.reverses_movement_id IS NOT NULL) <> (a.reverses_action_id IS NOT NULL)`,
  () => "It takes something back outside an undo, or does something new inside one.",
)

const twice = queryRule(
  "an undo is not undone",
  `SELECT 'action ' || u.id AS place FROM action u JOIN action o ON o.id = u.reverses_action_id
   WHERE o.reverses_action_id IS NOT NULL OR u.id <= o.id`,
  () => "It takes back another undo, or something that came after it.",
)

const times = queryRule(
  "times make sense",
  `SELECT 'action ' || a.id AS place, a.happened_at, a.happened_on, a.recorded_at FROM action a
   WHERE julianday(a.happened_at) > julianday(a.recorded_at) + 2.0 / 1440
      OR a.happened_on <> date(a.happened_at, a.happened_offset_min || ' minutes')`,
  (row) =>
    `It happened at ${row.happened_at} on ${row.happened_on} and was recorded at ${row.recorded_at}: that cannot be.`,
)

const numbering = queryRule(
  "nothing was taken out of the history",
  `SELECT 'history' AS place, (SELECT seq FROM sqlite_sequence WHERE name = 'action') AS last, count(*) AS n, max(id) AS highest FROM action
   HAVING last <> highest OR highest <> n`,
  (row) => `The last action is number ${row.last}, yet ${row.n} are there.`,
)

const beforeArrival = queryRule(
  "nothing is used before it came",
  `SELECT c.code AS place, a.happened_on, d.received_on FROM movement m JOIN action a ON a.id = m.action_id
     JOIN container c ON c.id = m.container_id JOIN receipt_line l ON l.id = c.receipt_line_id
     JOIN delivery d ON d.id = l.delivery_id
   WHERE m.kind <> 'reverse' AND a.happened_on < d.received_on`,
  (row) => `Something happened to it on ${row.happened_on}, before it came on ${row.received_on}.`,
)

export const historyRules: readonly Rule[] = [
  reversals,
  costReversals,
  strayReversals,
  twice,
  times,
  numbering,
  beforeArrival,
]
