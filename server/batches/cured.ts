import { Temporal } from "temporal-polyfill"
import { sayDate } from "../domain/said-day.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"

/**
 * Coats that are on cups and how long each hardens, in minutes: a mix as long as its resin says, every layer but what
 * is only counted (a lid, a box) as long as its design says, and no less than it turns.
 */
const HARDENING = `SELECT cc.cup_id AS cupId, a.happened_at AS at,
    max(coalesce(r.full_cure_min, 0), CASE y.kind WHEN 'counted' THEN 0 ELSE max(y.turner_min, v.full_cure_min) END) AS cureMin
  FROM coat_cup cc JOIN coat c ON c.id = cc.coat_id JOIN action a ON a.id = c.action_id
    JOIN layer y ON y.id = c.layer_id JOIN design_version v ON v.id = y.version_id
    LEFT JOIN mix x ON x.coat_id = c.id LEFT JOIN resin_system r ON r.id = x.resin_system_id
  WHERE cc.cup_id IN (SELECT value FROM json_each(?)) AND ${stands("a.id")}
    AND NOT EXISTS (SELECT 1 FROM strip s WHERE s.cup_id = cc.cup_id AND s.action_id > c.action_id
      AND s.from_position <= y.position AND ${stands("s.action_id")})`

/** When the coats on each of these cups are fully cured, as ISO 8601; a cup that is cured by now is not in it. */
export function stillCuring(studio: Studio, cupIds: readonly number[]): Map<number, string> {
  const until = new Map<number, string>()
  const rows = studio.file.allText<{ cupId: number; at: string; cureMin: number }>(HARDENING, [
    JSON.stringify(cupIds),
  ])
  for (const { cupId, at, cureMin } of rows) {
    const cured = Temporal.Instant.from(at).add({ minutes: cureMin })
    const before = until.get(cupId)
    if (Temporal.Instant.compare(cured, studio.now()) <= 0) continue
    if (before !== undefined && Temporal.Instant.compare(cured, before) <= 0) continue
    until.set(cupId, cured.toString())
  }
  return until
}

/** “Not fully cured before Tue 8 Dec: not to be used until then.” of the cup that takes longest; null: all are cured */
export function curingRemark(studio: Studio, cupIds: readonly number[]): string | null {
  const last = [...stillCuring(studio, cupIds).values()].sort((a, b) => Temporal.Instant.compare(a, b)).at(-1)
  if (last === undefined) return null
  const day = Temporal.Instant.from(last).toZonedDateTimeISO(settingsOf(studio).timeZone).toPlainDate()
  return `Not fully cured before ${sayDate(day.toString(), todayOf(studio))}: not to be used until then.`
}
