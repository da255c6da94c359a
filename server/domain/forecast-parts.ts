import { daysBetween, type IsoDate, plusDays } from "./dates.ts"
import type { ForecastInput, OpenLine } from "./forecast.ts"
import { jobsOf, type WorkJob } from "./line-jobs.ts"
import type { Plan } from "./plan.ts"
import { planTimes } from "./plan-times.ts"
import { cupsOf, type Work } from "./work.ts"
import { planWork, type WorkPlan } from "./work-plan.ts"

/** Cups that go through their layers together, as the forecast counts what they take. */
export interface Part {
  line: OpenLine | null
  work: Work
  cups: number
  /** cups that go through together; null: no days can be given */
  job: WorkJob | null
  /** its batch has had, or will have had, the layers it shares with other jobs */
  isLater: boolean
  /** spare: started in place of cups that will be scrapped */
  kind: "cups" | "spare"
  /** by position: set once the plan is made */
  days: readonly (IsoDate | undefined)[]
}

const NO_DAYS: readonly (IsoDate | undefined)[] = []

/** The parts of all work in the order in which they are served, with the days of their layers. */
export function planned(input: ForecastInput, lines: readonly OpenLine[]): { parts: Part[]; plan: WorkPlan } {
  let ids = 0
  const idFrom = () => ++ids
  const split = (line: OpenLine | null, priority: number) => (work: Work) =>
    partsOfWork(line, work, jobsOf(work, input.shop, priority, idFrom))
  const loose = input.loose.flatMap(split(null, -1))
  const byLine = lines.map((line, index) => line.work.flatMap(split(line, index)))
  const jobs = (parts: readonly Part[]) => parts.flatMap((part) => (part.job ? [part.job.job] : []))
  const plan = planWork(
    jobs(loose),
    lines.flatMap(({ lineId, dueOn }, index) => {
      const own = byLine[index]!
      const canPlan = own.length > 0 && own.every((part) => part.job !== null)
      const waits = input.atOnce?.has(lineId) !== true
      return canPlan ? [{ lineId, jobs: jobs(own), dueMin: dueMin(input, dueOn), waits }] : []
    }),
    input.shop,
    input.spareDays ?? 0,
  )
  const days = new Map<number, IsoDate[]>()
  for (const { jobId, position, startMin } of plan.steps) {
    const known = days.get(jobId) ?? []
    days.set(jobId, known)
    known[position] = dayAt(input, startMin)
  }
  for (const part of [...loose, ...byLine.flat()]) {
    if (part.job) part.days = days.get(part.job.job.id) ?? NO_DAYS
  }
  return { plan, parts: [...loose, ...byLine.flatMap(withSpare)] }
}

function partsOfWork(line: OpenLine | null, work: Work, jobs: readonly WorkJob[] | null): Part[] {
  const part = (own: Work, cups: number, job: WorkJob | null, isLater: boolean): Part => ({
    line,
    work: own,
    cups,
    job,
    isLater,
    kind: "cups",
    days: NO_DAYS,
  })
  if (jobs === null) return cupsOf(work) === 0 ? [] : [part(work, cupsOf(work), null, false)]
  return jobs.map((job, index) => {
    // cups that are still to be started are a batch for each job
    const isBegun = work.begun !== undefined || job.layersDone > 0
    const group = { layersDone: job.layersDone, count: job.job.cups }
    const own: Work = { plan: work.plan, cups: [group], begun: begunBy(work) }
    return part(own, job.job.cups, job, isBegun && index > 0)
  })
}

function begunBy({ begun = 0, cups }: Work): number {
  return Math.max(begun, ...cups.map((group) => group.layersDone))
}

/** A line's parts, and the cups that are started in place of those that will be scrapped, with its last new ones. */
function withSpare(parts: readonly Part[]): Part[] {
  const last = parts.findLast((part) => part.work.cups.every((group) => group.layersDone === 0))
  const spare = last?.line?.spareCups ?? 0
  if (!last || spare === 0) return [...parts]
  const work: Work = { ...last.work, cups: [{ layersDone: 0, count: spare }] }
  return [...parts, { ...last, work, cups: spare, job: null, isLater: true, kind: "spare" }]
}

/** The day that was planned; where there is none, counted back from the due date, loose work today. */
export function dayOfUse(part: Part, position: number, { today, shippingDays }: ForecastInput): IsoDate {
  const day = part.days[position]
  if (day !== undefined) return day
  if (part.line === null) return today
  const on = plusDays(part.line.dueOn, -shippingDays - daysUntilReady(part.work.plan).get(position)!)
  return on < today ? today : on
}

const daysKnown = new WeakMap<Plan, ReadonlyMap<number, number>>()

/** By position, in whole days up: from a layer's start until the cup may be used. */
export function daysUntilReady(plan: Plan): ReadonlyMap<number, number> {
  let days = daysKnown.get(plan)
  if (!days) {
    days = new Map(
      planTimes(plan).untilReady.map((layer) => [layer.position, Math.ceil(layer.minutes / 1440)]),
    )
    daysKnown.set(plan, days)
  }
  return days
}

/** By closing time on the day the cups must leave. */
function dueMin({ today, shippingDays, shop }: ForecastInput, dueOn: IsoDate): number {
  return 1440 * daysBetween(today, plusDays(dueOn, -shippingDays)) + shop.hours.closesMin
}

/** The day that a minute of the plan lies in. */
export function dayAt({ today }: ForecastInput, minutes: number): IsoDate {
  return plusDays(today, Math.floor(minutes / 1440))
}
