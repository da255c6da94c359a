import type { IsoDate } from "./dates.ts"
import { addLife, type Life } from "./shelf-life.ts"
import { usableLeft } from "./sprays.ts"

/** A container as the allocator sees it. */
export interface Shelved {
  containerId: number
  supplyId: number
  amountLeft: number
  /** null while sealed */
  openedOn: IsoDate | null
  /** last day it is good, by label or by opening, whichever is earlier; null when none is known */
  useBy: IsoDate | null
  /** it or a lot in it is held */
  held: boolean
  onBench: boolean
  /** the same for containers that came in one kit, and for no others */
  kitUnit: number | null
  /** how long it keeps once opened; left out or null when that is not known */
  openLife?: Life | null
  /** what it never gives up, like the last of a spray can; left out: nothing */
  keptBack?: number
  /** a part of a sheet that stands by itself; left out: it is none */
  isOffcut?: boolean
}

/** An amount of a supply, in its base unit. */
export interface Want {
  supplyId: number
  amount: number
  /** what one cup takes; a container that holds less is a remnant */
  wholeCoat: number
  /** an earlier want, by index, whose kit this one keeps to: part B names its part A */
  pairWith?: number
  /** from this container and no other */
  only?: number
  /** never from an offcut */
  wholeSheets?: boolean
}

export interface Pick {
  /** index of the want it serves */
  want: number
  containerId: number
  amount: number
  /** taken although past its day, because the person insists */
  pastItsDay: boolean
}

export interface Missing {
  supplyId: number
  amount: number
}

export interface Choice {
  /** containers the person would rather use, first choice first, of any supplies */
  prefer?: readonly number[]
  /** containers the person uses although they are past their day */
  insist?: ReadonlySet<number>
}

export type Allocation =
  | { kind: "enough"; picks: readonly Pick[] }
  | { kind: "short"; picks: readonly Pick[]; missing: readonly Missing[] }

/**
 * Which containers some wants are served from, on one day. Making and forecasting share it, so that what the
 * forecast calls enough can be made.
 *
 * Never from one that is held, empty but for what it keeps back, or past its day unless the person insists; the
 * use-by day itself is good. A want that names its container is served from that alone. Of the others, in this order: those the person chose; on the bench; enough for a whole cup before
 * remnants; open before sealed; for a paired want, out of the kit its pair came from; earliest use-by, none
 * known last; lowest id. Wants are served in turn and share what is there.
 *
 * @returns when it does not suffice, also the picks there are, and what is missing of each supply
 */
export function allocate(
  wants: readonly Want[],
  shelf: readonly Shelved[],
  on: IsoDate,
  choice: Choice = {},
): Allocation {
  const { picks, missing } = openPool(shelf, choice).takeAll(wants, on)
  return missing.length === 0 ? { kind: "enough", picks } : { kind: "short", picks, missing }
}

/** A shelf that runs down as it is taken from; the rows it was opened with stay as they are. */
export interface Pool {
  /** What is missing for some wants, taken as `takeAll` does: for those who take a thousand times and add up. */
  lacks(wants: readonly Want[], on: IsoDate): readonly Missing[]
  /** By container: what has been taken from it so far. */
  taken(): IterableIterator<[containerId: number, amount: number]>
  /** Takes what there is for some wants, by the rules of `allocate`. A sealed container is open from that day. */
  takeAll(wants: readonly Want[], on: IsoDate): { picks: readonly Pick[]; missing: readonly Missing[] }
  /** The same for one want. */
  take(want: Want, on: IsoDate): { picks: readonly Pick[]; missing: readonly Missing[] }
  /** Puts one more container on the shelf: a delivery that is expected by now. */
  put(container: Shelved): void
}

/** Opens a pool over a shelf. `choice` holds for everything taken from it. */
export function openPool(shelf: readonly Shelved[], choice: Choice = {}): Pool {
  const racks = new Racks()
  for (const container of shelf) racks.put(container)
  const chosen = chosenFirst(choice)

  const serveAll = (wants: readonly Want[], on: IsoDate, picks: Pick[] | null) => {
    let missing = NOTHING
    for (let index = 0; index < wants.length; index++) {
      const want = wants[index]!
      mustMakeSense(want, index)
      const lacking = serve(racks, want, index, on, chosen, picks)
      if (lacking > 0) missing = withMore(missing, want.supplyId, lacking)
    }
    return missing
  }
  const takeAll = (wants: readonly Want[], on: IsoDate) => {
    const picks: Pick[] = []
    return { missing: serveAll(wants, on, picks), picks }
  }
  return {
    takeAll,
    take: (want, on) => takeAll([want], on),
    // only part B asks where its part A came from
    lacks: (wants, on) => serveAll(wants, on, wants.some(isPaired) ? [] : null),
    taken: () => racks.taken(),
    put: (container) => racks.put(container),
  }
}

