import type { BaseUnit, SupplyKind } from "../../db/tables.ts"
import { type IsoDate, plusDays } from "../domain/dates.ts"
import type { SheetSize } from "../domain/plan.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { usableLeft } from "../domain/sprays.ts"
import { parseStudioCode } from "../domain/studio-code.ts"
import { type OnHand, onHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"

/** What of the shelf is shown. */
export type ShelfShow = "all" | "soon" | "later" | "expired" | "low" | "held" | "open" | "bench"

export interface ShelfFilter {
  /** in the supply's name, a lot number, a maker, a container's code or its place; "" for no search */
  search?: string
  kind?: SupplyKind | null
  show?: ShelfShow
}

/** How a container stands today. */
export interface ShelfContainer extends OnHand {
  expired: boolean
  /** goes off within 30 days, or within 60; null when later, never, or gone off */
  goesOff: 30 | 60 | null
  /** holds only what never comes out of it */
  spent: boolean
}

export interface ShelfLot {
  lotId: number
  number: string | null
  maker: string | null
  held: boolean
  amount: number
  containers: ShelfContainer[]
}

export interface ShelfSupply {
  supplyId: number
  supply: string
  kind: SupplyKind
  baseUnit: BaseUnit
  /** one sheet of it; null: not known, or no sheets */
  sheet: SheetSize | null
  colour: string | null
  /** all that is there */
  amount: number
  /** without what is held, past its day, or never comes out */
  usable: number
  minimum: number
  low: boolean
  /** how many containers of it there are, whatever is asked for */
  count: number
  lots: ShelfLot[]
}

/** Whole shelf in figures, and the part of it that was asked for. */
export interface Shelf {
  today: IsoDate
  /** containers on the whole shelf, whatever is asked for */
  count: number
  /** gone off; within 30 days; within 60 days, those within 30 not counted again */
  expired: ShelfContainer[]
  soon: ShelfContainer[]
  later: ShelfContainer[]
  held: number
  low: LowSupply[]
  supplies: ShelfSupply[]
}

export interface LowSupply {
  supplyId: number
  supply: string
  baseUnit: BaseUnit
  /** usable: neither held nor past its day */
  onHand: number
  minimum: number
}

interface SupplyRow {
  id: number
  name: string
  kind: SupplyKind
  base_unit: BaseUnit
  minimum_amount: number
  colour: string | null
  sheet_width_um: number | null
  sheet_height_um: number | null
}

const SOON_DAYS = 30
const LATER_DAYS = 60

/**
 * What is on hand by supply, lot and container: supplies by name, containers by the day they are to be used,
 * open ones first among equals. A supply of which nothing is left stands there only while it is below its minimum.
 */
export function shelf(studio: Studio, filter: ShelfFilter = {}): Shelf {
  const today = todayOf(studio)
  const containers = containersOn(studio, today)
  const rows = supplyRows(studio)
  const low = lowAmong(rows, containers)
  const isLow = new Set(low.map((one) => one.supplyId))
  const shown = containers.filter((one) => isAskedFor(one, filter, isLow))
  return {
    today,
    count: containers.length,
    expired: byUseBy(containers.filter((one) => one.expired)),
    soon: byUseBy(containers.filter((one) => one.goesOff === 30)),
    later: byUseBy(containers.filter((one) => one.goesOff === 60)),
    held: containers.filter((one) => one.held).length,
    low,
    supplies: rows
      .map((row) => supplyOf(row, shown, containers, isLow.has(row.id)))
      .filter((one) => one.lots.length > 0 || (one.amount === 0 && isEmptyAskedFor(one, filter))),
  }
}

/** Supplies of which less can be used today than their minimum, by name. */
export function lowSupplies(studio: Studio): LowSupply[] {
  return lowAmong(supplyRows(studio), containersOn(studio, todayOf(studio)))
}

function containersOn(studio: Studio, today: IsoDate): ShelfContainer[] {
  const soon = plusDays(today, SOON_DAYS)
  const later = plusDays(today, LATER_DAYS)
  return onHand(studio.file, settingsOf(studio).timeZone).map((one) => {
    const expired = !isUsableOn(one.useBy, today)
    const goesOff =
      expired || one.useBy === null ? null : one.useBy <= soon ? 30 : one.useBy <= later ? 60 : null
    return { ...one, expired, goesOff, spent: usableLeft(one.amountLeft, one.keptBack) === 0 }
  })
}

function supplyRows(studio: Studio): SupplyRow[] {
  return studio.file.allText<SupplyRow>(
    `SELECT id, name, kind, base_unit, minimum_amount, colour, sheet_width_um, sheet_height_um FROM supply
     ORDER BY name COLLATE NOCASE`,
  )
}

function lowAmong(rows: readonly SupplyRow[], containers: readonly ShelfContainer[]): LowSupply[] {
  const usable = new Map<number, number>()
  for (const one of containers)
    if (!one.expired && !one.held)
      usable.set(one.supplyId, (usable.get(one.supplyId) ?? 0) + usableLeft(one.amountLeft, one.keptBack))
  return rows
    .map((row) => ({
      supplyId: row.id,
      supply: row.name,
      baseUnit: row.base_unit,
      onHand: usable.get(row.id) ?? 0,
      minimum: row.minimum_amount,
    }))
    .filter((one) => one.onHand < one.minimum)
}

function supplyOf(
  row: SupplyRow,
  shown: readonly ShelfContainer[],
  all: readonly ShelfContainer[],
  low: boolean,
): ShelfSupply {
  const mine = all.filter((one) => one.supplyId === row.id)
  return {
    supplyId: row.id,
    supply: row.name,
    kind: row.kind,
    baseUnit: row.base_unit,
    sheet:
      row.sheet_width_um === null || row.sheet_height_um === null
        ? null
        : { widthUm: row.sheet_width_um, heightUm: row.sheet_height_um },
    colour: row.colour,
    amount: sum(mine),
    usable: mine
      .filter((one) => !one.expired && !one.held)
      .reduce((total, one) => total + usableLeft(one.amountLeft, one.keptBack), 0),
    minimum: row.minimum_amount,
    low,
    count: mine.length,
    lots: lotsOf(shown.filter((one) => one.supplyId === row.id)),
  }
}

function lotsOf(containers: readonly ShelfContainer[]): ShelfLot[] {
  const lots = new Map<number, ShelfLot>()
  for (const one of byUseBy(containers)) {
    const lot = lots.get(one.lotId) ?? {
      lotId: one.lotId,
      number: one.lotNumber,
      maker: one.maker,
      held: false,
      amount: 0,
      containers: [],
    }
    lot.containers.push(one)
    lot.amount += one.amountLeft
    lots.set(one.lotId, lot)
  }
  return [...lots.values()]
}

function isAskedFor(one: ShelfContainer, filter: ShelfFilter, isLow: ReadonlySet<number>): boolean {
  if (filter.kind && one.kind !== filter.kind) return false
  // a code is found however it was typed: small, in groups, with an O for the 0
  const isItsCode = parseStudioCode(filter.search ?? "")?.code === one.code
  const texts = [one.supply, one.lotNumber ?? "", one.maker ?? "", one.code, one.place ?? ""]
  if (!isItsCode && !isFound(texts, filter.search)) return false
  const show = filter.show ?? "all"
  switch (show) {
    case "all":
      return true
    case "soon":
      return one.goesOff === 30
    case "later":
      return one.goesOff !== null
    case "expired":
      return one.expired
    case "low":
      return isLow.has(one.supplyId)
    case "held":
      return one.held
    case "open":
      return one.openedOn !== null
    case "bench":
      return one.onBench
  }
}

function isEmptyAskedFor(supply: ShelfSupply, filter: ShelfFilter): boolean {
  const show = filter.show ?? "all"
  return (
    supply.low &&
    (show === "all" || show === "low") &&
    (!filter.kind || supply.kind === filter.kind) &&
    isFound([supply.supply], filter.search)
  )
}

/**
 * Each word of the search somewhere in the texts. A single letter stands for a word of its own: "Clear A" is not
 * meant to find part B because there is an "a" in "Clear".
 */
function isFound(texts: readonly string[], search = ""): boolean {
  const where = texts.join("\n").toLowerCase()
  const words = search.toLowerCase().split(/\s+/)
  const isSingle = (word: string) => /^[\p{L}\p{N}]$/u.test(word)
  const own = words.some(isSingle) ? new Set(where.split(/[^\p{L}\p{N}]+/u)) : null
  return words.every((word) => (own !== null && isSingle(word) ? own.has(word) : where.includes(word)))
}

function byUseBy<Some extends ShelfContainer>(containers: readonly Some[]): Some[] {
  const day = (one: Some) => one.useBy ?? "9999-99-99"
  return [...containers].sort(
    (a, b) =>
      day(a).localeCompare(day(b)) ||
      Number(a.openedOn === null) - Number(b.openedOn === null) ||
      a.containerId - b.containerId,
  )
}

function sum(containers: readonly ShelfContainer[]): number {
  return containers.reduce((total, one) => total + one.amountLeft, 0)
}
