import { Temporal } from "temporal-polyfill"
import { type IsoDate, plusDays } from "./dates.ts"

/** When somebody works in the studio, by its own clock. */
export interface ShopHours {
  /** minutes after midnight */
  opensMin: number
  closesMin: number
  /** weekdays off: 1 is Monday, 7 Sunday (ISO 8601) */
  weekdaysOff: readonly number[]
  /** single days off */
  daysOff: readonly IsoDate[]
}

/** A plan is made in steps of so many minutes: no coat is timed finer. */
export const SLOT_MIN = 5
export const SLOTS_A_DAY = (24 * 60) / SLOT_MIN

/** The first slot of an open day and the one after its last. @throws {RangeError} hours that do not open */
export function openSlots({ opensMin, closesMin }: ShopHours): { opensSlot: number; closesSlot: number } {
  const opensSlot = Math.ceil(opensMin / SLOT_MIN)
  const closesSlot = Math.floor(closesMin / SLOT_MIN)
  if (!(closesSlot > opensSlot) || opensMin < 0 || closesMin > 24 * 60)
    throw new RangeError(`no working day from ${opensMin} to ${closesMin}`)
  return { opensSlot, closesSlot }
}

/**
 * Open days from a first one on, each worked out once.
 *
 * The clock of the plan is the studio's own wall clock: on the day the clocks change it is an hour off for what
 * turns or cures over that night, which is less than anybody times a cure.
 */
export class OpenDays {
  readonly opensSlot: number
  readonly closesSlot: number
  readonly #first: IsoDate
  readonly #firstWeekday: number
  readonly #weekdaysOff: ReadonlySet<number>
  readonly #daysOff: ReadonlySet<number>

  /** @throws {RangeError} hours that do not open, or no open weekday */
  constructor(hours: ShopHours, first: IsoDate) {
    const { opensSlot, closesSlot } = openSlots(hours)
    this.opensSlot = opensSlot
    this.closesSlot = closesSlot
    this.#weekdaysOff = new Set(hours.weekdaysOff)
    if ([1, 2, 3, 4, 5, 6, 7].every((day) => this.#weekdaysOff.has(day)))
      throw new RangeError("every weekday is off")
    const firstDate = Temporal.PlainDate.from(first)
    this.#first = first
    this.#firstWeekday = firstDate.dayOfWeek
    this.#daysOff = new Set(hours.daysOff.map((day) => firstDate.until(day).days))
  }

  /** Slots of hands-on work in one open day. */
  get slotsADay(): number {
    return this.closesSlot - this.opensSlot
  }

  /** @param day days after the first */
  isOpen(day: number): boolean {
    return !this.#daysOff.has(day) && !this.#weekdaysOff.has(((this.#firstWeekday - 1 + day) % 7) + 1)
  }

  /** The first slot at or after `slot` from which so many slots of work fit into one open day. */
  nextRoom(slot: number, slots: number): number {
    let day = Math.floor(slot / SLOTS_A_DAY)
    const inDay = Math.max(slot - day * SLOTS_A_DAY, this.opensSlot)
    if (this.isOpen(day) && inDay + slots <= this.closesSlot) return day * SLOTS_A_DAY + inDay
    do day += 1
    while (!this.isOpen(day))
    return day * SLOTS_A_DAY + this.opensSlot
  }

  /** The slot by whose end so many slots of hands-on work can have been done by one person, from `slot` on. */
  afterWork(slot: number, slots: number): number {
    let left = slots
    let day = Math.floor(slot / SLOTS_A_DAY)
    let from = Math.max(slot - day * SLOTS_A_DAY, this.opensSlot)
    for (;;) {
      const room = this.isOpen(day) ? Math.max(0, this.closesSlot - from) : 0
      if (left <= room) return left === 0 ? slot : day * SLOTS_A_DAY + from + left
      left -= room
      day += 1
      from = this.opensSlot
    }
  }

  /** The calendar day a slot lies in. */
  dayOf(slot: number): IsoDate {
    return plusDays(this.#first, Math.floor(slot / SLOTS_A_DAY))
  }
}
