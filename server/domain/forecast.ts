import type { Shelved } from "./allocation.ts"
import { daysBetween, type IsoDate, plusDays } from "./dates.ts"
import { NeedBook, type StepNeed } from "./need-book.ts"
import { type Arrival, net, type Step } from "./netting.ts"
import type { Measures, Plan } from "./plan.ts"
import { planTimes } from "./plan-times.ts"
import { Refusal } from "./refusal.ts"
import { type TurnerCheck, turnerCheck } from "./turner-check.ts"
import { cupsAt, cupsOf, hasBegun, type Work } from "./work.ts"

/** An order line with what is still to be done for it; finished cups are left out. */
export interface OpenLine {
  lineId: number
  dueOn: IsoDate
  /** batches under way first, then what is still to be started */
  work: readonly Work[]
}

export interface ForecastInput {
  today: IsoDate
  lines: readonly OpenLine[]
  /** batches under way that belong to no line */
  loose: readonly Work[]
  shelf: readonly Shelved[]
  /** what is ordered and expected */
  arrivals: readonly Arrival[]
  shippingDays: number
  turnerPlaces: number
  measures: Measures
  /** one for several forecasts of the same plans saves working the needs out again */
  book?: NeedBook
}

/** How far the shelf reaches for one line. */
export interface LineOutlook {
  lineId: number
  dueOn: IsoDate
  /** cups still to be made or finished */
  cups: number
  /** how many of them have all they need on its day, the lines before it served first */
  covered: number
  /** what is missing first for one cup more */
  stops: { supplyId: number; on: IsoDate } | null
  /** the day by which its first remaining layer must be started; null when nothing is left to do */
  startBy: IsoDate | null
  /** that day is past */
  late: boolean
  /** its plan cannot be worked out: why */
  problem: string | null
}

/** A supply that will not cover the plan, in its base unit. */
export interface Shortfall {
  supplyId: number
  firstOn: IsoDate
  missing: number
  days: readonly { on: IsoDate; missing: number }[]
  lineIds: readonly number[]
}

export interface Forecast {
  /** in the order in which they are served: by due date, then id */
  lines: readonly LineOutlook[]
  /** by first day, then supply */
  shortfalls: readonly Shortfall[]
  /** what is needed on each day; adds up exactly to the plans' needs */
  needs: readonly { on: IsoDate; supplyId: number; amount: number }[]
  /** what of each container is used, by its id */
  takenFrom: ReadonlyMap<number, number>
  turners: TurnerCheck
}

interface Part {
  line: OpenLine | null
  work: Work
  cups: number
  /** days until it may be used, from the start of each layer, by position */
  daysUntilReady: ReadonlyMap<number, number>
}

/**
 * What runs short.
 *
 * Each layer's needs fall on the day it is done: due date − shipping days − the time from the layer's start
 * until the cup may be used (remaining layers and full cure, in whole days up), but never before today. The
 * cups of a work go through as one batch, so amounts are those that making it would take. Loose work is done
 * today. Day by day, on one day in the order of due date and line id, needs are taken from the shelf and from
 * what has arrived by then, by the allocator that making uses.
 *
 * A line's `covered` is the largest number of cups for which nothing is missing while every other line keeps
 * what it has.
 */
