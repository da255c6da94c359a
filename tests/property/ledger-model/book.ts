/**
 * The oracle: a studio's book kept as a plain list of what was done. What it says is worked out by going through
 * that list again, so it shares neither queries nor bookkeeping with the program. Undone deeds are passed over,
 * as if they had never been done; only costs are carried forward, since an undo gives back what is still there.
 */

/** A container, and what never changes of it. */
export interface Bottle {
  code: string
  supplyId: number
  lot: Lot
  /** what a full one holds */
  full: number
  /** the day before which nothing can have been done with it */
  cameOn: string
  amount: number
  costMicro: number
}

export interface Lot {
  /** the file's id, learnt when it first came */
  id: number
  supplyId: number
  number: string | null
  expiresOn: string | null
  labelled: boolean
}

/** One signed change of an amount. `from`: the bottle that a gain was poured from, with the lots' use-by day. */
export interface Move {
  code: string
  kind: "receive" | "use" | "transfer" | "count" | "waste"
  amount: number
  costMicro: number
  from?: string
  useBy?: string | null
}

export type Mark =
  | { kind: "opened" | "held" | "released" | "benched" | "unbenched"; code: string }
  | { kind: "lot held" | "lot released"; lotId: number }

export type CupState = "in work" | "good" | "second" | "scrapped"

export interface Cup {
  id: number
  serial: string
  /** the one it was started in */
  batchId: number
}

export interface Coat {
  layer: number
  cupIds: readonly number[]
  /** bottles it was taken from, and what that cost */
  draws: { code: string; amount: number; costMicro: number }[]
}

/** One action. */
export interface Deed {
  id: number
  said: string
  /** the instant it happened, as ISO text in UTC that sorts */
  at: string
  on: string
  moves: Move[]
  marks: Mark[]
  cups: { cupId: number; state: CupState }[]
  /** cups that went on in another batch */
  wentOn: { cupId: number; batchId: number }[]
  coats: Coat[]
  undone: boolean
  undoes: number | null
}

/** What a supply of the model's catalogue is, as far as the oracle's rules need it. */
export interface SupplyFacts {
  id: number
  name: string
  /** days it keeps sealed from when it came, and once opened; null: for ever */
  shelfDays: number | null
  openDays: number | null
}

export class Book {
  readonly bottles = new Map<string, Bottle>()
  readonly lots = new Map<number, Lot>()
  readonly cups = new Map<number, Cup>()
  readonly batches: number[] = []
  readonly deeds: Deed[] = []
  readonly supplies: ReadonlyMap<number, SupplyFacts>

  constructor(supplies: readonly SupplyFacts[]) {
    this.supplies = new Map(supplies.map((supply) => [supply.id, supply]))
  }

  bottle(code: string): Bottle {
    const found = this.bottles.get(code)
    if (!found) throw new Error(`the oracle has no ${code}`)
    return found
  }

  /** Deeds that were not undone, in the order they were recorded. */
  standing(before = Number.POSITIVE_INFINITY): Deed[] {
    return this.deeds.filter((deed) => !deed.undone && deed.id < before)
  }

  /** What came in by a deed that was undone is not on the shelf: it never came. */
  isThere(code: string): boolean {
    return this.deeds.find((deed) => deed.moves.some((move) => move.code === code))?.undone === false
  }

  /** The earliest of being opened, poured from for a coat, and topped up or topping up; null while sealed. */
  openedAt(code: string): string | null {
    const times = this.standing()
      .filter(
        (deed) =>
          deed.marks.some((mark) => mark.kind === "opened" && mark.code === code) ||
          deed.moves.some((move) => move.code === code && (move.kind === "use" || move.kind === "transfer")),
      )
      .map((deed) => deed.at)
    return times.sort()[0] ?? null
  }

  heldItself(code: string): boolean {
    const marks = this.standing().flatMap((deed) => deed.marks)
    const mine = marks.filter(
      (mark) => (mark.kind === "held" || mark.kind === "released") && mark.code === code,
    )
    return mine.at(-1)?.kind === "held"
  }

  lotHeld(lotId: number): boolean {
    const marks = this.standing().flatMap((deed) => deed.marks)
    const mine = marks.filter((mark) => "lotId" in mark && mark.lotId === lotId)
    return mine.at(-1)?.kind === "lot held"
  }

  /** Held itself, or by any lot that is in it. */
  isHeld(code: string): boolean {
    return this.heldItself(code) || [...this.lotsIn(code)].some((lotId) => this.lotHeld(lotId))
  }

