import type { Shelved } from "./allocation.ts"
import { daysBetween, type IsoDate, plusDays } from "./dates.ts"
import { dayAt, dayOfUse, daysUntilReady, type Part, planned } from "./forecast-parts.ts"
import { NeedBook, type StepNeed } from "./need-book.ts"
import { type Arrival, net, type Step } from "./netting.ts"
import type { Measures } from "./plan.ts"
import { Refusal } from "./refusal.ts"
import type { PlannedStep, Shop } from "./schedule.ts"
import { cupsAt, hasBegun, type Work } from "./work.ts"
import type { LinePlan } from "./work-plan.ts"

/** An order line with what is still to be done for it; finished cups are left out. */
export interface OpenLine {
  lineId: number
  dueOn: IsoDate
  /** batches under way first, then what is still to be started */
  work: readonly Work[]
  /** so many cups more may have to be started, since some will be scrapped: their supplies are needed too */
  spareCups?: number
}

/** What is used up whether or not an order is made, on average. */
export interface SteadyUse {
  supplyId: number
  perWeek: number
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
  /** hands, hours and turners; its first day is today */
  shop: Shop
  /** lines are planned to be ready so many days before they must leave */
  spareDays?: number
  /** lines that are begun as soon as they can be, whatever there is to spare */
  atOnce?: ReadonlySet<number>
  steady?: readonly SteadyUse[]
  measures: Measures
  /** one for several forecasts of the same plans saves working the needs out again */
  book?: NeedBook
}

/** How far hands, turners and the shelf reach for one line. */
export interface LineOutlook {
  lineId: number
  dueOn: IsoDate
  /** cups still to be made or finished */
  cups: number
  /** how many of them have all they need on its day, the lines before it served first */
  covered: number
  /** what is missing first for one cup more */
  stops: { supplyId: number; on: IsoDate } | null
  /** how many can be ready in time, by hours and turners alone; all where nothing can be said of it */
  inTime: number
  /** the day on which all can be ready by hours and turners, begun as soon as possible; null: not known */
  readyOn: IsoDate | null
  /** the day on which all are ready as planned */
  plannedOn: IsoDate | null
  /** the day by which its first remaining layer must be started were nothing else to do; null: nothing is left */
  startBy: IsoDate | null
  /** not all can be ready in time */
  late: boolean
  /** it fits no day or no turner, so no days can be given for it */
  unplanned: boolean
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
  /** batches that belong to no order lack it */
  loose: boolean
  /** what is used whether or not an order is made lacks it */
  steady: boolean
}

/** A layer for some cups on its day, and whose it is. */
export interface DayStep extends PlannedStep {
  on: IsoDate
  /** null: a batch that belongs to no order */
  lineId: number | null
  design: string
}

/** What of a supply is needed on a day, and for what. */
export interface SupplyNeed {
  on: IsoDate
  amount: number
  /** steady use: whatever is made; loose: a batch that belongs to no order; spare: cups that may be scrapped */
  for: "line" | "spare" | "loose" | "steady"
  /** null: of no order */
  lineId: number | null
  design: string | null
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
  /** what of a supply's containers is used on each day */
  takes(supplyId: number): readonly { on: IsoDate; containerId: number; amount: number }[]
  /** who needs how much of a supply on each day: adds up to `needs` */
  neededBy(supplyId: number): readonly SupplyNeed[]
  /** what is done when, by start */
  steps: readonly DayStep[]
  /** cups that turn now, and until when, in minutes after today's midnight */
  turning: readonly { cups: number; untilMin: number }[]
  /** the latest day on which a line can be begun, all else staying as planned; null: it is late already, or begun */
  latestStart(lineId: number): IsoDate | null
  /** no plan can have all of a line ready before; null: not known */
  boundOn(lineId: number): IsoDate | null
  /** the day on which all of a line are ready, if those not begun yet are begun on a day; null: not known */
  readyFrom(lineId: number, day: IsoDate): IsoDate | null
}

/** Whose steady use is: nobody's. */
const STEADY = "steady"
type Owner = Part | typeof STEADY

