import type { SheetSize } from "../domain/plan.ts"
import type { Studio } from "./studio.ts"

/** One sheet of each supply that comes in sheets of a known size, by the supply's id: how its amounts are said. */
export function sheetsOf(studio: Studio): ReadonlyMap<number, SheetSize> {
  const rows = studio.file.allText<{ id: number } & SheetSize>(
    `SELECT id, sheet_width_um AS widthUm, sheet_height_um AS heightUm FROM supply
     WHERE base_unit = 'mm2' AND sheet_height_um IS NOT NULL`,
  )
  return new Map(rows.map(({ id, ...sheet }) => [id, sheet]))
}
