import { queryRule, type Rule } from "./rule.ts"

/** Whether a design's version mixes a resin somewhere. */
const mixes = (version: string, system: string) =>
  `EXISTS (SELECT 1 FROM layer d JOIN layer_use u ON u.layer_id = d.id WHERE d.version_id = ${version} AND u.resin_system_id = ${system})`

/** A resin stands in for another only where a batch's design has that one. */
const standsIn = queryRule(
  "a resin stands in for one of the design's",
  `SELECT 'batch ' || b.id AS place, own.name AS own
   FROM batch_resin_substitute x JOIN batch b ON b.id = x.batch_id JOIN resin_system own ON own.id = x.system_id
   WHERE NOT ${mixes("b.version_id", "x.system_id")}`,
  (row) => `Another is taken in place of ${row.own}, which its design does not mix.`,
)

/** A layer's mixes are of the resin that its design names there, or of one that was chosen for the batch before. */
const mixed = queryRule(
  "a mix is of the design's resin or of one chosen for it",
  `SELECT m.code AS place, r.name AS resin
   FROM mix m JOIN coat c ON c.id = m.coat_id JOIN resin_system r ON r.id = m.resin_system_id
   WHERE NOT EXISTS (SELECT 1 FROM layer_use u WHERE u.layer_id = c.layer_id AND u.resin_system_id = m.resin_system_id)
     AND NOT EXISTS (
       SELECT 1 FROM batch_resin_substitute x JOIN layer_use u ON u.layer_id = c.layer_id AND u.resin_system_id = x.system_id
       WHERE x.batch_id = c.batch_id AND x.substitute_id = m.resin_system_id AND x.action_id <= c.action_id)`,
  (row) => `It is of ${row.resin}, which neither its design names nor anybody chose for the batch.`,
)

export const resinRules: readonly Rule[] = [standsIn, mixed]
