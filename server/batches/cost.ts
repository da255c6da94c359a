import type { StudioFile } from "../../db/file.ts"
import { type CoatUse, coatShares } from "../domain/coat-shares.ts"
import { isPriced } from "../ledger/priced.ts"
import { stands } from "../ledger/stands.ts"

const USES = `SELECT m.coat_id, c.supply_id AS supply, -sum(m.amount) AS amount, -sum(m.cost_micro) AS costMicro
  FROM movement m JOIN container c ON c.id = m.container_id JOIN coat k ON k.id = m.coat_id
  WHERE m.kind IN ('use', 'reverse') AND ${stands("k.action_id")}`

const COATS_OF_BATCH =
  "m.coat_id IN (SELECT o.coat_id FROM cup u JOIN coat_cup o ON o.cup_id = u.id WHERE u.batch_id = ?)"

/**
 * Supplies on the cups of a batch of which no price is known: what `cupCosts` says of a cup leaves them out.
 *
 * @returns names by cup id, in the order they were taken; a cup all of whose prices are known is left out
 */
export function unpricedOnCups(file: StudioFile, batchId: number): Map<number, string[]> {
  const names = new Map<number, string[]>()
  for (const { id, supply } of file.allText<{ id: number; supply: string }>(UNPRICED, [batchId]))
    names.set(id, [...(names.get(id) ?? []), supply])
  return names
}

const UNPRICED = `SELECT id, supply FROM (
    SELECT u.id, s.id AS supply_id, s.name AS supply, min(m.id) AS taken
    FROM cup u JOIN coat_cup o ON o.cup_id = u.id JOIN coat k ON k.id = o.coat_id JOIN movement m ON m.coat_id = k.id
      JOIN container c ON c.id = m.container_id JOIN supply s ON s.id = c.supply_id
    WHERE u.batch_id = ? AND m.kind IN ('use', 'reverse') AND ${stands("k.action_id")}
    GROUP BY u.id, k.id, c.id HAVING sum(m.amount) < 0 AND sum(m.cost_micro) = 0 AND NOT ${isPriced("c.id")})
  GROUP BY id, supply_id ORDER BY min(taken)`

/**
 * What cups took in materials, from the very containers used, as `traceCup` says it of one; the parts of a coat's
 * cups add up to what the coat took, to the millionth. Coats that were stripped off again count.
 *
 * @param batchId the cups of one batch; left out: all cups
 * @returns micro currency units by cup id; a cup without a coat is left out
 */
export function cupCosts(file: StudioFile, batchId?: number): Map<number, number> {
  const which = batchId === undefined ? "" : ` AND ${COATS_OF_BATCH}`
  const values = batchId === undefined ? [] : [batchId]
  const usesOf = new Map<number, CoatUse[]>()
  for (const { coat_id, ...use } of file.allText<CoatUse & { coat_id: number }>(
    `${USES}${which} GROUP BY m.coat_id, m.container_id ORDER BY m.coat_id, min(m.id)`,
    values,
  )) {
    const uses = usesOf.get(coat_id)
    if (uses) uses.push(use)
    else usesOf.set(coat_id, [use])
  }
  const cupsOf = new Map<number, { id: number; isAsked: boolean }[]>()
  for (const { coat_id, ...cup } of file.allText<{ coat_id: number; id: number; isAsked: number }>(
    `SELECT m.coat_id, m.cup_id AS id, ${batchId === undefined ? "1" : "u.batch_id = ?"} AS isAsked
     FROM coat_cup m JOIN cup u ON u.id = m.cup_id WHERE 1${which} ORDER BY m.coat_id, m.cup_id`,
    [...values, ...values],
  )) {
    const cups = cupsOf.get(coat_id)
    if (cups) cups.push({ ...cup, isAsked: cup.isAsked === 1 })
    else cupsOf.set(coat_id, [{ ...cup, isAsked: cup.isAsked === 1 }])
  }
  const costs = new Map<number, number>()
  for (const [coatId, uses] of usesOf) {
    const cups = cupsOf.get(coatId) ?? []
    for (const { costsMicro } of coatShares(uses, cups.length)) {
      for (const [place, { id, isAsked }] of cups.entries())
        if (isAsked) costs.set(id, (costs.get(id) ?? 0) + (costsMicro[place] ?? 0))
    }
  }
  return costs
}
