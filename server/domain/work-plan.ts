import { earliestReadyMin, type Job, type PlannedStep, type Shop } from "./schedule.ts"
import { ShopBench } from "./shop-bench.ts"

const DAY_MIN = 1440
const MOST_TRIES = 3

/** The jobs of one order line, and until when its cups must be ready. */
export interface LineJobs {
  lineId: number
  jobs: readonly Job[]
  /** minutes after the first day's midnight */
  dueMin: number
  /** begun no sooner than it must be; false: as soon as it can be */
  waits: boolean
}

/** When a line's cups are ready. Minutes after the first day's midnight. */
export interface LinePlan {
  /** when its last cup is ready in the plan that is followed; null: further ahead than is planned */
  readyMin: number | null
  /** when it could be, begun as soon as there are hands and places, what is due before it staying as planned */
  earliestMin: number | null
  /** how many of its cups can be ready when they must */
  inTime: number
}

/** What is done when: the layers of all jobs by start, and what that means for each line. */
export interface WorkPlan {
  steps: readonly PlannedStep[]
  lines: ReadonlyMap<number, LinePlan>
  /**
   * The latest day, counted from the first, on which a line's work can begin and still be in time, everything else
   * staying as planned; null: on none. Cups that are under way go on as planned.
   */
  latestStart(lineId: number): number | null
  /** No plan can have all of a line ready before; null: it is not planned. */
  boundMin(lineId: number): number | null
  /**
   * When a line is ready if its cups that are not begun yet are begun from that minute on, everything else staying
   * as planned; null: further ahead than is planned.
   */
  readyFrom(lineId: number, notBeforeMin: number): number | null
}

/**
 * Plans everything: what is under way first and at once; then line by line, in the order of their due dates, as late
 * as the line is still ready `spareDays` before it must be, or as soon as it can be where that is not possible. So
 * supplies are bought when they are needed and not before, and nothing is late that need not be. No line waits longer
 * than one that is due after it, which would take its supplies. Where work that waits would make fewer cups ready in
 * time, no line waits that is due before the last late one.
 *
 * @param loose batches that belong to no line
 * @param lines by due date
 */
export function planWork(
  loose: readonly Job[],
  lines: readonly LineJobs[],
  shop: Shop,
  spareDays: number,
): WorkPlan {
  const place = (latestDays: readonly number[]) => placed(loose, lines, shop, spareDays, latestDays)
  let best = place(lines.map(() => Number.POSITIVE_INFINITY))
  // begun as soon as they can be already: waiting less changes nothing
  if (!best.waits) return finished(best, lines, shop)
  const keepBetter = (plan: Placed) => {
    if (cupsInTime(plan) >= cupsInTime(best)) best = plan
  }
  let latestDays = beforeLaterOnes(best, lines)
  if (lines.some(({ lineId }, index) => startDay(best, lineId) > latestDays[index]!)) {
    keepBetter(place(latestDays))
  }
  // each time more lines begin at once, until none is late that could have been helped by it
  let atOnce = 0
  let plan = best
  for (let tries = 0; tries < MOST_TRIES; tries++) {
    const lastLate = lines.findLastIndex(({ lineId, dueMin }) => !isBy(plan.lines.get(lineId), dueMin))
    if (lastLate < atOnce || lastLate === 0) break
    atOnce = tries === MOST_TRIES - 1 ? lines.length : lastLate + 1
    latestDays = latestDays.map((day, index) => (index < atOnce ? 0 : day))
    plan = place(latestDays)
    if (cupsInTime(plan) > cupsInTime(best)) best = plan
  }
  return finished(best, lines, shop)
}

/** By line: the day on which the first is begun of those that are due after it. */
function beforeLaterOnes(plan: Placed, lines: readonly LineJobs[]): number[] {
  let first = Number.POSITIVE_INFINITY
  return lines
    .toReversed()
    .map(({ lineId }) => {
      const day = first
      first = Math.min(first, startDay(plan, lineId))
      return day
    })
    .reverse()
}

/** The day on which a line's work begins that is not under way; never where there is none. */
function startDay({ stepsOf }: Placed, lineId: number): number {
  const starts = (stepsOf.get(lineId) ?? []).map((step) => Math.floor(step.startMin / DAY_MIN))
  return starts.length === 0 ? Number.POSITIVE_INFINITY : Math.min(...starts)
}

interface Placed {
  bench: ShopBench
  /** some line is begun later than it could be */
  waits: boolean
  steps: PlannedStep[]
  stepsOf: Map<number, PlannedStep[]>
  lines: Map<number, LinePlan>
  /** by line: when its cups under way are ready */
  beganReady: Map<number, number | null>
}