function isPaired(want: Want): boolean {
  return want.pairWith !== undefined
}

/** Nearly every want is served: none of them needs a list of its own to say so. */
const NOTHING: readonly Missing[] = []

function withMore(missing: readonly Missing[], supplyId: number, more: number): readonly Missing[] {
  if (missing.length === 0) return [{ supplyId, amount: more }]
  const known = missing.find((one) => one.supplyId === supplyId)
  if (!known) return [...missing, { supplyId, amount: more }]
  return missing.map((one) => (one === known ? { supplyId, amount: one.amount + more } : one))
}

/** Adds the picks for one want, best container first. @returns what is missing */
function serve(
  racks: Racks,
  want: Want,
  index: number,
  on: IsoDate,
  chosen: Chosen,
  picks: Pick[] | null,
): number {
  const mates = want.pairWith === undefined || picks === null ? NO_KITS : racks.kitsOf(picks, want.pairWith)
  let missing = want.amount

  if (want.only !== undefined) {
    const bottle = racks.find(want.only)
    const isGood = bottle?.supplyId === want.supplyId && bottle.left > 0 && bottle.useBy >= on
    return isGood ? missing - pick(racks, bottle, missing, index, on, picks) : missing
  }
  for (const id of chosen.ids) {
    const bottle = racks.find(id)
    if (missing === 0) return 0
    if (!bottle || bottle.supplyId !== want.supplyId || bottle.left === 0) continue
    if (want.wholeSheets && bottle.isOffcut) continue
    const pastItsDay = bottle.useBy < on
    const isChosen = chosen.insist.has(id) ? pastItsDay || chosen.prefer.has(id) : !pastItsDay
    if (isChosen) missing -= pick(racks, bottle, missing, index, on, picks)
  }

  const [bench, shelf] = racks.of(want.supplyId)
  missing = serveFrom(racks, bench, want, missing, mates, index, on, picks)
  return missing === 0 ? 0 : serveFrom(racks, shelf, want, missing, mates, index, on, picks)
}

/**
 * Serves from one place: enough for a whole cup before remnants, of each open before sealed, of each those of the
 * pair's kit before others. A forecast comes here a hundred thousand times, so that it makes nothing but its picks.
 *
 * @returns what is still missing
 */
function serveFrom(
  racks: Racks,
  place: Place,
  want: Want,
  wanted: number,
  mates: readonly number[],
  index: number,
  on: IsoDate,
  picks: Pick[] | null,
): number {
  let missing = wanted
  if (place[OPEN].length === 0 && place[SEALED].length === 0) return missing
  const firstRound = mates.length > 0 ? MATES_ONLY : ANY
  for (let remnants = 0; remnants < 2; remnants++) {
    for (let state = 0; state < place.length; state++) {
      const rack = place[state]!
      for (let round = firstRound; round <= ANY && rack.length > 0; round++) {
        // what is past its day stands at the front, and is passed over in one go
        for (let i = placeIn(rack, on, 0); i < rack.length; ) {
          if (missing === 0) return 0
          const bottle = rack[i]!
          const skipped =
            (bottle.left >= want.wholeCoat ? remnants === 1 : remnants === 0) ||
            (want.wholeSheets && bottle.isOffcut) ||
            (round === MATES_ONLY && (bottle.kitUnit === null || !mates.includes(bottle.kitUnit)))
          if (skipped) i++
          // emptied, it leaves the rack and the next one stands at i
          else missing -= pick(racks, bottle, missing, index, on, picks)
        }
      }
    }
  }
  return missing
}

/** Takes up to `missing` from a container. @returns how much */
function pick(
  racks: Racks,
  bottle: Bottle,
  missing: number,
  want: number,
  on: IsoDate,
  picks: Pick[] | null,
): number {
  const amount = Math.min(bottle.left, missing)
  picks?.push({ want, containerId: bottle.id, amount, pastItsDay: bottle.useBy < on })
  racks.draw(bottle, amount, on)
  return amount
}

/** Where racks stand, in the order in which they are taken from. */
const [BENCH, SHELF] = [0, 1] as const
const [OPEN, SEALED] = [0, 1] as const
/** Rounds over a rack: containers of the pair's kit, then any. */
const [MATES_ONLY, ANY] = [0, 1] as const
const NO_KITS: readonly number[] = []
/** Sorts after every date. */
const NEVER = "~"

