import type { BaseUnit } from "../../db/tables.ts"
import type { ResinSystem } from "../domain/plan.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"
import { resinSystems } from "../supplies/service.ts"

/** A coat that is written and stands, and what it took by the book now. */
export interface WrittenCoat {
  coatId: number
  doneAt: string
  cups: number
  mix: WrittenMix | null
  uses: CoatUse[]
  /** by supply, in its base unit; none of what scuffing took */
  planned: Map<number, number>
  /** supplies that were measured */
  measured: Set<number>
}

export interface WrittenMix {
  code: string
  system: ResinSystem
  plannedA: number
  plannedB: number
  /** what the book says now, measured or as planned */
  bookedA: number
  bookedB: number
  /** planned to stay in the mixing cup, µL */
  residueUl: number
  /** what was found left in it, µL; null: nobody looked */
  leftUl: number | null
}

/** What one container gave to a coat, measured afterwards or not. */
export interface CoatUse {
  containerId: number
  code: string
  supplyId: number
  supply: string
  baseUnit: BaseUnit
  densityMgPerMl: number | null
  amount: number
  costMicro: number
}

/** The coats of one layer that stand and were put on in a batch or are on cups of it, the earliest first. */
export function coatsOf(studio: Studio, batchId: number, position: number): WrittenCoat[] {
  const { file } = studio
  // also one that stood in for the design's own
  const systems = new Map(resinSystems(studio).map((system) => [system.id, system]))
  return file
    .allText<{
      id: number
      at: string
      cups: number
      code: string | null
      system_id: number | null
      planned_a: number
      planned_b: number
      residue_ul: number
      left_ul: number | null
    }>(
      `SELECT c.id, a.happened_at AS at, (SELECT count(*) FROM coat_cup WHERE coat_id = c.id) AS cups,
         x.code, x.resin_system_id AS system_id, x.planned_a, x.planned_b, x.residue_ul, (
           SELECT f.left_ul FROM mix_left f WHERE f.coat_id = c.id AND ${stands("f.action_id")} ORDER BY f.id DESC LIMIT 1
         ) AS left_ul
       FROM coat c JOIN action a ON a.id = c.action_id JOIN layer l ON l.id = c.layer_id LEFT JOIN mix x ON x.coat_id = c.id
       WHERE (c.batch_id = ? OR c.id IN (
           SELECT o.coat_id FROM cup u JOIN coat_cup o ON o.cup_id = u.id WHERE u.batch_id = ?
         )) AND l.position = ? AND c.scuff_min IS NULL AND ${stands("a.id")} ORDER BY c.id`,
      [batchId, batchId, position],
    )
    .map((row) => {
      const uses = usesOf(studio, row.id)
      const booked = (supplyId: number) =>
        uses.filter((use) => use.supplyId === supplyId).reduce((sum, use) => sum + use.amount, 0)
      const system = systems.get(row.system_id ?? 0)
      return {
        coatId: row.id,
        doneAt: row.at,
        cups: row.cups,
        mix:
          system && row.code !== null
            ? {
                code: row.code,
                system,
                plannedA: row.planned_a,
                plannedB: row.planned_b,
                bookedA: booked(system.partA.id),
                bookedB: booked(system.partB.id),
                residueUl: row.residue_ul,
                leftUl: row.left_ul,
              }
            : null,
        uses,
        planned: new Map(
          file
            .allText<{ supply_id: number; planned: number }>(
              "SELECT supply_id, planned FROM coat_plan WHERE coat_id = ?",
              [row.id],
            )
            .map(({ supply_id, planned }) => [supply_id, planned]),
        ),
        measured: new Set(
          file
            .allText<{ id: number }>(
              `SELECT DISTINCT supply_id AS id FROM coat_actual WHERE coat_id = ? AND ${stands("coat_actual.action_id")}`,
              [row.id],
            )
            .map(({ id }) => id),
        ),
      }
    })
}

/** What a coat took, by container in the order of the first use; what was undone of it is off. */
function usesOf(studio: Studio, coatId: number): CoatUse[] {
  return studio.file.allText<CoatUse>(
    `SELECT c.id AS containerId, c.code, s.id AS supplyId, s.name AS supply, s.base_unit AS baseUnit,
       s.density_mg_per_ml AS densityMgPerMl, -sum(m.amount) AS amount, -sum(m.cost_micro) AS costMicro
     FROM movement m JOIN container c ON c.id = m.container_id JOIN supply s ON s.id = c.supply_id
     WHERE m.coat_id = ? AND m.kind IN ('use', 'reverse') GROUP BY c.id ORDER BY min(m.id)`,
    [coatId],
  )
}
