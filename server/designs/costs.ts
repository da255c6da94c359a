import type { StudioFile } from "../../db/file.ts"

/**
 * What a base unit of each supply costs: by what is on hand, or where nothing is, by the cheapest pack that holds
 * that supply alone.
 *
 * @returns micro currency units a base unit, not rounded, by supply id; a supply nobody priced is left out
 */
export function unitCosts(file: StudioFile): Map<number, number> {
  const offered = file.allText<{ supply_id: number; cost: number }>(
    `SELECT c.supply_id, min(o.price_micro * 1.0 / (c.amount * c.container_count)) AS cost
     FROM pack_content c JOIN offer o ON o.pack_id = c.pack_id
     WHERE (SELECT count(*) FROM pack_content WHERE pack_id = c.pack_id) = 1 GROUP BY c.supply_id`,
  )
  const onHand = file.allText<{ supply_id: number; cost: number }>(
    `SELECT supply_id, sum(cost_left_micro) * 1.0 / sum(amount_left) AS cost
     FROM container WHERE amount_left > 0 GROUP BY supply_id`,
  )
  return new Map([...offered, ...onHand].map((row) => [row.supply_id, row.cost]))
}
