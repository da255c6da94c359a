import type { StudioFile } from "../../db/file.ts"

export interface LowSupply {
  supplyId: number
  supply: string
}

/** Which of some supplies are now below their minimum, everything not held counted. */
export function lowAmong(file: StudioFile, supplyIds: ReadonlySet<number>): LowSupply[] {
  return file
    .allText<LowSupply>(
      `SELECT s.id AS supplyId, s.name AS supply FROM supply s
       WHERE s.minimum_amount > 0 AND s.minimum_amount > coalesce((
         SELECT sum(c.amount_left) FROM container c JOIN lot l ON l.id = c.lot_id
         WHERE c.supply_id = s.id AND c.held = 0 AND l.held = 0), 0)
       ORDER BY s.name`,
    )
    .filter((low) => supplyIds.has(low.supplyId))
}