/**
 * What can be made when, and what runs short.
 *
 * Lines become jobs of cups that fit on the turners together; `planWork` says when each layer is done, and the
 * layer's needs fall on that day. Where no day can be given, they fall on the day counted back from the due date,
 * but never before today. Amounts are those that making each job would take. Day by day, on one day in the order of
 * due date and line id, needs are taken from the shelf and from what has arrived by then, by the allocator that
 * making uses.
 *
 * A line's `covered` is the largest number of cups for which nothing is missing while every other line keeps
 * what it has.
 */
export function forecast(input: ForecastInput): Forecast {
  const lines = input.lines.toSorted((a, b) => compare(a.dueOn, b.dueOn) || a.lineId - b.lineId)
  const book = input.book ?? new NeedBook(input.measures)
  const { parts, plan } = planned(input, lines)
  const problems = new Map<OpenLine | null, string>()
  const all: Step<Owner>[] = []
  for (const part of parts) {
    try {
      all.push(...stepsOf(part, input, book))
    } catch (error) {
      if (!(error instanceof Refusal)) throw error
      problems.set(part.line, `${part.work.plan.designName}: ${error.message}`)
    }
  }
  all.push(...steadySteps(input, all))
  const steps = byDay(all)
  const netted = net(steps, input.shelf, input.arrivals, (owner, position, cups) =>
    owner === STEADY ? null : needOf(owner, position, cups, book),
  )
  const partsOf = new Map<OpenLine | null, Part[]>()
  for (const part of parts) {
    const own = partsOf.get(part.line)
    if (own) own.push(part)
    else partsOf.set(part.line, [part])
  }
  return {
    lines: lines.map((line) => {
      const own = (partsOf.get(line) ?? []).filter((part) => part.kind === "cups")
      return outlookOf(
        line,
        own,
        netted,
        input,
        plan.lines.get(line.lineId) ?? null,
        problems.get(line) ?? null,
      )
    }),
    shortfalls: netted.shortfalls.map(({ owners, ...shortfall }) => {
      const short = [...owners].filter((owner) => owner !== STEADY)
      return {
        ...shortfall,
        lineIds: [...new Set(short.flatMap((part) => (part.line ? [part.line.lineId] : [])))],
        loose: short.some((part) => part.line === null),
        steady: owners.has(STEADY),
      }
    }),
    get needs() {
      return netted.needs
    },
    takenFrom: netted.takenFrom,
    takes: netted.takes,
    neededBy: (supplyId) =>
      steps.flatMap(({ on, owner, need }) => {
        const amount = need.totals.get(supplyId) ?? 0
        return amount === 0 ? [] : [{ on, amount, ...ownerOf(owner) }]
      }),
    // only the page that shows the days asks for them
    get steps() {
      const partOf = new Map(parts.flatMap((part) => (part.job ? [[part.job.job.id, part] as const] : [])))
      return plan.steps.map((step) => {
        const { line, work } = partOf.get(step.jobId)!
        const on = dayAt(input, step.startMin)
        return { ...step, on, lineId: line?.lineId ?? null, design: work.plan.designName }
      })
    },
    turning: parts.flatMap(({ job, cups }) => {
      const untilMin = job?.job.underWay?.turnsUntilMin ?? 0
      return untilMin > input.shop.nowMin ? [{ cups, untilMin }] : []
    }),
    latestStart: (lineId) => {
      const day = plan.latestStart(lineId)
      return day === null ? null : plusDays(input.today, day)
    },
    boundOn: (lineId) => {
      const bound = plan.boundMin(lineId)
      return bound === null ? null : dayAt(input, bound)
    },
    readyFrom: (lineId, day) => {
      if (!plan.lines.has(lineId)) return null
      const ready = plan.readyFrom(lineId, 1440 * daysBetween(input.today, day))
      return ready === null ? null : dayAt(input, ready)
    },
  }
}

function ownerOf(owner: Owner): Pick<SupplyNeed, "for" | "lineId" | "design"> {
  if (owner === STEADY) return { for: "steady", lineId: null, design: null }
  const { line, work, kind } = owner
  return {
    for: line === null ? "loose" : kind === "spare" ? "spare" : "line",
    lineId: line?.lineId ?? null,
    design: work.plan.designName,
  }
}

