import type { CupState } from "../../db/tables.ts"
import { cupCosts } from "../batches/service.ts"
import { planOf } from "../designs/service.ts"
import type { IsoDate } from "../domain/dates.ts"
import { planTimes } from "../domain/plan-times.ts"
import { Refusal } from "../domain/refusal.ts"
import { roundTable } from "../domain/rounding.ts"
import { stands } from "../ledger/stands.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"

/** Where a cup's price stands: on its order's line, or only in its design. */
export type PricedBy = "order" | "design"

/** A cup that was finished, what it took and what it is sold for. Money in micro. */
export interface CupMoney {
  id: number
  serial: string
  batchId: number
  designId: number
  design: string
  version: number
  state: Exclude<CupState, "in work">
  /** when it became good, a second or was scrapped, the last time */
  finishedOn: IsoDate
  orderId: number | null
  lineId: number | null
  buyer: string | null
  /** from the very containers it was made from */
  materialsMicro: number
  /** as its design plans it, at what an hour costs in the studio; 0 where an hour costs nothing */
  workMicro: number
  /** null: neither its order nor its design says one */
  priceMicro: number | null
  pricedBy: PricedBy | null
}

interface Row extends Omit<CupMoney, "materialsMicro" | "workMicro" | "priceMicro" | "pricedBy"> {
  versionId: number
  linePrice: number | null
  designPrice: number
}

const FINISHED = `SELECT u.id, u.serial, u.batch_id AS batchId, d.id AS designId, d.name AS design, v.id AS versionId,
    v.number AS version, u.state, l.order_id AS orderId, l.id AS lineId, y.name AS buyer,
    l.price_micro AS linePrice, v.price_micro AS designPrice,
    (SELECT a.happened_on FROM cup_change x JOIN action a ON a.id = x.action_id
     WHERE x.cup_id = u.id AND x.state IN ('good', 'second', 'scrapped')
       AND ${stands("a.id")} ORDER BY x.id DESC LIMIT 1) AS finishedOn
  FROM cup u JOIN batch b ON b.id = u.batch_id JOIN design_version v ON v.id = b.version_id
    JOIN design d ON d.id = v.design_id LEFT JOIN order_line l ON l.id = u.order_line_id
    LEFT JOIN customer_order o ON o.id = l.order_id LEFT JOIN buyer y ON y.id = o.buyer_id
  WHERE u.state IS NOT NULL AND u.state <> 'in work'`

/**
 * Every cup that was finished in a span of days, both counted in, by day and serial.
 *
 * @param orderId only those that are on an order
 */
export function finishedCups(
  studio: Studio,
  { from = "", to = "9999-12-31", orderId }: { from?: IsoDate; to?: IsoDate; orderId?: number } = {},
): CupMoney[] {
  const costs = cupCosts(studio.file)
  const work = workByVersion(studio)
  const ofOrder = orderId === undefined ? "" : " AND l.order_id = ?"
  return studio.file
    .allText<Row>(
      `SELECT * FROM (${FINISHED}${ofOrder}) WHERE finishedOn BETWEEN ? AND ? ORDER BY finishedOn, id`,
      [...(orderId === undefined ? [] : [orderId]), from, to],
    )
    .map(({ versionId, linePrice, designPrice, ...cup }) => ({
      ...cup,
      materialsMicro: costs.get(cup.id) ?? 0,
      workMicro: work(versionId),
      ...priceOf(linePrice, designPrice),
    }))
}

/** An order's line says what a cup brings; where it does not, the design does, and 0 there is no price. */
function priceOf(linePrice: number | null, designPrice: number): Pick<CupMoney, "priceMicro" | "pricedBy"> {
  if (linePrice !== null) return { priceMicro: linePrice, pricedBy: "order" }
  return designPrice > 0
    ? { priceMicro: designPrice, pricedBy: "design" }
    : { priceMicro: null, pricedBy: null }
}

