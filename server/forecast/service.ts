import { type IsoDate, plusDays } from "../domain/dates.ts"
import {
  forecast as compute,
  type DayStep,
  type Forecast,
  type LineOutlook,
  type Shortfall,
  type SupplyNeed,
} from "../domain/forecast.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { daysUpTo, type ProjectedDay, projection } from "../domain/projection.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { usableLeft } from "../domain/sprays.ts"
import type { Studio } from "../ledger/studio.ts"
import { type Supply, supplyById } from "../supplies/service.ts"
import { type AnswerBuy, buysFor } from "./buys.ts"
import { type OnItsWay, onItsWay } from "./on-its-way.ts"
import type { AskedLine, DraftLine } from "./open-work.ts"
import { type IfOrdered, withOrdered } from "./ordered.ts"
import { inputOf, type State, stateOf } from "./state.ts"
import { type OfferedSubstitute, substitutesFor } from "./substitutes.ts"
import { SOON_DAYS, type Unused, unusedOf } from "./unused.ts"

export { linesAsked } from "./asked.ts"
export { type AnswerBuy, keepsOf, whatToBuyHere } from "./buys.ts"
export type { DraftLine } from "./open-work.ts"
export type { OfferedSubstitute } from "./substitutes.ts"
export { breakWords } from "./words.ts"

/** An order line and how far hands, turners and the shelf reach for it. */
export interface AnswerLine extends Omit<AskedLine, "open">, LineOutlook {
  /** the smaller of what supplies and time allow */
  able: number
  /** what allows no more; null where all can be made in time */
  limit: "supplies" | "time" | null
  /** cups more to start, since some will be scrapped */
  spareCups: number
}

/** A supply that runs short, and what to buy for it. */
export interface AnswerShortfall extends Shortfall {
  supply: string
  baseUnit: BaseUnit
  /** ordered and expected, in all */
  coming: number
  /** ordered already, but here only after its first short day; null: nothing of it */
  onItsWay: OnItsWay | null
  /** what is missing less what is on its way */
  toBuy: number
  /** by order-by day; none: nobody sells it, or there is nothing to buy */
  buys: AnswerBuy[]
  /** what may be used in its place, of which something is free */
  substitutes: readonly OfferedSubstitute[]
}

export interface ForecastAnswer {
  today: IsoDate
  lines: AnswerLine[]
  shortfalls: AnswerShortfall[]
  /** what to buy for the shortfalls, by order-by day */
  buys: AnswerBuy[]
  arrivals: { on: IsoDate; supplyId: number; amount: number }[]
  /** what is done when */
  steps: readonly DayStep[]
  turning: Forecast["turning"]
  latestStart: Forecast["latestStart"]
  readyFrom: Forecast["readyFrom"]
  boundOn: Forecast["boundOn"]
  shippingDays: number
  places: number
  /** what is needed on each day */
  needs: Forecast["needs"]
  /** by supply: what can be used today and what is coming, less all that is needed; below zero: so much is missing */
  leftAfter: ReadonlyMap<number, number>
  unused: Unused[]
  /** batches in work lack something today */
  looseShort: boolean
}

/** What runs short of the planned orders and the batches under way; with `extra`, as if those lines were planned too. */
export function forecast(studio: Studio, options: { extra?: readonly DraftLine[] } = {}): ForecastAnswer {
  const state = stateOf(studio, options.extra ?? [])
  return answerFrom(studio, state, compute(inputOf(state, true)))
}

/** The answer without a line that was typed in, with it, and what it alone changes. */
export interface WhatIf {
  without: ForecastAnswer
  with: ForecastAnswer
  /** the typed lines' own outlook */
  asked: AskedAnswer[]
  /** supplies that lack more, or sooner, or must be bought, because of it; `missing` is what is added */
  adds: AnswerShortfall[]
  /** what must be bought for it alone */
  costMicro: number
  /** planned lines of which fewer cups are ready in time, for want of supplies or of hours: how many fewer */
  takesFrom: { line: AnswerLine; fewer: number }[]
}

/** A line that is asked about, begun as soon as it can be. */
export interface AskedAnswer extends AnswerLine {
  /** the day on which all are ready, begun as soon as hands, turners and supplies allow; null: it cannot be said */
  earliestOn: IsoDate | null
  /** when everything that is missing for that is here, ordered today at the latest; null: nothing has to be waited for */
  hereOn: IsoDate | null
  /** what has to be waited for, by name; of what nobody sells it cannot be said */
  waitsFor: { supply: string; here: IsoDate | null }[]
  /** the latest day on which it can be begun and be in time, all else staying as planned; null: none */
  latestStartOn: IsoDate | null
  /** no plan can have all of it ready before */
  boundOn: IsoDate | null
  /** what ordering today would change; null: nothing is missing, or nothing of it can be bought */
  ordered: IfOrdered | null
}

