import { queryRule, type Rule, undone } from "./rule.ts"

/** The last mark of two opposite kinds that still stands. */
function lastMark(of: string, on: string, off: string): string {
  return `coalesce((SELECT m.kind = '${on}' FROM mark m WHERE ${of} AND m.kind IN ('${on}', '${off}') AND NOT ${undone("m.action_id")} ORDER BY m.id DESC LIMIT 1), 0)`
}

const ofContainer = "m.container_id = c.id"

/** What a container or lot is said to be is what its marks say that were not taken back. */
const held = queryRule(
  "holds follow their marks",
  `SELECT place FROM (
     SELECT c.code AS place, c.held, ${lastMark(ofContainer, "held", "released")} AS should FROM container c
     UNION ALL SELECT 'lot ' || l.id, l.held, ${lastMark("m.lot_id = l.id", "held", "released")} FROM lot l
   ) WHERE held <> should`,
  () => "It is held although no hold stands, or is free although one does.",
)

/** On the bench is the container of a supply that was put there last, unless it was taken off since. */
const bench = queryRule(
  "the bench follows its marks",
  `SELECT c.code AS place FROM container c WHERE c.on_bench <> iif(${lastMark(ofContainer, "benched", "unbenched")}, c.id = (
     SELECT m.container_id FROM container o JOIN mark m ON m.container_id = o.id
     WHERE o.supply_id = c.supply_id AND m.kind = 'benched' AND NOT ${undone("m.action_id")} ORDER BY m.id DESC LIMIT 1), 0)`,
  () => "Whether it is on the bench is not what its marks say.",
)

/** A container is open since its first opening, use or transfer that was not taken back. */
const opened = queryRule(
  "opened follows its marks",
  `SELECT code AS place FROM (
     SELECT c.code, c.opened_at, (
       SELECT min(a.happened_at) FROM (
         SELECT action_id FROM mark WHERE container_id = c.id AND kind = 'opened'
         UNION SELECT action_id FROM movement WHERE container_id = c.id AND kind IN ('use', 'transfer')
       ) o JOIN action a ON a.id = o.action_id WHERE NOT ${undone("a.id")}
     ) AS should FROM container c
   ) WHERE opened_at IS NOT should`,
  () => "The time it was opened is not the first that its marks and uses tell.",
)

/** Where a container stands and what it weighs empty is what was last done with it that stands. */
const lastChange = (column: string) =>
  `(SELECT h.${column} FROM container_change h WHERE h.container_id = c.id AND h.${column} IS NOT NULL AND NOT ${undone("h.action_id")} ORDER BY h.id DESC LIMIT 1)`
const places = queryRule(
  "places and weights follow their changes",
  `SELECT c.code AS place FROM container c
   WHERE c.place IS NOT nullif(${lastChange("place")}, '') OR c.empty_mg IS NOT ${lastChange("empty_mg")}`,
  () => "Where it stands, or what it weighs empty, is not what was last done with it.",
)

const cups = queryRule(
  "cups follow their changes",
  `SELECT c.serial AS place, c.state, c.order_line_id FROM cup c
   WHERE c.state IS NOT (SELECT h.state FROM cup_change h WHERE h.cup_id = c.id AND h.state IS NOT NULL AND NOT ${undone("h.action_id")} ORDER BY h.id DESC LIMIT 1)
      OR c.order_line_id IS NOT nullif((SELECT h.order_line_id FROM cup_change h WHERE h.cup_id = c.id AND h.order_line_id IS NOT NULL AND NOT ${undone("h.action_id")} ORDER BY h.id DESC LIMIT 1), 0)`,
  (row) => `It is said to be ${row.state ?? "not started"}; what was done with it says otherwise.`,
)

/** A cup is in the batch it was started in, or in the last that it went on in; each time it went from where it was. */
const batches = queryRule(
  "cups are in the batch they went on in",
  `SELECT c.serial AS place, c.batch_id FROM cup c
   WHERE c.batch_id <> coalesce(
       (SELECT m.to_batch_id FROM cup_move m WHERE m.cup_id = c.id AND NOT ${undone("m.action_id")} ORDER BY m.id DESC LIMIT 1),
       (SELECT m.from_batch_id FROM cup_move m WHERE m.cup_id = c.id ORDER BY m.id LIMIT 1),
       (SELECT b.id FROM batch b JOIN cup_change h ON h.action_id = b.action_id WHERE h.cup_id = c.id ORDER BY h.id LIMIT 1),
       c.batch_id)
     OR EXISTS (SELECT 1 FROM cup_move m JOIN batch f ON f.id = m.from_batch_id JOIN batch t ON t.id = m.to_batch_id
       WHERE m.cup_id = c.id AND f.version_id <> t.version_id)`,
  (row) => `It is said to be in batch ${row.batch_id}; where it went on says otherwise.`,
)

const frozen = queryRule(
  "used designs are frozen",
  `SELECT d.name || ' version ' || v.number AS place FROM design_version v JOIN design d ON d.id = v.design_id
   WHERE v.frozen = 0 AND EXISTS (SELECT 1 FROM batch b WHERE b.version_id = v.id)`,
  () => "A batch was made by it, yet it can still be changed.",
)

/** What stands for something else is counted as that is, or its amounts would mean nothing. */
const substitutes = queryRule(
  "substitutes are counted alike",
  `SELECT own.name AS place, other.name AS other FROM (
     SELECT supply_id, substitute_id FROM supply_substitute
     UNION SELECT supply_id, substitute_id FROM batch_substitute WHERE substitute_id IS NOT NULL
   ) x JOIN supply own ON own.id = x.supply_id JOIN supply other ON other.id = x.substitute_id
   WHERE own.base_unit <> other.base_unit`,
  (row) => `${row.other} stands in for it and is counted another way.`,
)

export const stateRules: readonly Rule[] = [held, bench, opened, places, cups, batches, frozen, substitutes]
