import type { BaseUnit, ExpiryBasis, LifeUnit, SupplyKind } from "../../db/tables.ts"
import type { IsoDate } from "../domain/dates.ts"
import type { SheetSize } from "../domain/plan.ts"
import { effectiveExpiry, isUsableOn, type Life, openUseBy } from "../domain/shelf-life.ts"
import { goesOver, type VesselWord, vesselWord } from "../domain/vessels.ts"
import { lifeOf, type OnHand, onHand } from "../ledger/on-hand.ts"
import { isPriced } from "../ledger/priced.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { containerId } from "./find.ts"

/** What a container's use-by day rests on. */
export type UseByReason =
  | "label"
  | "shelf-life"
  | "after-opening"
  | "poured-in"
  | "does-not-expire"
  | "unknown"

/** All its own page tells of a container, empty ones included. */
export interface ContainerPage {
  containerId: number
  code: string
  supplyId: number
  supply: string
  kind: SupplyKind
  baseUnit: BaseUnit
  colour: string | null
  densityMgPerMl: number | null
  hazards: string[]
  /** what it is called: a bottle, a can, a jar */
  vessel: VesselWord
  /** how a part of it goes into another; null: it does not */
  goesOver: "poured" | "put" | null
  lotId: number
  lotNumber: string | null
  maker: string | null
  amountLeft: number
  fullAmount: number
  /** what of it never comes out */
  keptBack: number
  /** one sheet of it; null: not known, or no sheets */
  sheet: SheetSize | null
  /** its own size as it was put on the shelf, of an offcut; null: it is none */
  offcut: SheetSize | null
  costLeftMicro: number
  /** something was paid for what came into it; false: nobody said a price */
  priced: boolean
  receivedOn: IsoDate | null
  seller: string | null
  openedOn: IsoDate | null
  openLife: Life | null
  useBy: IsoDate | null
  useByReason: UseByReason
  expired: boolean
  held: boolean
  lotHeld: boolean
  heldItself: boolean
  onBench: boolean
  place: string | null
  /** what it cost when it came, and its part of its delivery's shipping and tax */
  priceMicro: number
  extraMicro: number
  /** what the bottle alone weighs; null while it was never weighed full */
  emptyMg: number | null
  /** lots that came in later from other bottles */
  pouredIn: { lotId: number; number: string | null; from: string }[]
  /** what it can be topped up from, soonest to go off first */
  others: OnHand[]
}

interface Row {
  id: number
  code: string
  supply_id: number
  supply: string
  kind: SupplyKind
  base_unit: BaseUnit
  colour: string | null
  density_mg_per_ml: number | null
  lot_id: number
  number: string | null
  maker: string | null
  amount_left: number
  full_amount: number
  kept_back: number
  sheet_width_um: number | null
  sheet_height_um: number | null
  width_um: number | null
  height_um: number | null
  cost_left_micro: number
  received_on: IsoDate | null
  seller: string | null
  opened_at: string | null
  opened_on: IsoDate | null
  open_life: number | null
  open_life_unit: LifeUnit | null
  expires_on: IsoDate | null
  expiry_basis: ExpiryBasis
  held: number
  lot_held: number
  on_bench: number
  place: string | null
  empty_mg: number | null
  price: number
  extra: number
  priced: 0 | 1
}

const ROW = `SELECT c.id, c.code, c.supply_id, s.name AS supply, s.kind, s.base_unit, s.colour, s.density_mg_per_ml,
    c.lot_id, l.number, k.name AS maker, c.amount_left, c.full_amount,
    s.kept_back, s.sheet_width_um, s.sheet_height_um, c.width_um, c.height_um, c.cost_left_micro, d.received_on,
    e.name AS seller, c.opened_at, c.opened_on, s.open_life, s.open_life_unit, l.expires_on, l.expiry_basis,
    c.held, l.held AS lot_held, c.on_bench, c.place, c.empty_mg,
    coalesce((SELECT m.cost_micro FROM movement m WHERE m.container_id = c.id AND m.kind = 'receive'), 0) AS price,
    coalesce((SELECT sum(x.share_micro) FROM container_cost x WHERE x.container_id = c.id), 0) AS extra,
    ${isPriced("c.id")} AS priced
  FROM container c JOIN supply s ON s.id = c.supply_id JOIN lot l ON l.id = c.lot_id
  LEFT JOIN maker k ON k.id = l.maker_id LEFT JOIN receipt_line r ON r.id = c.receipt_line_id
  LEFT JOIN delivery d ON d.id = r.delivery_id LEFT JOIN seller e ON e.id = d.seller_id
  WHERE c.id = ?`

/** SQL: what movement m wrote was not undone. */

