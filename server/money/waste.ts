import type { StudioFile } from "../../db/file.ts"
import type { BaseUnit } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import { CHANGES, FAR_OFF, type Flow } from "./changes.ts"

/** Something that left the shelf and became no cup. */
export interface Loss {
  actionId: number
  day: IsoDate
  flow: Extract<Flow, "waste" | "given" | "counted">
  reason: string
  supplyId: number
  supply: string
  /** the container is a part of a sheet, by itself */
  isOffcut: boolean
  container: string
  baseUnit: BaseUnit
  /** what went, in base units; below zero: a count found more */
  amount: number
  micro: number
}

/** What was spilled, thrown away, given away or missing at a count in a span of days, the latest first. */
export function losses(file: StudioFile, from: IsoDate, to: IsoDate = FAR_OFF): Loss[] {
  const rows = file.allText<Omit<Loss, "isOffcut"> & { offcut: number }>(
    `${CHANGES} SELECT change.action_id AS actionId, change.day, change.flow, change.reason, s.id AS supplyId, s.name AS supply,
       c.code AS container, s.base_unit AS baseUnit, c.width_um IS NOT NULL AS offcut, -sum(change.amount) AS amount, -sum(change.micro) AS micro
     FROM change JOIN supply s ON s.id = change.supply_id JOIN container c ON c.id = change.container_id
     WHERE change.flow IN ('waste', 'given', 'counted') AND change.day BETWEEN ? AND ?
     GROUP BY change.action_id, c.id, change.flow HAVING sum(change.amount) <> 0 OR sum(change.micro) <> 0
     ORDER BY change.day DESC, change.action_id DESC, c.id`,
    [from, to],
  )
  return rows.map(({ offcut, ...loss }) => ({ ...loss, isOffcut: offcut === 1 }))
}
