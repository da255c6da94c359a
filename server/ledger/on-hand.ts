import type { StudioFile } from "../../db/file.ts"
import type { BaseUnit, ExpiryBasis, LifeUnit, SupplyKind } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import { effectiveExpiry, type Life, openUseBy } from "../domain/shelf-life.ts"
import { CAME_ON } from "./move.ts"
import { stands } from "./stands.ts"

/** A container on the shelf, and all that decides whether and when it is used. */
export interface OnHand {
  containerId: number
  code: string
  supplyId: number
  supply: string
  kind: SupplyKind
  baseUnit: BaseUnit
  lotId: number
  lotNumber: string | null
  maker: string | null
  amountLeft: number
  /** what of it never comes out, like the last of a spray can */
  keptBack: number
  fullAmount: number
  costLeftMicro: number
  /** the day of its delivery, or on which it was filled from another: it cannot be used before */
  cameOn: IsoDate
  openedOn: IsoDate | null
  /** the earliest of the label, the life after opening, and what top-ups brought; null: no day */
  useBy: IsoDate | null
  expiryBasis: ExpiryBasis
  /** the container or one of its lots is held */
  held: boolean
  onBench: boolean
  kitUnit: number | null
  openLife: Life | null
  /** a part of a sheet that stands by itself, with its size as it was put there */
  isOffcut: boolean
  widthUm: number | null
  heightUm: number | null
  /** where it was put; null: not said */
  place: string | null
}

interface Row {
  id: number
  code: string
  supply_id: number
  supply: string
  kind: SupplyKind
  base_unit: BaseUnit
  lot_id: number
  number: string | null
  maker: string | null
  amount_left: number
  kept_back: number
  full_amount: number
  cost_left_micro: number
  came_on: string
  opened_at: string | null
  opened_on: string | null
  expires_on: string | null
  expiry_basis: ExpiryBasis
  held: number
  on_bench: number
  kit_unit: number | null
  open_life: number | null
  open_life_unit: LifeUnit | null
  width_um: number | null
  height_um: number | null
  place: string | null
}

const CONTAINERS = `SELECT c.id, c.code, c.supply_id, s.name AS supply, s.kind, s.base_unit, c.lot_id, l.number, k.name AS maker,
    c.amount_left, s.kept_back, c.full_amount, c.cost_left_micro, c.opened_at, c.opened_on, l.expires_on, l.expiry_basis,
    c.held OR l.held AS held, c.on_bench, c.kit_unit, s.open_life, s.open_life_unit, c.width_um, c.height_um, c.place,
    ${CAME_ON} AS came_on
  FROM container c JOIN supply s ON s.id = c.supply_id JOIN lot l ON l.id = c.lot_id LEFT JOIN maker k ON k.id = l.maker_id
    LEFT JOIN receipt_line r ON r.id = c.receipt_line_id LEFT JOIN delivery d ON d.id = r.delivery_id`
const ON_HAND = `${CONTAINERS} WHERE c.amount_left > 0`

/** Empty by its uses and counts; not spilled or written off, and not because its delivery was undone. */
const USED_UP = `${CONTAINERS} WHERE c.amount_left = 0 AND c.supply_id = ? AND (
    SELECT m.kind FROM movement m WHERE m.container_id = c.id AND m.kind <> 'reverse'
      AND ${stands("m.action_id")}
    ORDER BY m.id DESC LIMIT 1) IN ('use', 'count', 'transfer')
  ORDER BY c.last_movement_id DESC LIMIT ?`

/** Lots that top-ups brought into these containers, as far as the top-up still stands. */
const TOPPED_UP = `SELECT t.container_id, t.use_by, l.expires_on, l.held
  FROM json_each(?) one CROSS JOIN container_lot t ON t.container_id = one.value
    CROSS JOIN movement m ON m.id = t.movement_id JOIN lot l ON l.id = t.lot_id
  WHERE m.source_container_id IS NOT NULL AND m.kind = 'transfer'
    AND ${stands("m.action_id")}`

/**
 * Everything on hand, in the order of container ids.
 *
 * @param timeZone the studio's, for lives after opening that are counted in hours
 * @param only the supply or the supplies asked for; left out: all
 */
export function onHand(file: StudioFile, timeZone: string, only?: number | readonly number[]): OnHand[] {
  const rows =
    only === undefined
      ? file.allText<Row>(`${ON_HAND} ORDER BY c.id`)
      : file.allText<Row>(`${ON_HAND} AND c.supply_id IN (SELECT value FROM json_each(?)) ORDER BY c.id`, [
          JSON.stringify([only].flat()),
        ])
  return withDays(file, timeZone, rows)
}

/** Of these containers those that hold something, in the order of their ids. */
export function onHandOf(file: StudioFile, timeZone: string, containerIds: readonly number[]): OnHand[] {
  const rows = file.allText<Row>(`${ON_HAND} AND c.id IN (SELECT value FROM json_each(?)) ORDER BY c.id`, [
    JSON.stringify(containerIds),
  ])
  return withDays(file, timeZone, rows)
}

/**
 * Containers of a supply that the book calls empty, the last emptied first: the book may be behind the bottle.
 * Spilled and written-off ones are gone and left out.
 */
export function usedUp(file: StudioFile, timeZone: string, supplyId: number, limit: number): OnHand[] {
  return withDays(file, timeZone, file.allText<Row>(USED_UP, [supplyId, limit]))
}

function withDays(file: StudioFile, timeZone: string, rows: readonly Row[]): OnHand[] {
  const brought = new Map<number, { useBy: IsoDate | null; held: boolean }>()
  for (const row of file.allText<{
    container_id: number
    use_by: string | null
    expires_on: string | null
    held: number
  }>(TOPPED_UP, [JSON.stringify(rows.map((row) => row.id))])) {
    const known = brought.get(row.container_id)
    brought.set(row.container_id, {
      useBy: effectiveExpiry(known?.useBy ?? null, row.use_by, row.expires_on),
      held: known?.held === true || row.held === 1,
    })
  }
  return rows.map((row) => {
    const openLife = lifeOf(row.open_life, row.open_life_unit)
    const opened = row.opened_at !== null && openLife ? openUseBy(row.opened_at, timeZone, openLife) : null
    const mixedIn = brought.get(row.id)
    return {
      containerId: row.id,
      code: row.code,
      supplyId: row.supply_id,
      supply: row.supply,
      kind: row.kind,
      baseUnit: row.base_unit,
      lotId: row.lot_id,
      lotNumber: row.number,
      maker: row.maker,
      amountLeft: row.amount_left,
      keptBack: row.kept_back,
      fullAmount: row.full_amount,
      costLeftMicro: row.cost_left_micro,
      cameOn: row.came_on,
      openedOn: row.opened_on,
      useBy: effectiveExpiry(row.expires_on, opened, mixedIn?.useBy ?? null),
      expiryBasis: row.expiry_basis,
      held: row.held === 1 || mixedIn?.held === true,
      onBench: row.on_bench === 1,
      kitUnit: row.kit_unit,
      openLife,
      isOffcut: row.width_um !== null,
      widthUm: row.width_um,
      heightUm: row.height_um,
      place: row.place,
    }
  })
}

/** A life as it is kept in two columns: null where it is not known. */
export function lifeOf(value: number | null, unit: LifeUnit | null): Life | null {
  if (unit === null) return null
  if (unit === "never") return { unit: "never" }
  return value === null ? null : { unit, value }
}