/** @param latestDays by line: it begins on that day at the latest; 0: at once */
function placed(
  loose: readonly Job[],
  lines: readonly LineJobs[],
  shop: Shop,
  spareDays: number,
  latestDays: readonly number[],
): Placed {
  const bench = new ShopBench(shop)
  const known: Placed = {
    bench,
    waits: false,
    steps: [],
    stepsOf: new Map(),
    lines: new Map(),
    beganReady: new Map(),
  }
  for (const job of loose) bench.turnsAlready(job)
  for (const { jobs } of lines) for (const job of jobs) bench.turnsAlready(job)
  for (const job of loose) bench.place(job, known.steps)
  const begun = new Map(
    lines.map((line) => [line, placeAll(bench, line.jobs.filter(isUnderWay), 0)] as const),
  )
  for (const [index, line] of lines.entries()) {
    const under = begun.get(line)!
    const fresh = line.jobs.filter((job) => !isUnderWay(job))
    const soonest = placeAll(bench, fresh, 0)
    const readyMin = latest([...under.ready, ...soonest.ready])
    let chosen = soonest
    if (line.waits && latestDays[index]! > 0 && fresh.length > 0) {
      const byMin = line.dueMin - spareDays * DAY_MIN
      const inTime = lastInTime(bench, fresh, soonest, byMin, latestDays[index]!)
      if (inTime) chosen = inTime.run
      if (chosen !== soonest) known.waits = true
    }
    const steps = [...under.steps, ...chosen.steps]
    known.steps.push(...steps)
    known.stepsOf.set(line.lineId, chosen.steps)
    known.beganReady.set(line.lineId, latest(under.ready))
    known.lines.set(line.lineId, {
      readyMin: latest([...under.ready, ...chosen.ready]),
      earliestMin: readyMin,
      inTime: line.jobs.reduce((sum, job) => {
        const ready = under.of.get(job.id) ?? soonest.of.get(job.id) ?? null
        return sum + (ready !== null && ready <= line.dueMin ? job.cups : 0)
      }, 0),
    })
  }
  return known
}

interface Run {
  steps: PlannedStep[]
  ready: (number | null)[]
  of: Map<number, number | null>
}

function placeAll(bench: ShopBench, jobs: readonly Job[], notBeforeMin: number): Run {
  const run: Run = { steps: [], ready: [], of: new Map() }
  for (const job of jobs) {
    const ready = bench.place(job, run.steps, notBeforeMin)
    run.ready.push(ready)
    run.of.set(job.id, ready)
  }
  return run
}

/**
 * The jobs begun on the latest day from which they are all ready by `byMin`, found by halving; null where even
 * those begun at once are not. The bench holds `soonest` before, and what is returned afterwards.
 */
function lastInTime(
  bench: ShopBench,
  jobs: readonly Job[],
  soonest: Run,
  byMin: number,
  latestDay: number,
): { run: Run; day: number } | null {
  const isInTime = (run: Run) => run.ready.every((ready) => ready !== null && ready <= byMin)
  if (!isInTime(soonest)) return null
  let best = { run: soonest, day: 0 }
  let tooLate = Math.max(1, Math.min(latestDay, Math.floor(byMin / DAY_MIN)) + 1)
  while (tooLate - best.day > 1) {
    const day = (best.day + tooLate) >>> 1
    bench.clear(best.run.steps)
    const run = placeAll(bench, jobs, day * DAY_MIN)
    if (isInTime(run)) best = { run, day }
    else {
      bench.clear(run.steps)
      bench.take(best.run.steps)
      tooLate = day
    }
  }
  return best
}

function finished(
  { bench, steps, stepsOf, lines, beganReady }: Placed,
  all: readonly LineJobs[],
  shop: Shop,
): WorkPlan {
  const jobsOf = new Map(all.map((line) => [line.lineId, line]))
  return {
    steps: steps.sort((a, b) => a.startMin - b.startMin || a.jobId - b.jobId),
    lines,
    boundMin: (lineId) => {
      const jobs = jobsOf.get(lineId)?.jobs ?? []
      return jobs.length === 0 ? null : earliestReadyMin(jobs, shop)
    },
    latestStart: (lineId) => {
      const line = jobsOf.get(lineId)
      const fresh = line?.jobs.filter((job) => !isUnderWay(job)) ?? []
      if (!line || fresh.length === 0) return null
      const planned = stepsOf.get(lineId)!
      bench.clear(planned)
      const soonest = placeAll(bench, fresh, 0)
      const last = lastInTime(bench, fresh, soonest, line.dueMin, Number.POSITIVE_INFINITY)
      bench.clear((last?.run ?? soonest).steps)
      bench.take(planned)
      return last === null ? null : last.day
    },
    readyFrom: (lineId, notBeforeMin) => {
      const fresh = jobsOf.get(lineId)?.jobs.filter((job) => !isUnderWay(job)) ?? []
      const planned = stepsOf.get(lineId) ?? []
      bench.clear(planned)
      const run = placeAll(bench, fresh, notBeforeMin)
      bench.clear(run.steps)
      bench.take(planned)
      return latest([beganReady.get(lineId) ?? 0, ...run.ready])
    },
  }
}

function cupsInTime({ lines }: Placed): number {
  return [...lines.values()].reduce((sum, line) => sum + line.inTime, 0)
}

function isBy(line: Pick<LinePlan, "readyMin"> | undefined, dueMin: number): boolean {
  return line !== undefined && line.readyMin !== null && line.readyMin <= dueMin
}

function isUnderWay(job: Job): boolean {
  return job.underWay !== undefined
}

function latest(minutes: readonly (number | null)[]): number | null {
  return minutes.reduce<number | null>(
    (last, one) => (last === null || one === null ? null : Math.max(last, one)),
    0,
  )
}
