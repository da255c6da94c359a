import type { StudioFile } from "../../db/file.ts"
import type { BaseUnit, SupplyKind } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import { CHANGES, FAR_OFF } from "./changes.ts"

/** What is on the shelf of one supply at the end of a day, and what was paid for it. */
export interface SupplyValue {
  supplyId: number
  supply: string
  kind: SupplyKind
  baseUnit: BaseUnit
  amount: number
  micro: number
}

/**
 * The shelf at the end of a day, worked out from everything that happened until then; see `CHANGES` for which day a
 * change stands on. Below zero only where the book says that more was taken by then than had come.
 *
 * @param day null: as it stands, which is what the containers carry to the millionth
 * @returns by kind and name; supplies of which there was nothing are left out
 */
export function shelfValue(file: StudioFile, day: IsoDate | null): SupplyValue[] {
  return file.allText<SupplyValue>(
    `${CHANGES} SELECT s.id AS supplyId, s.name AS supply, s.kind, s.base_unit AS baseUnit,
       sum(change.amount) AS amount, sum(change.micro) AS micro
     FROM change JOIN supply s ON s.id = change.supply_id WHERE change.day <= ?
     GROUP BY s.id HAVING sum(change.amount) <> 0 OR sum(change.micro) <> 0
     ORDER BY s.kind, s.name COLLATE NOCASE`,
    [day ?? FAR_OFF],
  )
}
