import type { Studio } from "../ledger/studio.ts"
import { type PackInfo, packs } from "../supplies/service.ts"

/** What a base unit of a supply costs, in micro, not rounded, and how that is known. */
export interface UnitCost {
  micro: number
  /** what was paid for what is on the shelf, or the cheapest pack anybody offers */
  from: "shelf" | "offer"
}

/**
 * What a base unit of each supply costs: the average paid for what is on the shelf, or where nothing is, the
 * cheapest pack. Containers that carry no cost (what was there on the first day) do not pull the average down.
 *
 * @returns by supply id; a supply nobody priced is left out
 */
export function unitCosts(studio: Studio): Map<number, UnitCost> {
  const costs = new Map<number, UnitCost>()
  for (const pack of packs(studio)) {
    // 0 is what stands there where nobody said a price
    const price = Math.min(...pack.offers.flatMap(({ priceMicro }) => (priceMicro > 0 ? priceMicro : [])))
    if (!Number.isFinite(price)) continue
    for (const [supplyId, micro] of shareOut(pack, price)) {
      if (micro < (costs.get(supplyId)?.micro ?? Number.POSITIVE_INFINITY)) {
        costs.set(supplyId, { micro, from: "offer" })
      }
    }
  }
  const onShelf = studio.file.allText<{ supplyId: number; micro: number }>(
    `SELECT supply_id AS supplyId, sum(cost_left_micro) * 1.0 / sum(amount_left) AS micro
     FROM container WHERE amount_left > 0 AND cost_left_micro > 0 AND held = 0 GROUP BY supply_id`,
  )
  for (const { supplyId, micro } of onShelf) costs.set(supplyId, { micro, from: "shelf" })
  return costs
}

/** A pack's price by base unit of each supply in it, shared out as receiving does: by amount, or evenly. */
function shareOut(pack: PackInfo, priceMicro: number): [supplyId: number, micro: number][] {
  const { contents } = pack
  const oneUnit = new Set(contents.map((content) => content.baseUnit)).size === 1
  const weight = (content: PackInfo["contents"][number]) =>
    content.containerCount * (oneUnit ? content.amount : 1)
  const whole = contents.reduce((sum, content) => sum + weight(content), 0)
  return contents.map((content) => {
    const part = (priceMicro * weight(content)) / whole
    return [content.supplyId, part / (content.amount * content.containerCount)]
  })
}
