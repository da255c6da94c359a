import type { Plan } from "../domain/plan.ts"
import { type Substitute, withSubstitutes } from "../domain/substitutes.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { planSupply, suppliesList } from "../supplies/service.ts"

/** What a batch takes in place of its design's own supplies, by the batch's id and then the supply's. */
export function batchSubstitutes(studio: Studio): Map<number, Map<number, Substitute>> {
  const rows = studio.file.allText<{
    batch_id: number
    supply_id: number
    substitute_id: number | null
    ratio_ppm: number
  }>(
    `SELECT batch_id, supply_id, substitute_id, ratio_ppm FROM batch_substitute b
     WHERE ${stands("b.action_id")} ORDER BY id`,
  )
  const batches = new Map<number, Map<number, Substitute>>()
  if (rows.length === 0) return batches
  const supplies = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
  for (const row of rows) {
    const own = batches.get(row.batch_id) ?? new Map<number, Substitute>()
    batches.set(row.batch_id, own)
    const supply = row.substitute_id === null ? undefined : supplies.get(row.substitute_id)
    if (supply) own.set(row.supply_id, { supply: planSupply(supply), ratioPpm: row.ratio_ppm })
    else own.delete(row.supply_id)
  }
  return batches
}

/** A plan as a batch is made by it: with what is taken in place of the design's own supplies. */
export function planOfBatch(studio: Studio, batchId: number, plan: Plan): Plan {
  return withSubstitutes(plan, batchSubstitutes(studio).get(batchId) ?? new Map())
}
