import { openPool, type Shelved, type Want } from "./allocation.ts"
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
  /** what an owner lacks first; null when it has everything */
  stops(owner: Owner): { supplyId: number; on: IsoDate } | null
  /** of an owner's `cups`, the largest number for which nothing is missing, all others keeping to their plans */
  covered(owner: Owner, cups: number): number
}

/** What an owner of fewer cups would need in a step; null for nothing. */
export type NeedFor<Owner> = (owner: Owner, position: number, cups: number) => StepNeed | null

/** The steps that touch one family of supplies, and the containers that hold them. */
interface Lane<Owner> {
  shelf: Shelved[]
  arrivals: Arrival[]
  steps: { step: Step<Owner>; wants: readonly Want[]; missing: ReadonlyMap<number, number> | null }[]
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
  const lanes = lanesOf(steps, shelf, arrivals, families)
  const takenFrom = new Map<number, number>()
  const ownLanes = new Map<Owner, Set<Lane<Owner>>>()
  const short = new Map<number, Netted<Owner>["shortfalls"][number]>()
  const stops = new Map<Owner, { supplyId: number; on: IsoDate }>()

  for (const lane of lanes) {
    runLane(lane, (entry, missing, picks) => {
      for (const { containerId, amount } of picks) {
        takenFrom.set(containerId, (takenFrom.get(containerId) ?? 0) + amount)
      }
      const { owner, on } = entry.step
      const own = ownLanes.get(owner)
      if (own) own.add(lane)
      else ownLanes.set(owner, new Set([lane]))
      if (missing.length === 0) return
      entry.missing = new Map(missing.map((lack) => [lack.supplyId, lack.amount]))
      for (const { supplyId, amount } of missing) {
        addShort(short, supplyId, on, amount, owner)
        const known = stops.get(owner)
        if (!known || on < known.on) stops.set(owner, { supplyId, on })
      }
    })
  }

  return {
    shortfalls: [...short.values()].sort((a, b) =>
      a.firstOn < b.firstOn ? -1 : a.firstOn > b.firstOn ? 1 : a.supplyId - b.supplyId,
    ),
    needs: needsByDay(steps),
    takenFrom,
    stops: (owner) => stops.get(owner) ?? null,
    covered: (owner, cups) => {
      if (!stops.has(owner)) return cups
      const own = [...(ownLanes.get(owner) ?? [])]
      return mostThatFits(cups, (fewer) =>
        own.every((lane) => reaches(lane, owner, (position) => needFor(owner, position, fewer), families)),
      )
    },
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
    for (const [family, wants] of families.split(step.need)) {
      let lane = lanes.get(family)
      if (!lane) {
        lane = { shelf: [], arrivals: [], steps: [] }
        lanes.set(family, lane)
      }
      lane.steps.push({ step, wants, missing: null })
    }
  }
  for (const container of shelf) lanes.get(families.of(container.supplyId))?.shelf.push(container)
  for (const arrival of arrivals.toSorted((a, b) => (a.on < b.on ? -1 : a.on > b.on ? 1 : 0))) {
    lanes.get(families.of(arrival.container.supplyId))?.arrivals.push(arrival)
  }
  return [...lanes.values()]
}

type Entry<Owner> = Lane<Owner>["steps"][number]
type Took = ReturnType<ReturnType<typeof openPool>["takeAll"]>

/** Runs a lane from its first step; `seen` is told of each and stops the run by saying false. */
function runLane<Owner>(
  lane: Lane<Owner>,
  // biome-ignore lint/suspicious/noConfusingVoidType: most have nothing to say
  seen: (entry: Entry<Owner>, missing: Took["missing"], picks: Took["picks"]) => boolean | void,
  wantsOf: (entry: Entry<Owner>) => readonly Want[] = (entry) => entry.wants,
): void {
  const pool = openPool(lane.shelf)
  let arrived = 0
  for (const entry of lane.steps) {
    while (arrived < lane.arrivals.length && lane.arrivals[arrived]!.on <= entry.step.on) {
      pool.put(lane.arrivals[arrived++]!.container)
    }
    const { missing, picks } = pool.takeAll(wantsOf(entry), entry.step.on)
    if (seen(entry, missing, picks) === false) return
  }
}

/** Whether a lane has all that an owner needs for fewer cups. */
function reaches<Owner>(
  lane: Lane<Owner>,
  owner: Owner,
  needAt: (position: number) => StepNeed | null,
  families: Families,
): boolean {
  const own = lane.steps.filter((entry) => entry.step.owner === owner)
  const needs = new Map(
    own.map((entry) => {
      const need = needAt(entry.step.position)
      return [entry, need ? families.wantsIn(need, entry.wants[0]!.supplyId) : []] as const
    }),
  )
  if (!isWithinWhatItGot(own, needs)) return false
  // On one day nothing goes off between, and its steps follow each other: what was got is what was there.
  if (own.every((entry) => entry.step.on === own[0]!.step.on)) return true
  if (own.every((entry) => entry.missing === null)) return true
  const last = own.at(-1)
  let enough = true
  runLane(
    lane,
    (entry, missing) => {
      if (entry.step.owner === owner && missing.length > 0) enough = false
      return enough && entry !== last
    },
    (entry) => needs.get(entry) ?? entry.wants,
  )
  return enough
}

/** Whether fewer cups need, step by step added up, no more than the owner got. What they need beyond it is not there. */
function isWithinWhatItGot<Owner>(
  own: readonly Entry<Owner>[],
  needs: ReadonlyMap<Entry<Owner>, readonly Want[]>,
): boolean {
  const over = new Map<number, number>()
  for (const entry of own) {
    for (const want of needs.get(entry)!)
      over.set(want.supplyId, (over.get(want.supplyId) ?? 0) + want.amount)
    for (const want of entry.wants) over.set(want.supplyId, (over.get(want.supplyId) ?? 0) - want.amount)
    for (const [supplyId, amount] of entry.missing ?? [])
      over.set(supplyId, (over.get(supplyId) ?? 0) + amount)
    for (const amount of over.values()) if (amount > 0) return false
  }
  return true
}

/** The largest number below `cups` that fits, by halving; more cups never need less but for the rounding to marks. */
function mostThatFits(cups: number, fits: (cups: number) => boolean): number {
  let most = 0
  let tooMany = cups
  while (tooMany - most > 1) {
    const middle = (most + tooMany) >>> 1
    if (fits(middle)) most = middle
    else tooMany = middle
  }
  return most
}

function addShort<Owner>(
  short: Map<number, Netted<Owner>["shortfalls"][number]>,
  supplyId: number,
  on: IsoDate,
  missing: number,
  owner: Owner,
): void {
  let known = short.get(supplyId)
  if (!known) {
    known = { supplyId, firstOn: on, missing: 0, days: [], owners: new Set() }
    short.set(supplyId, known)
  }
  known.missing += missing
  known.owners.add(owner)
  const day = known.days.at(-1)
  if (day?.on === on) day.missing += missing
  else known.days.push({ on, missing })
}

function needsByDay<Owner>(steps: readonly Step<Owner>[]): Netted<Owner>["needs"] {
  const needs: Netted<Owner>["needs"] = []
  let today = new Map<number, Netted<Owner>["needs"][number]>()
  let on: IsoDate | null = null
  for (const step of steps) {
    if (step.on !== on) today = new Map()
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