/** Work on one cup of a version as its design plans it, in micro. */
function workByVersion(studio: Studio): (versionId: number) => number {
  const { labourMicroPerHour } = settingsOf(studio)
  const known = new Map<number, number>()
  return (versionId) => {
    if (labourMicroPerHour === 0) return 0
    const before = known.get(versionId)
    if (before !== undefined) return before
    const { handsOnMin } = planTimes(planOf(studio, versionId))
    const micro = Math.round((labourMicroPerHour * handsOnMin) / 60)
    known.set(versionId, micro)
    return micro
  }
}

/** What cups brought and cost together. Cups without a price, and scrapped ones, cost but bring nothing. */
export interface Margin {
  cups: number
  scrapped: number
  /** not scrapped, and without a price */
  unpriced: number
  /** priced by their design alone, since their order says nothing or they are for nobody yet */
  pricedByDesign: number
  priceMicro: number
  materialsMicro: number
  workMicro: number
  /** price less materials less work */
  leftMicro: number
  /** materials of the cups that were not scrapped, the dearest and the cheapest */
  dearestMicro: number
  cheapestMicro: number
}

export function marginOf(cups: readonly CupMoney[]): Margin {
  const sum = (of: readonly CupMoney[], what: (cup: CupMoney) => number) =>
    of.reduce((whole, cup) => whole + what(cup), 0)
  const kept = cups.filter((cup) => cup.state !== "scrapped")
  const priced = kept.filter((cup) => cup.priceMicro !== null)
  const costs = kept.map((cup) => cup.materialsMicro)
  const priceMicro = sum(priced, (cup) => cup.priceMicro ?? 0)
  const materialsMicro = sum(cups, (cup) => cup.materialsMicro)
  const workMicro = sum(cups, (cup) => cup.workMicro)
  return {
    cups: kept.length,
    scrapped: cups.length - kept.length,
    unpriced: kept.length - priced.length,
    pricedByDesign: priced.filter((cup) => cup.pricedBy === "design").length,
    priceMicro,
    materialsMicro,
    workMicro,
    leftMicro: priceMicro - materialsMicro - workMicro,
    dearestMicro: costs.length === 0 ? 0 : Math.max(...costs),
    cheapestMicro: costs.length === 0 ? 0 : Math.min(...costs),
  }
}

const MONEY = ["priceMicro", "materialsMicro", "workMicro", "leftMicro"] as const
type Sums = Pick<Margin, (typeof MONEY)[number]>

/**
 * Margins under one another, to the smallest coin, so that price less materials less work is what is left over in
 * every row, and every column adds up to the last row.
 */
export function roundMargins<Row extends Sums>(
  rows: readonly Row[],
  coin: number,
): { rows: Row[]; all: Sums } {
  const table = roundTable(
    rows.map((row) => [row.priceMicro, -row.materialsMicro, -row.workMicro, -row.leftMicro]),
    coin,
  )
  const sums = ([price = 0, materials = 0, work = 0, left = 0]: readonly number[]): Sums => ({
    priceMicro: price,
    materialsMicro: 0 - materials,
    workMicro: 0 - work,
    leftMicro: 0 - left,
  })
  return {
    rows: rows.map((row, index) => ({ ...row, ...sums(table.cells[index] ?? []) })),
    all: sums(table.columnTotals),
  }
}

/** Cups in groups, in the order in which each group first comes. */
export function byGroup<Key>(cups: readonly CupMoney[], key: (cup: CupMoney) => Key): [Key, CupMoney[]][] {
  const groups = new Map<Key, CupMoney[]>()
  for (const cup of cups) {
    const group = groups.get(key(cup))
    if (group) group.push(cup)
    else groups.set(key(cup), [cup])
  }
  return [...groups]
}

/** @throws {Refusal} no such order */
export function orderMustBeThere(studio: Studio, orderId: number): { buyer: string | null } {
  const order = studio.file.firstText<{ buyer: string | null }>(
    "SELECT y.name AS buyer FROM customer_order o LEFT JOIN buyer y ON y.id = o.buyer_id WHERE o.id = ?",
    [orderId],
  )
  if (!order) throw new Refusal("There is no such order.", { status: 404 })
  return order
}