/** What lines that are not kept would make short. */
export function whatIf(studio: Studio, extra: readonly DraftLine[]): WhatIf {
  const state = stateOf(studio, extra)
  const without = answerFrom(studio, state, compute(inputOf(state, false)))
  const withIt = answerFrom(studio, state, compute(inputOf(state, true)))
  const before = new Map(without.shortfalls.map((short) => [short.supplyId, short]))
  const adds = withIt.shortfalls.flatMap((short) => {
    const known = before.get(short.supplyId)
    // it may take what was on its way for others, who then have to be bought for
    const missing = Math.max(short.missing - (known?.missing ?? 0), short.toBuy - (known?.toBuy ?? 0))
    return missing > 0 || short.firstOn < (known?.firstOn ?? "~") ? [{ ...short, missing }] : []
  })
  const ableBefore = new Map(without.lines.map((line) => [line.lineId, line.able]))
  return {
    without,
    with: withIt,
    asked: askedAnswers(studio, state, withIt),
    adds,
    costMicro: Math.max(0, costOf(withIt.buys) - costOf(without.buys)),
    takesFrom: withIt.lines.flatMap((line) => {
      const fewer = (ableBefore.get(line.lineId) ?? 0) - line.able
      return line.orderId !== null && fewer > 0 ? [{ line, fewer }] : []
    }),
  }
}

/** When the typed lines can be ready at the earliest: begun at once, or when what they lack then is here. */
function askedAnswers(studio: Studio, state: State, answer: ForecastAnswer): AskedAnswer[] {
  const asked = answer.lines.filter((line) => line.orderId === null)
  const atOnce = new Set(asked.map((line) => line.lineId))
  const soonest = compute({ ...inputOf(state, true), atOnce })
  const shortNow = answerFrom(studio, state, soonest).shortfalls
  const answers = asked.map((line): AskedAnswer => {
    const waitsFor = shortNow
      .filter((short) => short.lineIds.includes(line.lineId))
      .map((short) => ({ supply: short.supply, here: hereOn(short, answer) }))
    const days = waitsFor.map((one) => one.here)
    const all = days.includes(null) ? null : (days.toSorted().at(-1) ?? null)
    const begunAtOnce = soonest.lines.find((one) => one.lineId === line.lineId)?.readyOn ?? null
    return {
      ...line,
      waitsFor,
      hereOn: all,
      earliestOn:
        waitsFor.length === 0 ? begunAtOnce : all === null ? null : answer.readyFrom(line.lineId, all),
      latestStartOn: answer.latestStart(line.lineId),
      boundOn: answer.boundOn(line.lineId),
      ordered: null,
    }
  })
  return withOrdered(studio, state, answer, answers)
}

/** When what is missing is here: what is coming, where it is enough, otherwise what is ordered today. */
function hereOn(short: AnswerShortfall, { arrivals, today }: ForecastAnswer): IsoDate | null {
  let left = short.missing
  const own = arrivals.filter((one) => one.supplyId === short.supplyId).sort((a, b) => (a.on < b.on ? -1 : 1))
  for (const { on, amount } of own) {
    left -= amount
    if (left <= 0) return on
  }
  if (short.buys.length === 0) return null
  const days = short.buys.map((buy) => buy.sooner?.hereOn ?? plusDays(today, buy.leadTimeDays))
  return days.sort().at(-1)!
}

/** What is left of a supply day by day, as far as anything is planned or coming; four months at most. */
export interface SupplyAnswer {
  today: IsoDate
  supply: Supply
  days: ProjectedDay[]
  /** who needs it on each day */
  needs: readonly (SupplyNeed & { orderId: number | null })[]
  shortfall: AnswerShortfall | null
}

const MOST_DAYS_SHOWN = 120

/**
 * @param extra lines counted in as if they were planned
 * @throws {Refusal} no such supply
 */
export function supplyForecast(
  studio: Studio,
  supplyId: number,
  extra: readonly DraftLine[] = [],
): SupplyAnswer {
  const supply = supplyById(studio, supplyId)
  const state = stateOf(studio, extra)
  const result = compute(inputOf(state, true))
  const answer = answerFrom(studio, state, result)
  const { today } = state
  const shelf = state.shelf.filter((one) => one.supplyId === supplyId)
  const arrivals = state.arrivals.filter((one) => one.container.supplyId === supplyId)
  const ends = [
    plusDays(today, SOON_DAYS),
    ...arrivals.map((one) => one.on),
    ...result.needs.filter((need) => need.supplyId === supplyId).map((need) => need.on),
  ]
  const days = Math.min(MOST_DAYS_SHOWN, daysUpTo(today, ends))
  return {
    today,
    supply,
    days: projection(today, shelf, arrivals, result.takes(supplyId), days),
    needs: result.neededBy(supplyId).map((need) => ({
      ...need,
      orderId: state.work.lines.find(({ open }) => open.lineId === need.lineId)?.orderId ?? null,
    })),
    shortfall: answer.shortfalls.find((short) => short.supplyId === supplyId) ?? null,
  }
}