interface Bottle {
  id: number
  supplyId: number
  /** what could be taken from it at first, and now */
  full: number
  left: number
  useBy: IsoDate | typeof NEVER
  state: typeof OPEN | typeof SEALED
  place: typeof BENCH | typeof SHELF
  kitUnit: number | null
  openLife: Life | null
  isOffcut: boolean
}

/** By place and then by state. */
type OfSupply = readonly [Place, Place]
type Place = readonly [open: Bottle[], sealed: Bottle[]]

/**
 * Usable containers by supply, place and state, each rack sorted by use-by and id. Kept sorted by moving single
 * containers, so that thousands of takes never sort again.
 */
class Racks {
  readonly #bySupply = new Map<number, OfSupply>()
  readonly #byId = new Map<number, Bottle>()

  of(supplyId: number): OfSupply {
    let racks = this.#bySupply.get(supplyId)
    if (!racks) {
      racks = [
        [[], []],
        [[], []],
      ]
      this.#bySupply.set(supplyId, racks)
    }
    return racks
  }

  find(id: number): Bottle | undefined {
    return this.#byId.get(id)
  }

  *taken(): IterableIterator<[number, number]> {
    for (const { id, full, left } of this.#byId.values()) if (left < full) yield [id, full - left]
  }

  /** Kits that the containers picked for a want came in. */
  kitsOf(picks: readonly Pick[], want: number): number[] {
    const kits: number[] = []
    for (const pick of picks) {
      const kit = pick.want === want ? this.#byId.get(pick.containerId)!.kitUnit : null
      if (kit !== null) kits.push(kit)
    }
    return kits
  }

  put(container: Shelved): void {
    const left = usableLeft(container.amountLeft, container.keptBack ?? 0)
    if (container.held || left <= 0) return
    const bottle: Bottle = {
      id: container.containerId,
      supplyId: container.supplyId,
      full: left,
      left,
      useBy: container.useBy ?? NEVER,
      state: container.openedOn === null ? SEALED : OPEN,
      place: container.onBench ? BENCH : SHELF,
      kitUnit: container.kitUnit,
      openLife: container.openLife ?? null,
      isOffcut: container.isOffcut ?? false,
    }
    if (this.#byId.has(bottle.id)) throw new RangeError(`container ${bottle.id} is on the shelf twice`)
    this.#byId.set(bottle.id, bottle)
    this.#stand(bottle)
  }

  draw(bottle: Bottle, amount: number, on: IsoDate): void {
    bottle.left -= amount
    if (bottle.left > 0 && bottle.state === OPEN) return
    const rack = this.#rackOf(bottle)
    rack.splice(placeIn(rack, bottle.useBy, bottle.id), 1)
    if (bottle.left === 0) return
    bottle.state = OPEN
    if (bottle.openLife !== null && bottle.openLife.unit !== "never") {
      const afterOpening = addLife(on, bottle.openLife)
      if (afterOpening < bottle.useBy) bottle.useBy = afterOpening
    }
    this.#stand(bottle)
  }

  #stand(bottle: Bottle): void {
    const rack = this.#rackOf(bottle)
    rack.splice(placeIn(rack, bottle.useBy, bottle.id), 0, bottle)
  }

  #rackOf(bottle: Bottle): Bottle[] {
    return this.of(bottle.supplyId)[bottle.place][bottle.state]
  }
}

/** Where a container with this use-by and id stands, or would stand, in a sorted rack. */
function placeIn(rack: readonly Bottle[], useBy: IsoDate, id: number): number {
  let low = 0
  let high = rack.length
  while (low < high) {
    const middle = (low + high) >>> 1
    const bottle = rack[middle]!
    if (bottle.useBy < useBy || (bottle.useBy === useBy && bottle.id < id)) low = middle + 1
    else high = middle
  }
  return low
}

interface Chosen {
  /** preferred ones in their order, then the other insisted ones */
  ids: readonly number[]
  prefer: ReadonlySet<number>
  insist: ReadonlySet<number>
}

function chosenFirst({ prefer = [], insist = new Set() }: Choice): Chosen {
  return { ids: [...new Set([...prefer, ...insist])], prefer: new Set(prefer), insist }
}

function mustMakeSense(want: Want, index: number): void {
  if (!Number.isInteger(want.amount) || want.amount < 0) {
    throw new RangeError(`${want.amount} is no amount to take`)
  }
  if (want.pairWith !== undefined && !(want.pairWith >= 0 && want.pairWith < index)) {
    throw new RangeError(`want ${index} can only pair with an earlier one, not ${want.pairWith}`)
  }
}
