import type { StudioFile } from "../../db/file.ts"
import { apportion } from "../domain/apportion.ts"

/**
 * What each cup of a batch took in materials, from the very containers used. A coat's cost is shared evenly
 * over its cups; parts add up to the whole to the millionth.
 *
 * @returns micro currency units by cup id
 */
export function cupCosts(file: StudioFile, batchId: number): Map<number, number> {
  const rows = file.allText<{ coat_id: number; cost: number; cups: string }>(
    `SELECT c.id AS coat_id, (SELECT coalesce(-sum(m.cost_micro), 0) FROM movement m WHERE m.coat_id = c.id AND m.kind IN ('use', 'reverse')) AS cost,
       (SELECT group_concat(cup_id) FROM coat_cup WHERE coat_id = c.id) AS cups
     FROM coat c WHERE c.batch_id = ? AND NOT EXISTS (SELECT 1 FROM action r WHERE r.reverses_action_id = c.action_id)`,
    [batchId],
  )
  const costs = new Map<number, number>()
  for (const row of rows) {
    const cups = row.cups.split(",").map(Number)
    const parts = apportion(
      row.cost,
      cups.map(() => 1),
    )
    for (const [index, cup] of cups.entries()) costs.set(cup, (costs.get(cup) ?? 0) + (parts[index] ?? 0))
  }
  return costs
}
