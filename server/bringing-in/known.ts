import type { BaseUnit } from "../domain/plan.ts"
import type { Studio } from "../ledger/studio.ts"
import { nameKey } from "./cells.ts"

/** The numbers of what has a name, read once for a whole file. */
export function idsByName(studio: Studio, table: "maker" | "seller" | "pack"): ReadonlyMap<string, number> {
  const rows = studio.file.allText<{ id: number; name: string }>(`SELECT id, name FROM ${table}`)
  return new Map(rows.map(({ id, name }) => [nameKey(name), id]))
}

export interface KnownSupply {
  id: number
  name: string
  baseUnit: BaseUnit
  densityMgPerMl: number | null
}

export function suppliesByName(studio: Studio): ReadonlyMap<string, KnownSupply> {
  const rows = studio.file.allText<KnownSupply>(
    "SELECT id, name, base_unit AS baseUnit, density_mg_per_ml AS densityMgPerMl FROM supply",
  )
  return new Map(rows.map((supply) => [nameKey(supply.name), supply]))
}