export function forecast(input: ForecastInput): Forecast {
  const lines = input.lines.toSorted((a, b) => compare(a.dueOn, b.dueOn) || a.lineId - b.lineId)
  const book = input.book ?? new NeedBook(input.measures)
  const problems = new Map<OpenLine | null, string>()
  const parts = [
    ...input.loose.map((work) => partOf(null, work)),
    ...lines.flatMap((line) => line.work.map((work) => partOf(line, work))),
  ].filter((part) => part.cups > 0)

  const partsOf = new Map<OpenLine | null, Part[]>()
  for (const part of parts) partsOf.set(part.line, [...(partsOf.get(part.line) ?? []), part])

  const steps: Step<Part>[] = []
  for (const part of parts) {
    try {
      steps.push(...stepsOf(part, input, book))
    } catch (error) {
      if (!(error instanceof Refusal)) throw error
      problems.set(part.line, `${part.work.plan.designName}: ${error.message}`)
    }
  }
  // stable: on one day steps stay in the order of their parts, and in a part of its layers
  steps.sort((a, b) => compare(a.on, b.on))

  const netted = net(steps, input.shelf, input.arrivals, (part, position, cups) =>
    needOf(part, position, cups, book),
  )
  return {
    lines: lines.map((line) => {
      return outlookOf(line, partsOf.get(line) ?? [], netted, input, problems.get(line) ?? null)
    }),
    shortfalls: netted.shortfalls.map(({ owners, ...shortfall }) => ({
      ...shortfall,
      lineIds: [...new Set([...owners].flatMap((part) => (part.line ? [part.line.lineId] : [])))],
    })),
    needs: netted.needs,
    takenFrom: netted.takenFrom,
    turners: turnerCheck(
      parts.map(({ line, work }) => ({
        lineId: line?.lineId ?? null,
        readyOn: line ? plusDays(line.dueOn, -input.shippingDays) : input.today,
        work,
      })),
      input.today,
      input.turnerPlaces,
    ),
  }
}

function partOf(line: OpenLine | null, work: Work): Part {
  return {
    line,
    work,
    cups: cupsOf(work),
    daysUntilReady: daysUntilReady(work.plan),
  }
}

const daysKnown = new WeakMap<Plan, ReadonlyMap<number, number>>()

function daysUntilReady(plan: Plan): ReadonlyMap<number, number> {
  let days = daysKnown.get(plan)
  if (!days) {
    days = new Map(
      planTimes(plan).untilReady.map((layer) => [layer.position, Math.ceil(layer.minutes / 1440)]),
    )
    daysKnown.set(plan, days)
  }
  return days
}

function stepsOf(part: Part, input: ForecastInput, book: NeedBook): Step<Part>[] {
  return [...part.daysUntilReady.keys()].flatMap((position) => {
    const need = needOf(part, position, part.cups, book)
    return need ? [{ owner: part, position, on: dayOfUse(part, position, input), need }] : []
  })
}

function needOf({ work }: Part, position: number, cups: number, book: NeedBook): StepNeed | null {
  return book.need(work.plan, position, cupsAt(work, position, cups), { again: hasBegun(work, position) })
}

function dayOfUse(part: Part, position: number, { today, shippingDays }: ForecastInput): IsoDate {
  if (part.line === null) return today
  const on = plusDays(part.line.dueOn, -shippingDays - part.daysUntilReady.get(position)!)
  return on < today ? today : on
}

function outlookOf(
  line: OpenLine,
  parts: readonly Part[],
  netted: ReturnType<typeof net<Part>>,
  input: ForecastInput,
  problem: string | null,
): LineOutlook {
  const reaches = parts.map((part) => netted.reach(part, part.cups))
  const stops = reaches
    .flatMap((reach) => reach.stops ?? [])
    .reduce<LineOutlook["stops"]>((first, one) => (first === null || one.on < first.on ? one : first), null)
  const starts = parts.map((part) => startBy(part, line, input.shippingDays)).filter((day) => day !== null)
  const first = starts.reduce<IsoDate | null>((a, b) => (a === null || b < a ? b : a), null)
  return {
    lineId: line.lineId,
    dueOn: line.dueOn,
    cups: parts.reduce((sum, part) => sum + part.cups, 0),
    covered: problem === null ? reaches.reduce((sum, reach) => sum + reach.covered, 0) : 0,
    stops,
    startBy: first,
    late: first !== null && daysBetween(input.today, first) < 0,
    problem,
  }
}

/** The day the part's first remaining layer must be started, be it past. */
function startBy(part: Part, line: OpenLine, shippingDays: number): IsoDate | null {
  const least = Math.min(...part.work.cups.map((group) => group.layersDone))
  const days = [...part.daysUntilReady].filter(([position]) => position > least).map(([, n]) => n)
  return days.length === 0 ? null : plusDays(line.dueOn, -shippingDays - Math.max(...days))
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}
