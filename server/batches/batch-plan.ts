import type { Plan, ResinSystem } from "../domain/plan.ts"
import { type Substitute, type Substitutes, withSubstitutes } from "../domain/substitutes.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { planSupplies, resinSystems } from "../supplies/service.ts"

/** What one batch takes in place of its design's own, to be chosen anew. */
export interface Chosen extends Substitutes {
  supplies: Map<number, Substitute>
  resins: Map<number, ResinSystem>
}

/** What batches take in place of their designs' own supplies and resins, by the batch's id. */
export function batchSubstitutes(studio: Studio): Map<number, Chosen> {
  const { file } = studio
  const batches = new Map<number, Chosen>()
  const of = (batchId: number) => {
    const own = batches.get(batchId) ?? { supplies: new Map(), resins: new Map() }
    batches.set(batchId, own)
    return own
  }
  const supplyRows = file.allText<{
    batch_id: number
    supply_id: number
    substitute_id: number | null
    ratio_ppm: number
  }>(
    `SELECT batch_id, supply_id, substitute_id, ratio_ppm FROM batch_substitute b
     WHERE ${stands("b.action_id")} ORDER BY id`,
  )
  const resinRows = file.allText<{ batch_id: number; system_id: number; substitute_id: number | null }>(
    `SELECT batch_id, system_id, substitute_id FROM batch_resin_substitute b
     WHERE ${stands("b.action_id")} ORDER BY id`,
  )
  if (supplyRows.length === 0 && resinRows.length === 0) return batches
  const supplies = planSupplies(studio)
  for (const row of supplyRows) {
    const supply = row.substitute_id === null ? undefined : supplies.get(row.substitute_id)
    const own = of(row.batch_id).supplies
    if (supply) own.set(row.supply_id, { supply, ratioPpm: row.ratio_ppm })
    else own.delete(row.supply_id)
  }
  if (resinRows.length === 0) return batches
  const systems = new Map(resinSystems(studio, supplies).map((system) => [system.id, system]))
  for (const row of resinRows) {
    const system = row.substitute_id === null ? undefined : systems.get(row.substitute_id)
    const own = of(row.batch_id).resins
    if (system) own.set(row.system_id, system)
    else own.delete(row.system_id)
  }
  return batches
}

/** A plan as a batch is made by it from now on: with what is taken in place of the design's own. */
export function planOfBatch(studio: Studio, batchId: number, plan: Plan): Plan {
  return withSubstitutes(plan, batchSubstitutes(studio).get(batchId) ?? {})
}
