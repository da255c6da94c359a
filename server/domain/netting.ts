import { type Missing, openPool, type Pool, type Shelved, type Want } from "./allocation.ts"
import type { IsoDate } from "./dates.ts"
import type { StepNeed } from "./need-book.ts"
import { type Families, familiesOf } from "./supply-families.ts"

/** One layer for some cups, on its day. `owner`: whose it is. */
export interface Step<Owner> {
  owner: Owner
  position: number
  on: IsoDate
  need: StepNeed
}

/** A container that is expected. It can be used from that day on. */
export interface Arrival {
  on: IsoDate
  container: Shelved
}

export interface Netted<Owner> {
  /** by first day, then supply */
  shortfalls: {
    supplyId: number
    firstOn: IsoDate
    missing: number
    days: { on: IsoDate; missing: number }[]
    owners: Set<Owner>
  }[]
  needs: { on: IsoDate; supplyId: number; amount: number }[]
  takenFrom: Map<number, number>
  /** what of a supply's containers is used on each day; worked out anew when asked */
  takes(supplyId: number): { on: IsoDate; containerId: number; amount: number }[]
  /** how far it reaches for an owner of `cups` cups, all others keeping to their plans */
  reach(owner: Owner, cups: number): Reach
}

export interface Stop {
  supplyId: number
  on: IsoDate
}

export interface Reach {
  /** the largest number of cups for which nothing is missing */
  covered: number
  /** what is missing first for one cup more; null when all are covered */
  stops: Stop | null
}

/** What an owner of fewer cups would need in a step; null for nothing. */
export type NeedFor<Owner> = (owner: Owner, position: number, cups: number) => StepNeed | null

/** The steps that touch one family of supplies, and the containers that hold them. */
interface Lane<Owner> {
  shelf: Shelved[]
  arrivals: Arrival[]
  steps: Step<Owner>[]
  /** what each step wants of this family */
  wants: (readonly Want[])[]
}

/** What became of an owner's steps. */
interface Account<Owner> {
  steps: Step<Owner>[]
  /** each supply of a step once */
  missing: Map<Step<Owner>, readonly Missing[]>
  /** lanes in which something was missing */
  shortLanes: Set<Lane<Owner>>
  stops: Stop | null
}

/**
 * Takes steps from the shelf, one after the other, what is expected joining it on its day.
 *
 * Supplies that are never chosen together do not touch each other, so each family (a resin's A and B, or one
 * supply alone) is netted in a lane of its own.
 *
 * @param steps in the order in which they happen
 * @param needFor what an owner's step takes for fewer cups, for `covered`
 */
export function net<Owner>(
  steps: readonly Step<Owner>[],
  shelf: readonly Shelved[],
  arrivals: readonly Arrival[],
  needFor: NeedFor<Owner>,
): Netted<Owner> {
  const families = familiesOf(steps.map((step) => step.need))
  const accounts = accountsOf(steps)
  const takenFrom = new Map<number, number>()
  const short = new Map<number, Netted<Owner>["shortfalls"][number]>()

  const lanes = lanesOf(steps, shelf, arrivals, families)
  for (const lane of lanes) {
    const pool = runLane(lane, (pool, wants, step) => {
      const missing = pool.lacks(wants, step.on)
      if (missing.length > 0) book(accounts.get(step.owner)!, lane, step, missing, short)
    })
    for (const [containerId, amount] of pool.taken()) takenFrom.set(containerId, amount)
  }

  return {
    shortfalls: [...short.values()].sort((a, b) =>
      a.firstOn < b.firstOn ? -1 : a.firstOn > b.firstOn ? 1 : a.supplyId - b.supplyId,
    ),
    // of many thousand; only few pages ask for them
    get needs() {
      return needsByDay(steps)
    },
    takenFrom,
    takes: (supplyId) => {
      const taken: ReturnType<Netted<Owner>["takes"]> = []
      const all = [...shelf, ...arrivals.map((arrival) => arrival.container)]
      const own = new Set(all.filter((one) => one.supplyId === supplyId).map((one) => one.containerId))
      for (const lane of lanes) {
        if (!lane.steps.some((step) => step.need.totals.has(supplyId))) continue
        runLane(lane, (pool, wants, { on }) => {
          for (const { containerId, amount } of pool.takeAll(wants, on).picks)
            if (own.has(containerId)) taken.push({ on, containerId, amount })
        })
      }
      return taken
    },
    reach: (owner, cups) => {
      const account = accounts.get(owner)
      if (!account?.stops) return { covered: cups, stops: null }
      return furthest(cups, account.stops, (fewer) => {
        const needAt = (step: Step<Owner>) => needFor(owner, step.position, fewer)
        let stop = stopWithin(account, needAt)
        for (const lane of account.shortLanes) stop ??= stopInLane(lane, owner, needAt, families)
        return stop
      })
    },
  }
}

function accountsOf<Owner>(steps: readonly Step<Owner>[]): Map<Owner, Account<Owner>> {
  const accounts = new Map<Owner, Account<Owner>>()
  for (const step of steps) {
    const account = accounts.get(step.owner)
    if (account) account.steps.push(step)
    else accounts.set(step.owner, { steps: [step], missing: new Map(), shortLanes: new Set(), stops: null })
  }
  return accounts
}

