import { parseStudioCode } from "../domain/studio-code.ts"
import { queryRule, type Rule } from "./rule.ts"

/** What holds something knows the lots that are in it, from its first filling on. */
const lots = queryRule(
  "every container knows its lots",
  `SELECT c.code AS place FROM container c
   WHERE EXISTS (SELECT 1 FROM movement m WHERE m.container_id = c.id)
     AND NOT EXISTS (SELECT 1 FROM container_lot l WHERE l.container_id = c.id AND l.movement_id = (SELECT min(m.id) FROM movement m WHERE m.container_id = c.id))`,
  () => "Nothing says which lot it was filled with.",
)

const topUps = queryRule(
  "a top-up brings its lots",
  `SELECT c.code AS place, m.id FROM movement m JOIN container c ON c.id = m.container_id
   WHERE m.kind = 'transfer' AND m.amount > 0
     AND NOT EXISTS (SELECT 1 FROM container_lot l WHERE l.movement_id = m.id AND l.container_id = c.id)`,
  (row) => `Movement ${row.id} poured something in, and nothing says of which lot.`,
)

const sameSupply = queryRule(
  "a lot is of the container's supply",
  `SELECT c.code AS place FROM container_lot x JOIN container c ON c.id = x.container_id JOIN lot l ON l.id = x.lot_id
   WHERE l.supply_id <> c.supply_id`,
  () => "A lot of another supply is said to be in it.",
)

/** The batch that a cup of coat c was in when it was coated: what was undone later stood then. */
const BATCH_THEN = `coalesce(
  (SELECT m.to_batch_id FROM cup_move m WHERE m.cup_id = u.id AND m.action_id < c.action_id
     AND NOT EXISTS (SELECT 1 FROM action r WHERE r.reverses_action_id = m.action_id AND r.id < c.action_id)
   ORDER BY m.id DESC LIMIT 1),
  (SELECT m.from_batch_id FROM cup_move m WHERE m.cup_id = u.id ORDER BY m.id LIMIT 1),
  u.batch_id)`
const coatCups = queryRule(
  "every coat is on a cup of its batch",
  `SELECT 'coat ' || c.id AS place FROM coat c
   WHERE NOT EXISTS (SELECT 1 FROM coat_cup x WHERE x.coat_id = c.id)
      OR EXISTS (SELECT 1 FROM coat_cup x JOIN cup u ON u.id = x.cup_id WHERE x.coat_id = c.id AND ${BATCH_THEN} <> c.batch_id)`,
  () => "A cup that has it was in another batch then, or no cup has it.",
)

const coatLayers = queryRule(
  "every coat is a layer of its design",
  `SELECT 'coat ' || c.id AS place FROM coat c JOIN batch b ON b.id = c.batch_id JOIN layer l ON l.id = c.layer_id
   WHERE l.version_id <> b.version_id`,
  () => "Its layer belongs to another design than its batch.",
)

/** What was poured for a mix, as it was written, was taken from bottles of A and B in the same action. */
const mixes = queryRule(
  "a mix is what was poured",
  `SELECT place, part, wrote, took FROM (
     SELECT p.code AS place, p.part, p.wrote,
       -(SELECT coalesce(sum(m.amount), 0) FROM movement m JOIN container c ON c.id = m.container_id
         WHERE m.coat_id = p.coat_id AND m.action_id = k.action_id AND c.supply_id = p.supply_id) AS took
     FROM (SELECT x.code, x.coat_id, 'A' AS part, x.actual_a AS wrote, s.part_a_supply_id AS supply_id
             FROM mix x JOIN resin_system s ON s.id = x.resin_system_id
           UNION ALL SELECT x.code, x.coat_id, 'B', x.actual_b, s.part_b_supply_id
             FROM mix x JOIN resin_system s ON s.id = x.resin_system_id) p
       JOIN coat k ON k.id = p.coat_id
   ) WHERE took < wrote`,
  (row) =>
    `Its part ${row.part} is said to be ${row.wrote}, but only ${row.took} were taken from bottles for it.`,
)

const unusedCoats = queryRule(
  "a coat leads to its bottles",
  `SELECT 'coat ' || c.id AS place FROM coat c
   WHERE json_array_length(c.workings) > 0 AND NOT EXISTS (SELECT 1 FROM movement m WHERE m.coat_id = c.id)`,
  () => "It says what it took, yet nothing was taken for it.",
)

const usesOfCoats = queryRule(
  "what a coat used was used in its own action",
  `SELECT 'movement ' || m.id AS place FROM movement m JOIN coat c ON c.id = m.coat_id JOIN action a ON a.id = m.action_id
   WHERE m.action_id <> c.action_id AND m.kind = 'use' AND m.action_id < c.action_id`,
  () => "It was used before the coat it is said to be for.",
)

/** The codes on bottles, cups and mixes pass their own check. */
const codes: Rule = {
  name: "codes pass their check",
  check: (file) =>
    [
      ["container", "SELECT code FROM container"],
      ["cup", "SELECT serial AS code FROM cup"],
      ["mix", "SELECT code FROM mix"],
    ].flatMap(([kind, text]) =>
      file
        .allText<{ code: string }>(text as string)
        .filter(({ code }) => {
          const parsed = parseStudioCode(code)
          return parsed === null || parsed.kind !== kind || parsed.code !== code
        })
        .map(({ code }) => ({ where: code, sentence: `It is no code that a ${kind} can have.` })),
    ),
}

export const tracingRules: readonly Rule[] = [
  lots,
  topUps,
  sameSupply,
  coatCups,
  coatLayers,
  mixes,
  unusedCoats,
  usesOfCoats,
  codes,
]
