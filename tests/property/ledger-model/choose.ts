import { type Bottle, daysAfter } from "./book.ts"
import { nowOn, type Shop } from "./shop.ts"

/** Which of a list some number means. */
export function pick<T>(list: readonly T[], number: number): T {
  const found = list[number % list.length]
  if (found === undefined) throw new RangeError("nothing to choose from")
  return found
}

/** Any container there ever was; by far the most often one with something in it. */
export function pickBottle({ book }: Shop, number: number): Bottle {
  const all = [...book.bottles.values()]
  const full = all.filter((bottle) => bottle.amount > 0)
  return number % 8 === 0 || full.length === 0 ? pick(all, number >> 3) : pick(full, number >> 3)
}

/** Most things are done now; some were done some days ago and are recorded late. Null: now. */
export function pickTime(shop: Shop, number: number): string | null {
  const daysAgo = pick([0, 0, 0, 0, 0, 0, 0, 0, 0, 1, 3, 9], number)
  return daysAgo === 0 ? null : `${daysAfter(shop.today(), -daysAgo)}T15:00:00.000Z`
}

/** The day that a time is on. */
export function dayFor(shop: Shop, at: string | null): string {
  return (at ?? nowOn(shop.today())).slice(0, 10)
}

/** Parts of an amount, the whole, and sometimes more than there is. */
export function pickAmount(amount: number, number: number): number {
  const part = pick([0.1, 0.34, 0.5, 0.77, 1, 1.2], number)
  return Math.max(1, Math.round(amount * part))
}

export function lotIdOf({ studio }: Shop, code: string): number {
  return studio.file.firstText<{ id: number }>("SELECT lot_id AS id FROM container WHERE code = ?", [code])!
    .id
}