/** Writes down what a step lacked: with its owner, and with the supply. */
function book<Owner>(
  account: Account<Owner>,
  lane: Lane<Owner>,
  step: Step<Owner>,
  missing: readonly Missing[],
  short: Map<number, Netted<Owner>["shortfalls"][number]>,
): void {
  const { on, owner } = step
  account.shortLanes.add(lane)
  const elsewhere = account.missing.get(step)
  account.missing.set(step, elsewhere ? [...elsewhere, ...missing] : missing)
  for (const { supplyId, amount } of missing) {
    if (account.stops === null || on < account.stops.on) account.stops = { supplyId, on }
    let known = short.get(supplyId)
    if (!known) {
      known = { supplyId, firstOn: on, missing: 0, days: [], owners: new Set() }
      short.set(supplyId, known)
    }
    known.missing += amount
    known.owners.add(owner)
    const day = known.days.at(-1)
    if (day?.on === on) day.missing += amount
    else known.days.push({ on, missing: amount })
  }
}

function lanesOf<Owner>(
  steps: readonly Step<Owner>[],
  shelf: readonly Shelved[],
  arrivals: readonly Arrival[],
  families: Families,
): Lane<Owner>[] {
  const lanes = new Map<number, Lane<Owner>>()
  for (const step of steps) {
    for (const { family, wants } of families.split(step.need)) {
      let lane = lanes.get(family)
      if (!lane) {
        lane = { shelf: [], arrivals: [], steps: [], wants: [] }
        lanes.set(family, lane)
      }
      lane.steps.push(step)
      lane.wants.push(wants)
    }
  }
  for (const container of shelf) lanes.get(families.of(container.supplyId))?.shelf.push(container)
  for (const arrival of arrivals.toSorted((a, b) => (a.on < b.on ? -1 : a.on > b.on ? 1 : 0))) {
    lanes.get(families.of(arrival.container.supplyId))?.arrivals.push(arrival)
  }
  return [...lanes.values()]
}

/** Runs a lane from its first step: `take` takes each from the shelf as it is then, and ends the run by saying false. */
function runLane<Owner>(
  lane: Lane<Owner>,
  // biome-ignore lint/suspicious/noConfusingVoidType: most have nothing to say
  take: (pool: Pool, wants: readonly Want[], step: Step<Owner>) => boolean | void,
): Pool {
  const pool = openPool(lane.shelf)
  let arrived = 0
  for (let index = 0; index < lane.steps.length; index++) {
    const step = lane.steps[index]!
    while (arrived < lane.arrivals.length && lane.arrivals[arrived]!.on <= step.on) {
      pool.put(lane.arrivals[arrived++]!.container)
    }
    if (take(pool, lane.wants[index]!, step) === false) break
  }
  return pool
}

/**
 * Where fewer cups need, step by step added up, more than the owner got: what goes beyond that was not there.
 * Null when they do not.
 */
function stopWithin<Owner>(
  { steps, missing }: Account<Owner>,
  needAt: (step: Step<Owner>) => StepNeed | null,
): Stop | null {
  const over = new Map<number, number>()
  for (const step of steps) {
    const fewer = needAt(step)
    const lacked = missing.get(step)
    for (const [supplyId, amount] of step.need.totals) {
      const got = amount - (lacked?.find((one) => one.supplyId === supplyId)?.amount ?? 0)
      const balance = (over.get(supplyId) ?? 0) + (fewer?.totals.get(supplyId) ?? 0) - got
      if (balance > 0) return { supplyId, on: step.on }
      over.set(supplyId, balance)
    }
  }
  return null
}

/** Where fewer cups still lack something in a lane that was short, given that they need no more than the owner got. */
function stopInLane<Owner>(
  lane: Lane<Owner>,
  owner: Owner,
  needAt: (step: Step<Owner>) => StepNeed | null,
  families: Families,
): Stop | null {
  const own = lane.steps.filter((step) => step.owner === owner)
  const last = own.at(-1)!
  // On one day nothing goes off between, and its steps follow each other: what it got is what was there.
  if (own[0]!.on === last.on) return null
  const { supplyId } = lane.wants[0]![0]!
  const fewer = new Map(
    own.map((step) => {
      const need = needAt(step)
      return [step, need ? families.wantsIn(need, supplyId) : []] as const
    }),
  )
  const stops: Stop[] = []
  runLane(lane, (pool, wants, step) => {
    const [lack] = pool.lacks(fewer.get(step) ?? wants, step.on)
    if (step.owner === owner && lack) stops.push({ supplyId: lack.supplyId, on: step.on })
    return stops.length === 0 && step !== last
  })
  return stops[0] ?? null
}

/**
 * The largest number below `cups` that fits, by halving; more cups never need less but for the rounding to marks.
 *
 * @param stopAll what stops all of them
 * @param stopOf what stops so many; null when they fit
 */
function furthest(cups: number, stopAll: Stop, stopOf: (cups: number) => Stop | null): Reach {
  // most often there is nothing at all
  const stopOne = cups < 2 ? stopAll : stopOf(1)
  if (stopOne) return { covered: 0, stops: stopOne }
  let most = 1
  let tooMany = cups
  let stops = stopAll
  while (tooMany - most > 1) {
    const middle = (most + tooMany) >>> 1
    const stop = stopOf(middle)
    if (stop) {
      tooMany = middle
      stops = stop
    } else most = middle
  }
  return { covered: most, stops }
}

function needsByDay<Owner>(steps: readonly Step<Owner>[]): Netted<Owner>["needs"] {
  const needs: Netted<Owner>["needs"] = []
  const today = new Map<number, Netted<Owner>["needs"][number]>()
  let on: IsoDate | null = null
  for (const step of steps) {
    if (step.on !== on) today.clear()
    on = step.on
    for (const [supplyId, amount] of step.need.totals) {
      const known = today.get(supplyId)
      if (known) known.amount += amount
      else {
        const entry = { on: step.on, supplyId, amount }
        today.set(supplyId, entry)
        needs.push(entry)
      }
    }
  }
  return needs
}
