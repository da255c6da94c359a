import { daysBetween, plusDays } from "../domain/dates.ts"
import type { SteadyUse } from "../domain/forecast.ts"
import type { ScrapRecord } from "../domain/scrap.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"

export type { ScrapRecord } from "../domain/scrap.ts"

const FINISHED = `SELECT v.design_id AS designId, count(*) AS made, sum(c.state = 'scrapped') AS scrapped
  FROM cup c JOIN batch b ON b.id = c.batch_id JOIN design_version v ON v.id = b.version_id
  WHERE c.state IN ('good', 'second', 'scrapped', 'sent', 'returned') GROUP BY v.design_id`

/** What became of each design's cups; none where none was finished yet. */
export function scrapRecords(studio: Studio): (designId: number) => ScrapRecord {
  const known = new Map(
    studio.file
      .allText<ScrapRecord & { designId: number }>(FINISHED)
      .map(({ designId, ...record }) => [designId, record]),
  )
  return (designId) => known.get(designId) ?? { made: 0, scrapped: 0 }
}

/** Steady use is read from so many weeks. */
export const STEADY_WEEKS = 12

/** What was used for no coat, or found gone when it was counted; what was spilled or thrown away is no steady use. */
const NO_COAT = `SELECT c.supply_id AS supplyId, -sum(m.amount) AS used FROM movement m INDEXED BY movement_no_coat
    JOIN container c ON c.id = m.container_id JOIN action a ON a.id = m.action_id
  WHERE m.coat_id IS NULL AND m.kind IN ('use', 'count') AND a.happened_on > ?
    AND ${stands("a.id")}
  GROUP BY c.supply_id HAVING used > 0 ORDER BY c.supply_id`

/** What is used whether or not an order is made, a week on average over the last twelve, or since the book begins. */
export function steadyUse(studio: Studio): SteadyUse[] {
  const today = todayOf(studio)
  const since = plusDays(today, -7 * STEADY_WEEKS)
  const rows = studio.file.allText<{ supplyId: number; used: number }>(NO_COAT, [since])
  if (rows.length === 0) return []
  const first = studio.file.firstText<{ day: string }>(
    "SELECT happened_on AS day FROM action ORDER BY id LIMIT 1",
  )
  const weeks = Math.min(STEADY_WEEKS, Math.max(1, daysBetween(first?.day ?? today, today) / 7))
  return rows.map(({ supplyId, used }) => ({ supplyId, perWeek: Math.round(used / weeks) }))
}