function answerFrom(studio: Studio, state: State, result: Forecast): ForecastAnswer {
  const { today, settings, arrivals, supplies } = state
  const known = new Map(state.work.lines.map((line) => [line.open.lineId, line]))
  const first = buysFor(studio, result.shortfalls, supplies, today)
  const late = onItsWay(result.shortfalls, arrivals, result.takenFrom, first)
  const toBuy = (short: Shortfall) => short.missing - (late.get(short.supplyId)?.amount ?? 0)
  const buys =
    late.size === 0
      ? first
      : buysFor(
          studio,
          result.shortfalls.flatMap((short) =>
            toBuy(short) > 0 ? [{ ...short, missing: toBuy(short) }] : [],
          ),
          supplies,
          today,
        )
  const offers = substitutesFor(studio, state, result)
  const coming = arrivals.map(({ on, container }) => ({
    on,
    supplyId: container.supplyId,
    amount: usableLeft(container.amountLeft, container.keptBack ?? 0),
  }))
  return {
    today,
    lines: result.lines.map((outlook) => answerLine(known.get(outlook.lineId)!, outlook)),
    shortfalls: result.shortfalls.map((short) => {
      const supply = supplies.get(short.supplyId)!
      return {
        ...short,
        supply: supply.name,
        baseUnit: supply.baseUnit,
        coming: coming.reduce((sum, one) => sum + (one.supplyId === short.supplyId ? one.amount : 0), 0),
        onItsWay: late.get(short.supplyId) ?? null,
        toBuy: toBuy(short),
        buys: buys.filter((buy) => buy.supplyIds.includes(short.supplyId)),
        substitutes: offers.get(short.supplyId) ?? [],
      }
    }),
    buys,
    arrivals: coming,
    get steps() {
      return result.steps
    },
    turning: result.turning,
    latestStart: result.latestStart,
    readyFrom: result.readyFrom,
    boundOn: result.boundOn,
    shippingDays: settings.shippingDays,
    places: state.shop.turnerPlaces,
    get needs() {
      return result.needs
    },
    get leftAfter() {
      return leftAfter(state, coming, result)
    },
    unused: unusedOf(studio, state.shelf, today, result.takenFrom),
    looseShort: result.shortfalls.some((short) => short.firstOn === today && short.loose),
  }
}

/** Field by field: spread from two objects, each of hundreds of lines is a dictionary, slow to make and to read. */
function answerLine(asked: AskedLine, outlook: LineOutlook): AnswerLine {
  const able = Math.min(outlook.covered, outlook.inTime)
  return {
    lineId: outlook.lineId,
    orderId: asked.orderId,
    buyer: asked.buyer,
    design: asked.design,
    designId: asked.designId,
    askedAt: asked.askedAt,
    quantity: asked.quantity,
    scrap: asked.scrap,
    made: asked.made,
    dueOn: outlook.dueOn,
    cups: outlook.cups,
    covered: outlook.covered,
    stops: outlook.stops,
    inTime: outlook.inTime,
    readyOn: outlook.readyOn,
    plannedOn: outlook.plannedOn,
    startBy: outlook.startBy,
    late: outlook.late,
    unplanned: outlook.unplanned,
    problem: outlook.problem,
    able,
    limit: able === outlook.cups ? null : outlook.covered <= outlook.inTime ? "supplies" : "time",
    spareCups: asked.open.spareCups ?? 0,
  }
}

function leftAfter(
  { shelf, today }: State,
  coming: ForecastAnswer["arrivals"],
  { needs }: Forecast,
): Map<number, number> {
  const left = new Map<number, number>()
  const add = (supplyId: number, amount: number) => left.set(supplyId, (left.get(supplyId) ?? 0) + amount)
  for (const one of shelf) {
    if (!one.held && isUsableOn(one.useBy, today)) add(one.supplyId, usableLeft(one.amountLeft, one.keptBack))
  }
  for (const { supplyId, amount } of coming) add(supplyId, amount)
  for (const { supplyId, amount } of needs) add(supplyId, -amount)
  return left
}

function costOf(buys: readonly AnswerBuy[]): number {
  return buys.reduce((sum, buy) => sum + buy.costMicro, 0)
}