/**
 * A container by its code, scanned or typed.
 *
 * @throws {Refusal} 404 when there is none
 */
export function containerByCode(studio: Studio, code: string): ContainerPage {
  const { file } = studio
  const row = file.firstText<Row>(ROW, [containerId(studio, code)])!
  const { timeZone } = settingsOf(studio)
  const mine = onHand(file, timeZone, row.supply_id)
  const here = mine.find((one) => one.containerId === row.id)
  const openLife = lifeOf(row.open_life, row.open_life_unit)
  const afterOpening = row.opened_at === null ? null : openUseBy(row.opened_at, timeZone, openLife)
  // an empty one is not on hand: its own label and opening are all there is to say
  const useBy = here ? here.useBy : effectiveExpiry(row.expires_on, afterOpening)
  const hazards = file
    .allText<{ hazard: string }>("SELECT hazard FROM supply_hazard WHERE supply_id = ? ORDER BY hazard", [
      row.supply_id,
    ])
    .map((one) => one.hazard)
  const held = {
    kind: row.kind,
    baseUnit: row.base_unit,
    isSprayCan: hazards.includes("aerosol"),
    isOffcut: row.width_um !== null,
  }
  return {
    containerId: row.id,
    code: row.code,
    supplyId: row.supply_id,
    supply: row.supply,
    kind: row.kind,
    baseUnit: row.base_unit,
    colour: row.colour,
    densityMgPerMl: row.density_mg_per_ml,
    hazards,
    vessel: vesselWord(held),
    goesOver: goesOver(held),
    lotId: row.lot_id,
    lotNumber: row.number,
    maker: row.maker,
    amountLeft: row.amount_left,
    fullAmount: row.full_amount,
    keptBack: row.kept_back,
    sheet:
      row.sheet_width_um === null || row.sheet_height_um === null
        ? null
        : { widthUm: row.sheet_width_um, heightUm: row.sheet_height_um },
    offcut:
      row.width_um === null || row.height_um === null
        ? null
        : { widthUm: row.width_um, heightUm: row.height_um },
    costLeftMicro: row.cost_left_micro,
    priced: row.priced === 1,
    receivedOn: row.received_on,
    seller: row.seller,
    openedOn: row.opened_on,
    openLife,
    useBy,
    useByReason: reasonOf(useBy, row, afterOpening),
    expired: !isUsableOn(useBy, todayOf(studio)),
    held: here?.held ?? (row.held === 1 || row.lot_held === 1),
    lotHeld: row.lot_held === 1,
    heldItself: row.held === 1,
    onBench: row.on_bench === 1,
    place: row.place,
    priceMicro: row.price,
    extraMicro: row.extra,
    emptyMg: row.empty_mg,
    pouredIn: pouredInto(studio, row.id),
    others: mine
      .filter((one) => one.containerId !== row.id && !one.held)
      .sort((a, b) => (a.useBy ?? "9999").localeCompare(b.useBy ?? "9999") || a.containerId - b.containerId),
  }
}

function reasonOf(useBy: IsoDate | null, row: Row, afterOpening: IsoDate | null): UseByReason {
  if (useBy === null) return row.expiry_basis === "does-not-expire" ? "does-not-expire" : "unknown"
  if (useBy === row.expires_on) return row.expiry_basis
  return useBy === afterOpening ? "after-opening" : "poured-in"
}

function pouredInto({ file }: Studio, id: number): ContainerPage["pouredIn"] {
  return file.allText<{ lotId: number; number: string | null; from: string }>(
    `SELECT DISTINCT t.lot_id AS lotId, l.number, f.code AS "from"
     FROM container_lot t JOIN movement m ON m.id = t.movement_id JOIN lot l ON l.id = t.lot_id
     JOIN container f ON f.id = m.source_container_id JOIN container c ON c.id = t.container_id
     WHERE t.container_id = ? AND m.kind = 'transfer'
       AND ${stands("m.action_id")}
     ORDER BY m.id`,
    [id],
  )
}

/** Ids of the containers into which a container was the last to be poured. */
export function lastFilledFrom({ file }: Studio, id: number): Set<number> {
  const rows = file.allText<{ id: number }>(
    `SELECT DISTINCT m.container_id AS id FROM movement m
     WHERE m.source_container_id = :id AND m.kind = 'transfer' AND ${stands("m.action_id")}
       AND NOT EXISTS (SELECT 1 FROM container_lot t JOIN movement l ON l.id = t.movement_id
         WHERE t.container_id = m.container_id AND l.id > m.id
           AND ${stands("l.action_id")})`,
    { id },
  )
  return new Set(rows.map((row) => row.id))
}
