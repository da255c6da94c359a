import { type Buy, whatToBuy } from "../domain/buying.ts"
import { type IsoDate, plusDays } from "../domain/dates.ts"
import { forecast as compute, type Forecast, type LineOutlook, type Shortfall } from "../domain/forecast.ts"
import { NeedBook } from "../domain/need-book.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { usableLeft } from "../domain/sprays.ts"
import { onHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { packs, sellers, suppliesList } from "../supplies/service.ts"
import { expected } from "./expected.ts"
import { type AskedLine, type DraftLine, openWork } from "./open-work.ts"

export type { DraftLine } from "./open-work.ts"

/** An order line and how far the shelf reaches for it. */
export interface AnswerLine extends Omit<AskedLine, "open">, LineOutlook {}

/** Whole packs to buy, with their names. */
export interface AnswerBuy extends Buy {
  pack: string
  seller: string
}

/** A supply that runs short, and what to buy for it. */
export interface AnswerShortfall extends Shortfall {
  supply: string
  baseUnit: BaseUnit
  /** ordered and expected, in all */
  coming: number
  /** null: nobody sells it */
  buy: AnswerBuy | null
}

/** Something usable that goes off soon and that no plan uses up. */
export interface Unused {
  containerId: number
  code: string
  supply: string
  baseUnit: BaseUnit
  amount: number
  useBy: IsoDate
}

export interface ForecastAnswer {
  today: IsoDate
  lines: AnswerLine[]
  shortfalls: AnswerShortfall[]
  /** what to buy for the shortfalls, by order-by day */
  buys: AnswerBuy[]
  arrivals: { on: IsoDate; supplyId: number; amount: number }[]
  turners: Forecast["turners"]
  unused: Unused[]
  /** batches in work lack something today */
  looseShort: boolean
}

const SOON_DAYS = 30

/** What runs short of the planned orders and the batches under way; with `extra`, as if those lines were planned too. */
export function forecast(studio: Studio, options: { extra?: readonly DraftLine[] } = {}): ForecastAnswer {
  return answerFrom(studio, stateOf(studio, options.extra ?? []), true)
}

/** The answer without a line that was typed in, with it, and what it alone changes. */
export interface WhatIf {
  without: ForecastAnswer
  with: ForecastAnswer
  /** the typed lines' own outlook */
  asked: AnswerLine[]
  /** supplies that lack more, or sooner, because of it; `missing` is what is added */
  adds: AnswerShortfall[]
  /** what must be bought for it alone */
  costMicro: number
  /** other lines that reach less far: how many cups fewer */
  takesFrom: { line: AnswerLine; fewer: number }[]
}

/** What lines that are not kept would make short. */
export function whatIf(studio: Studio, extra: readonly DraftLine[]): WhatIf {
  const state = stateOf(studio, extra)
  const without = answerFrom(studio, state, false)
  const withIt = answerFrom(studio, state, true)
  const before = new Map(without.shortfalls.map((short) => [short.supplyId, short]))
  const adds = withIt.shortfalls.flatMap((short) => {
    const known = before.get(short.supplyId)
    const missing = short.missing - (known?.missing ?? 0)
    return missing > 0 || short.firstOn < (known?.firstOn ?? "~") ? [{ ...short, missing }] : []
  })
  const coveredBefore = new Map(without.lines.map((line) => [line.lineId, line.covered]))
  return {
    without,
    with: withIt,
    asked: withIt.lines.filter((line) => line.orderId === null),
    adds,
    costMicro: Math.max(0, costOf(withIt.buys) - costOf(without.buys)),
    takesFrom: withIt.lines.flatMap((line) => {
      const fewer = (coveredBefore.get(line.lineId) ?? 0) - line.covered
      return line.orderId !== null && fewer > 0 ? [{ line, fewer }] : []
    }),
  }
}

/** Everything a forecast looks at, read once. */
type State = ReturnType<typeof stateOf>

function stateOf(studio: Studio, extra: readonly DraftLine[]) {
  const settings = settingsOf(studio)
  const today = todayOf(studio)
  const measures = { volumeStepUl: settings.volumeStepUl, massStepMg: settings.massStepMg }
  return {
    settings,
    today,
    measures,
    work: openWork(studio, extra),
    shelf: onHand(studio.file, settings.timeZone),
    arrivals: expected(studio, today),
    supplies: new Map(suppliesList(studio).map((supply) => [supply.id, supply])),
    book: new NeedBook(measures),
  }
}

function answerFrom(studio: Studio, state: State, withExtra: boolean): ForecastAnswer {
  const { today, settings, shelf, arrivals, supplies } = state
  const asked = state.work.lines.filter((line) => withExtra || line.orderId !== null)
  const result = compute({
    today,
    lines: asked.map((line) => line.open),
    loose: state.work.loose,
    shelf,
    arrivals,
    shippingDays: settings.shippingDays,
    turnerPlaces: settings.turnerPlaces,
    measures: state.measures,
    book: state.book,
  })
  const known = new Map(asked.map((line) => [line.open.lineId, line]))
  const buys = buysFor(studio, state, result.shortfalls)
  const coming = arrivals.map(({ on, container }) => ({
    on,
    supplyId: container.supplyId,
    amount: usableLeft(container.amountLeft, container.keptBack ?? 0),
  }))
  return {
    today,
    lines: result.lines.map((outlook) => {
      const { orderId, buyer, design, quantity, made } = known.get(outlook.lineId)!
      return { orderId, buyer, design, quantity, made, ...outlook }
    }),
    shortfalls: result.shortfalls.map((short) => {
      const supply = supplies.get(short.supplyId)!
      return {
        ...short,
        supply: supply.name,
        baseUnit: supply.baseUnit,
        coming: coming.reduce((sum, one) => sum + (one.supplyId === short.supplyId ? one.amount : 0), 0),
        buy: buys.find((buy) => buy.supplyIds.includes(short.supplyId)) ?? null,
      }
    }),
    buys,
    arrivals: coming,
    turners: result.turners,
    unused: unusedOf(state, result),
    looseShort: result.shortfalls.some((short) => short.firstOn === today && short.lineIds.length === 0),
  }
}

function buysFor(studio: Studio, state: State, shortfalls: readonly Shortfall[]): AnswerBuy[] {
  if (shortfalls.length === 0) return []
  const lacks = shortfalls.map((short) => ({
    supplyId: short.supplyId,
    amount: short.missing,
    neededOn: short.firstOn,
    leadTimeDays: state.supplies.get(short.supplyId)!.leadTimeDays,
  }))
  return whatToBuyHere(studio, lacks, state.today).buys
}

/** `whatToBuy` over this studio's packs and sellers, with names. */
export function whatToBuyHere(
  studio: Studio,
  lacks: Parameters<typeof whatToBuy>[0],
  today: IsoDate,
): { buys: AnswerBuy[]; nobodySells: number[] } {
  const sold = packs(studio)
  const leadOf = new Map(sellers(studio).map((seller) => [seller.id, seller.leadTimeDays]))
  const { buys, nobodySells } = whatToBuy(
    lacks,
    sold.map((pack) => ({
      packId: pack.id,
      contents: pack.contents.map((content) => ({
        supplyId: content.supplyId,
        amount: content.amount * content.containerCount,
      })),
      offers: pack.offers.map((offer) => ({ ...offer, leadTimeDays: leadOf.get(offer.sellerId) ?? 0 })),
    })),
    today,
  )
  const packOf = new Map(sold.map((pack) => [pack.id, pack]))
  return {
    nobodySells,
    buys: buys.map((buy) => {
      const pack = packOf.get(buy.packId)!
      return {
        ...buy,
        pack: pack.name,
        seller: pack.offers.find((offer) => offer.sellerId === buy.sellerId)!.seller,
      }
    }),
  }
}

/** What goes off within 30 days with something left that no order and no batch uses. */
function unusedOf({ shelf, today }: State, { takenFrom }: Forecast): Unused[] {
  const soon = plusDays(today, SOON_DAYS)
  return shelf
    .filter((one) => one.useBy !== null && one.useBy <= soon && isUsableOn(one.useBy, today) && !one.held)
    .map((one) => ({
      containerId: one.containerId,
      code: one.code,
      supply: one.supply,
      baseUnit: one.baseUnit,
      amount: usableLeft(one.amountLeft, one.keptBack) - (takenFrom.get(one.containerId) ?? 0),
      useBy: one.useBy!,
    }))
    .filter((one) => one.amount > 0)
    .sort((a, b) => (a.useBy < b.useBy ? -1 : a.useBy > b.useBy ? 1 : a.containerId - b.containerId))
}

function costOf(buys: readonly AnswerBuy[]): number {
  return buys.reduce((sum, buy) => sum + buy.costMicro, 0)
}
