import type { BaseUnit, SupplyKind } from "../../db/tables.ts"
import { type Held, type VesselWord, vesselWord } from "../domain/vessels.ts"
import type { Studio } from "../ledger/studio.ts"

/** What decides the word for a container, as `HELD` selects it of container c and its supply s. */
export interface HeldRow {
  kind: SupplyKind
  baseUnit: BaseUnit
  isSprayCan: number
  isOffcut: number
}

/** SQL: the columns of a `HeldRow`. */
export const HELD = `s.kind, s.base_unit AS baseUnit, c.width_um IS NOT NULL AS isOffcut,
  EXISTS (SELECT 1 FROM supply_hazard h WHERE h.supply_id = s.id AND h.hazard = 'aerosol') AS isSprayCan`

export function heldOf(row: HeldRow): Held {
  return {
    kind: row.kind,
    baseUnit: row.baseUnit,
    isSprayCan: row.isSprayCan === 1,
    isOffcut: row.isOffcut === 1,
  }
}

/** What a container is called: "bottle", "can", "jar". */
export function vesselOf({ file }: Pick<Studio, "file">, containerId: number): VesselWord {
  const row = file.firstText<HeldRow>(
    `SELECT ${HELD} FROM container c JOIN supply s ON s.id = c.supply_id WHERE c.id = ?`,
    [containerId],
  )
  if (!row) throw new Error(`there is no container ${containerId}`)
  return vesselWord(heldOf(row))
}