/** In the order of their days; on one day as they came: by their parts, and in a part by its layers. */
function byDay(steps: readonly Step<Owner>[]): Step<Owner>[] {
  const days = new Map<IsoDate, Step<Owner>[]>()
  for (const step of steps) {
    const day = days.get(step.on)
    if (day) day.push(step)
    else days.set(step.on, [step])
  }
  return [...days.keys()].sort().flatMap((on) => days.get(on)!)
}

function stepsOf(part: Part, input: ForecastInput, book: NeedBook): Step<Part>[] {
  const steps: Step<Part>[] = []
  for (const position of daysUntilReady(part.work.plan).keys()) {
    const need = needOf(part, position, part.cups, book)
    if (need) steps.push({ owner: part, position, on: dayOfUse(part, position, input), need })
  }
  return steps
}

function needOf({ work, isLater }: Part, position: number, cups: number, book: NeedBook): StepNeed | null {
  const again = isLater || hasBegun(work, position)
  return book.need(work.plan, position, cupsAt(work, position, cups), { again })
}

/** At its average rate, on the first day of each week as far as anything is planned, four weeks at least. */
function steadySteps({ today, steady = [] }: ForecastInput, steps: readonly Step<Owner>[]): Step<Owner>[] {
  const used = steady.filter((one) => one.perWeek > 0)
  if (used.length === 0) return []
  let last = plusDays(today, 27)
  for (const { on } of steps) if (on > last) last = on
  const weekly: Step<Owner>[] = []
  for (let on = today; on <= last; on = plusDays(on, 7)) {
    for (const { supplyId, perWeek } of used) {
      const need = {
        wants: [{ supplyId, amount: perWeek, wholeCoat: 1 }],
        totals: new Map([[supplyId, perWeek]]),
      }
      weekly.push({ owner: STEADY, position: 0, on, need })
    }
  }
  return weekly
}

function outlookOf(
  line: OpenLine,
  parts: readonly Part[],
  netted: ReturnType<typeof net<Owner>>,
  input: ForecastInput,
  plan: LinePlan | null,
  problem: string | null,
): LineOutlook {
  const cups = parts.reduce((sum, part) => sum + part.cups, 0)
  const reaches = parts.map((part) => netted.reach(part, part.cups))
  const stops = reaches
    .flatMap((reach) => reach.stops ?? [])
    .reduce<LineOutlook["stops"]>((first, one) => (first === null || one.on < first.on ? one : first), null)
  const first = earliest(parts.map((part) => startBy(part, line, input.shippingDays)))
  const inTime = plan?.inTime ?? cups
  const dayOf = (minutes: number | null | undefined) =>
    minutes === null || minutes === undefined ? null : dayAt(input, minutes)
  return {
    lineId: line.lineId,
    dueOn: line.dueOn,
    cups,
    covered: problem === null ? reaches.reduce((sum, reach) => sum + reach.covered, 0) : 0,
    stops,
    inTime,
    readyOn: dayOf(plan?.earliestMin),
    plannedOn: dayOf(plan?.readyMin),
    startBy: first,
    late: plan === null ? first !== null && first < input.today : inTime < cups,
    unplanned: plan === null && cups > 0,
    problem,
  }
}

/** The day the part's first remaining layer must be started, be it past. */
function startBy(part: Part, line: OpenLine, shippingDays: number): IsoDate | null {
  const least = Math.min(...part.work.cups.map((group) => group.layersDone))
  let most: number | null = null
  for (const [position, days] of daysUntilReady(part.work.plan))
    if (position > least && (most === null || days > most)) most = days
  return most === null ? null : plusDays(line.dueOn, -shippingDays - most)
}

function earliest(days: readonly (IsoDate | null)[]): IsoDate | null {
  return days.reduce((a, b) => (a === null || (b !== null && b < a) ? b : a), null)
}

function compare(a: string, b: string): number {
  return a < b ? -1 : a > b ? 1 : 0
}
