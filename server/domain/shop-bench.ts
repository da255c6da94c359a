import type { Job, PlannedStep, Shop, StepTimes } from "./schedule.ts"
import { OpenDays, SLOT_MIN, SLOTS_A_DAY } from "./shop-hours.ts"

/** No plan is believed further ahead. */
const MOST_DAYS = 3 * 365

/** Hands and turner places over time, slot by slot, as they are taken. */
export class ShopBench {
  readonly #days: OpenDays
  readonly #shop: Shop
  readonly #now: number
  readonly #hands = new Uint8Array(MOST_DAYS * SLOTS_A_DAY)
  readonly #places = new Uint16Array(MOST_DAYS * SLOTS_A_DAY)
  /** by day: no more than so many cups turn at once; days with room for more need no looking through */
  readonly #mostTurning = new Uint16Array(MOST_DAYS)
  /** by day: for how many slots in one go somebody has time; days without room are passed over at once */
  readonly #room = new Uint16Array(MOST_DAYS)

  constructor(shop: Shop) {
    this.#days = new OpenDays(shop.hours, shop.today)
    this.#shop = shop
    this.#now = slots(shop.nowMin)
    for (let day = 0; day < MOST_DAYS; day++)
      if (this.#days.isOpen(day)) this.#room[day] = this.#days.slotsADay
  }

  /** Cups of a batch under way keep their places until they are turned. */
  turnsAlready({ cups, underWay }: Job): void {
    if (underWay) this.#takePlaces(this.#now, slots(underWay.turnsUntilMin), cups)
  }

  /**
   * Places all layers of a job as soon as they can be done.
   *
   * @param into gets the placed layers; of a job that does not fit, those before the one that is too far ahead
   * @param notBeforeMin minutes after the first day's midnight
   * @returns when it is ready, or null when that is too far ahead
   */
  place(job: Job, into: PlannedStep[], notBeforeMin = 0): number | null {
    let mayFrom = Math.max(this.#now, slots(job.underWay?.mayFromMin ?? 0), slots(notBeforeMin))
    let mustBy = latest(job.underWay?.mustByMin ?? null)
    let ready = mayFrom
    for (const step of job.steps) {
      const placed = this.#placeStep(job, step, mayFrom, mustBy)
      if (placed === null) return null
      const { start, handsOff, turned, scuffs } = placed
      into.push({
        jobId: job.id,
        position: step.position,
        name: step.name,
        cups: job.cups,
        startMin: start * SLOT_MIN,
        handsOffMin: handsOff * SLOT_MIN,
        turnedMin: turned * SLOT_MIN,
        scuffs,
      })
      mayFrom = Math.max(turned, handsOff + slots(step.recoatEarliestMin))
      mustBy =
        step.recoatLatestMin === null ? latest(null) : handsOff + Math.floor(step.recoatLatestMin / SLOT_MIN)
      ready = Math.max(turned, handsOff + slots(job.fullCureMin))
    }
    return ready * SLOT_MIN
  }

  /** Puts placed layers back in their places. */
  take(steps: readonly PlannedStep[]): void {
    for (const step of steps) this.#change(step, 1)
  }

  /** Takes placed layers out again. */
  clear(steps: readonly PlannedStep[]): void {
    for (const step of steps) this.#change(step, -1)
  }

  #change({ startMin, handsOffMin, turnedMin, cups }: PlannedStep, sign: 1 | -1): void {
    const [start, handsOff, turned] = [startMin / SLOT_MIN, handsOffMin / SLOT_MIN, turnedMin / SLOT_MIN]
    this.#takeHands(start, handsOff, sign)
    // what does not turn is off the turner as soon as it is off the hands
    if (turned > handsOff) this.#takePlaces(start, turned, sign * cups)
  }

  #placeStep(job: Job, step: StepTimes, mayFrom: number, mustBy: number) {
    const work = slots(step.handsOnMin * job.cups)
    const turn = step.turnerMin > 0 ? slots(step.turnerMin) : null
    const inTime = this.#firstStart(job.cups, work, turn, mayFrom)
    const scuffs = inTime !== null && inTime > mustBy
    const longer = work + (scuffs ? slots(this.#shop.scuffMin * job.cups) : 0)
    const start = scuffs ? this.#firstStart(job.cups, longer, turn, mayFrom) : inTime
    if (start === null) return null
    const handsOff = start + longer
    const turned = handsOff + (turn ?? 0)
    this.#takeHands(start, handsOff, 1)
    if (turn !== null) this.#takePlaces(start, turned, job.cups)
    return { start, handsOff, turned, scuffs }
  }

  /** The first slot at which hands and places are free for as long as they are needed. */
  #firstStart(cups: number, work: number, turn: number | null, from: number): number | null {
    if (work > this.#days.slotsADay)
      throw new RangeError(`${work * SLOT_MIN} minutes of work fit into no day`)
    if (turn !== null && cups > this.#shop.turnerPlaces) throw new RangeError(`${cups} cups fit on no turner`)
    const last = this.#hands.length - SLOTS_A_DAY
    let start = from
    while (start < last) {
      // what takes no hands may begin at any hour
      if (work > 0) start = this.#days.nextRoom(this.#pastFullDays(start, work), work)
      const busy =
        lastAbove(this.#hands, start, start + work, 0) ??
        (turn === null ? null : this.#lastFull(start, start + work + turn, this.#shop.turnerPlaces - cups))
      if (busy === null) return start
      // every start up to the last slot in the way would meet it too
      start = busy + 1
    }
    return null
  }

  /** The same slot, or the first one of the next day with room for so many. */
  #pastFullDays(slot: number, work: number): number {
    const from = Math.floor(slot / SLOTS_A_DAY)
    let day = from
    while (day < MOST_DAYS && (this.#room[day] ?? 0) < work) day += 1
    return day === from ? slot : day * SLOTS_A_DAY
  }

  /** Hands are taken within the hours of one day. */
  #takeHands(from: number, to: number, many: number): void {
    if (to === from) return
    add(this.#hands, from, to, many)
    const day = Math.floor(from / SLOTS_A_DAY)
    let longest = 0
    let run = 0
    const closes = day * SLOTS_A_DAY + this.#days.closesSlot
    for (let slot = day * SLOTS_A_DAY + this.#days.opensSlot; slot < closes; slot++) {
      run = this.#hands[slot] === 0 ? run + 1 : 0
      if (run > longest) longest = run
    }
    this.#room[day] = longest
  }

  #takePlaces(from: number, to: number, cups: number): void {
    const most = add(this.#places, from, to, cups)
    const lastDay = Math.min(MOST_DAYS, Math.ceil(to / SLOTS_A_DAY))
    for (let day = Math.floor(from / SLOTS_A_DAY); day < lastDay; day++)
      this.#mostTurning[day] = Math.max(this.#mostTurning[day]!, most)
  }

  /** The last slot of a span in which more than so many cups turn, or null. */
  #lastFull(from: number, to: number, most: number): number | null {
    const lastDay = Math.min(MOST_DAYS, Math.ceil(to / SLOTS_A_DAY))
    for (let day = Math.floor(from / SLOTS_A_DAY); day < lastDay; day++)
      if (this.#mostTurning[day]! > most)
        return lastAbove(this.#places, from, Math.min(to, this.#places.length), most)
    return null
  }
}

/** Adds to every slot of a span. @returns the most that one of them then holds */
function add(of: Uint8Array | Uint16Array, from: number, to: number, many: number): number {
  const end = Math.min(to, of.length)
  let most = 0
  for (let slot = from; slot < end; slot++) {
    const now = of[slot]! + many
    of[slot] = now
    if (now > most) most = now
  }
  return most
}

/** The last slot of a span that holds more than `most`, or null. */
function lastAbove(of: Uint8Array | Uint16Array, from: number, to: number, most: number): number | null {
  for (let slot = to - 1; slot >= from; slot--) if (of[slot]! > most) return slot
  return null
}

/** Whole slots that hold so many minutes. */
export function slots(minutes: number): number {
  return Math.ceil(minutes / SLOT_MIN)
}

function latest(mustByMin: number | null): number {
  return mustByMin === null ? Number.MAX_SAFE_INTEGER : Math.floor(mustByMin / SLOT_MIN)
}
