import type { IsoDate } from "./dates.ts"
import { ShopBench, slots } from "./shop-bench.ts"
import { OpenDays, openSlots, type ShopHours, SLOT_MIN } from "./shop-hours.ts"

/** What limits the work: one pair of hands in the studio's hours, and places on turners day and night. */
export interface Shop {
  hours: ShopHours
  /** the first day of the plan */
  today: IsoDate
  /** minutes after that day's midnight from which on work can be planned */
  nowMin: number
  /** turners × places on each */
  turnerPlaces: number
  /** a cup's minutes of scuffing and wiping where a coat comes later than its latest */
  scuffMin: number
}

/** A layer still to be put on, for one cup. */
export interface StepTimes {
  position: number
  name: string
  handsOnMin: number
  turnerMin: number
  /** from the end of the hands-on work until the next coat may go on, and until it must */
  recoatEarliestMin: number
  recoatLatestMin: number | null
}

/** Cups that go through their layers together. */
export interface Job {
  id: number
  cups: number
  /** what is still to be done, in order */
  steps: readonly StepTimes[]
  /** from the last layer's hands-on end until the cup may be used */
  fullCureMin: number
  /** the lower goes first */
  priority: number
  /** of a batch under way: when its next coat may go on and must, and until when its cups still turn */
  underWay?: { mayFromMin: number; mustByMin: number | null; turnsUntilMin: number }
}

/** A layer in time. Minutes after the first day's midnight. */
export interface PlannedStep {
  jobId: number
  position: number
  name: string
  cups: number
  startMin: number
  handsOffMin: number
  /** its places are free again; the same as `handsOffMin` where nothing turns */
  turnedMin: number
  /** it comes later than the coat before allows, so scuffing and wiping come first, within its time */
  scuffs: boolean
}

export interface Schedule {
  /** by start */
  steps: readonly PlannedStep[]
  /** by job: when its cups may be used; null: not within the years that are looked at */
  readyMin: ReadonlyMap<number, number | null>
}

/**
 * When each layer of each job is done.
 *
 * The rule: jobs are taken one after the other, by priority, and of equal ones the longest first; each layer starts as soon as its cups may take it, a
 * person has the time in one go within one day's hours, and there is a place on a turner for each cup from the
 * start of the work until it is turned. What is placed stays; a later job fills the gaps. Cups of a job stay
 * together. A coat that cannot come in time is scuffed and wiped first.
 *
 * It is not always the best plan: `earliestReadyMin` says how much a better one could gain at most.
 *
 * @throws {RangeError} a job that fits no day or no turner: split it first, see `mostCupsTogether`
 */
export function schedule(jobs: readonly Job[], shop: Shop): Schedule {
  const bench = new ShopBench(shop)
  for (const job of jobs) bench.turnsAlready(job)
  const steps: PlannedStep[] = []
  const readyMin = new Map<number, number | null>()
  const inOrder = jobs.toSorted((a, b) => a.priority - b.priority || spanMin(b) - spanMin(a) || a.id - b.id)
  for (const job of inOrder) {
    readyMin.set(job.id, bench.place(job, steps))
  }
  return { steps: steps.sort((a, b) => a.startMin - b.startMin || a.jobId - b.jobId), readyMin }
}

/**
 * How many cups of a plan can go through it together: each layer's work must fit into one day, scuffing included,
 * and each cup that turns needs a place.
 *
 * @returns 0 when not even one can
 */
export function mostCupsTogether(steps: readonly StepTimes[], shop: Shop): number {
  const { opensSlot, closesSlot } = openSlots(shop.hours)
  const dayMin = (closesSlot - opensSlot) * SLOT_MIN
  return steps.reduce((most, step) => {
    const work = step.handsOnMin + shop.scuffMin
    const byHands = work === 0 ? most : Math.floor(dayMin / work)
    return Math.min(most, byHands, step.turnerMin > 0 ? shop.turnerPlaces : most)
  }, Number.MAX_SAFE_INTEGER)
}

/** Shares out cups over the fewest jobs of at most `most`, sizes differing by one at most. */
export function splitCups(cups: number, most: number): number[] {
  const count = Math.ceil(cups / most)
  return Array.from({ length: count }, (_, i) => Math.floor(cups / count) + (i < cups % count ? 1 : 0))
}

/**
 * A bound that no plan beats: the earliest at which all of these jobs can be ready, were they alone in the shop.
 * The latest of three: the slowest job by itself; all hands-on work in one person's hours, then the shortest cure;
 * all turning on all places without a pause.
 *
 * @returns minutes after the first day's midnight
 */
export function earliestReadyMin(jobs: readonly Job[], shop: Shop): number {
  const days = new OpenDays(shop.hours, shop.today)
  // jobs of one plan that have as many cups are as slow as each other
  const kinds = new Map<readonly StepTimes[], Map<number, Job>>()
  const different = jobs.filter((job) => {
    if (job.underWay) return true
    const sizes = kinds.get(job.steps) ?? new Map<number, Job>()
    kinds.set(job.steps, sizes)
    return !sizes.has(job.cups) && sizes.set(job.cups, job)
  })
  const alone = different.map((job) => {
    const free = { ...shop, scuffMin: 0, turnerPlaces: Number.MAX_SAFE_INTEGER }
    return schedule([job], free).readyMin.get(job.id) ?? Number.POSITIVE_INFINITY
  })
  let hands = 0
  let turning = 0
  let shortestCure = Number.POSITIVE_INFINITY
  let shortestRest = Number.POSITIVE_INFINITY
  for (const { steps, cups, fullCureMin } of jobs) {
    for (const step of steps) {
      hands += slots(step.handsOnMin * cups)
      if (step.turnerMin > 0) turning += cups * (slots(step.handsOnMin * cups) + slots(step.turnerMin))
    }
    const last = steps.at(-1)
    if (!last) continue
    const cure = Math.max(slots(last.turnerMin), slots(fullCureMin))
    shortestCure = Math.min(shortestCure, cure)
    shortestRest = Math.min(shortestRest, cure - slots(last.turnerMin))
  }
  const now = slots(shop.nowMin)
  const byHands = hands === 0 ? 0 : days.afterWork(now, hands) + shortestCure
  const byTurners = turning === 0 ? 0 : now + Math.ceil(turning / shop.turnerPlaces) + shortestRest
  return Math.max(...alone, byHands * SLOT_MIN, byTurners * SLOT_MIN, shop.nowMin)
}

/** How long a job takes at least, were nothing else in the shop and the shop never closed. */
function spanMin({ steps, cups, fullCureMin }: Job): number {
  return steps.reduce((sum, step, index) => {
    const rest = index === steps.length - 1 ? fullCureMin : step.recoatEarliestMin
    return sum + step.handsOnMin * cups + Math.max(step.turnerMin, rest)
  }, 0)
}