  /** The bottle of a supply that is on the bench: the last that was put there, if it was not taken off since. */
  onBench(supplyId: number): string | null {
    let there: string | null = null
    for (const mark of this.standing().flatMap((deed) => deed.marks)) {
      if (mark.kind === "benched" && this.bottle(mark.code).supplyId === supplyId) there = mark.code
      if (mark.kind === "unbenched" && mark.code === there) there = null
    }
    return there
  }

  /** The lots in a bottle: its filling, and what every standing pour before that deed brought. */
  lotsIn(code: string, before = Number.POSITIVE_INFINITY): Set<number> {
    const lots = new Set<number>()
    for (const deed of this.standing(before)) {
      for (const move of deed.moves) {
        if (move.code !== code || move.amount < 0) continue
        if (move.kind === "receive") lots.add(this.bottle(code).lot.id)
        if (move.from !== undefined) for (const lot of this.lotsIn(move.from, deed.id)) lots.add(lot)
      }
    }
    return lots
  }

  /** The earliest of its lots' days, its life after opening, and the days that what was poured in had. */
  useBy(code: string): string | null {
    const openDays = this.supplies.get(this.bottle(code).supplyId)?.openDays ?? null
    const opened = this.openedAt(code)
    const poured = this.standing().flatMap((deed) =>
      deed.moves.filter((move) => move.code === code && move.from),
    )
    const days = [
      this.bottle(code).lot.expiresOn,
      ...[...this.lotsIn(code)].map((lotId) => this.lots.get(lotId)?.expiresOn ?? null),
      ...poured.map((move) => move.useBy ?? null),
      opened !== null && openDays !== null ? daysAfter(dayOf(opened), openDays) : null,
    ]
    return days.filter((day) => day !== null).sort()[0] ?? null
  }

  isUsable(code: string, on: string): boolean {
    const useBy = this.useBy(code)
    return this.bottle(code).amount > 0 && !this.isHeld(code) && (useBy === null || on <= useBy)
  }

  cupState(cupId: number): CupState | null {
    const changes = this.standing().flatMap((deed) => deed.cups)
    return changes.filter((change) => change.cupId === cupId).at(-1)?.state ?? null
  }

  /** The coats that stand on a cup, with the deed they belong to. */
  coatsOn(cupId: number): { deed: Deed; coat: Coat }[] {
    return this.standing().flatMap((deed) =>
      deed.coats.filter((coat) => coat.cupIds.includes(cupId)).map((coat) => ({ deed, coat })),
    )
  }

  layersDone(cupId: number): number {
    return Math.max(0, ...this.coatsOn(cupId).map(({ coat }) => coat.layer))
  }

  /** The batch a cup is in: the last it went on in, or that of its start. */
  batchOf(cup: Cup): number {
    const moves = this.standing().flatMap((deed) => deed.wentOn)
    return moves.filter((move) => move.cupId === cup.id).at(-1)?.batchId ?? cup.batchId
  }

  cupsOf(batchId: number): Cup[] {
    return [...this.cups.values()].filter(
      (cup) => this.batchOf(cup) === batchId && this.cupState(cup.id) !== null,
    )
  }

  /** Cups with a coat from a bottle while the lot was in it. */
  cupsWithLot(lotId: number): string[] {
    const cups = [...this.cups.values()].filter((cup) =>
      this.coatsOn(cup.id).some(({ deed, coat }) =>
        coat.draws.some((draw) => this.lotsIn(draw.code, deed.id).has(lotId)),
      ),
    )
    return cups.map((cup) => cup.serial)
  }
}

/**
 * What taking `amount` out of a bottle costs: its part of what the bottle still carries, to the nearest millionth,
 * halves up; the last of it takes the rest.
 */
export function costOf(bottle: { amount: number; costMicro: number }, amount: number): number {
  if (amount === bottle.amount) return bottle.costMicro
  const whole = BigInt(bottle.costMicro) * BigInt(amount)
  const left = BigInt(bottle.amount)
  const rest = whole % left
  return Number(whole / left) + (rest * 2n >= left ? 1 : 0)
}

/** The model's clock stands at 18:00 UTC or a few hours before, which in the studio is the same day. */
export function dayOf(at: string): string {
  return at.slice(0, 10)
}

export function daysAfter(day: string, days: number): string {
  const date = new Date(`${day}T00:00:00Z`)
  date.setUTCDate(date.getUTCDate() + days)
  return date.toISOString().slice(0, 10)
}
