import { withdrawCost } from "./money.ts"

/** What a count found beside what the book said. Amounts in base units. */
export interface Counted {
  found: number
  /** what the book said when it was counted */
  book: number
  /** what the book says now: things may have come or gone since */
  now: number
  costNowMicro: number
}

/** The difference as it can be written now. */
export interface CountDifference {
  /** signed: above zero, more was found than the book said */
  amount: number
  /** of a loss, the cost that goes with it, below zero; a gain costs nothing */
  costMicro: number
  /** more is missing than is left by now: the rest was used after the count and cannot be missing too */
  capped: boolean
  cause: string
}

/**
 * What accepting a count changes. The difference is the one at the moment of the count: what was received or used
 * after it stays as it is. Only where more is missing than is left by now, no more than that is written.
 */
export function countDifference({ found, book, now, costNowMicro }: Counted): CountDifference {
  const wanted = found - book
  const amount = Math.max(wanted, 0 - now)
  return {
    amount,
    costMicro: amount < 0 ? -withdrawCost(costNowMicro, -amount, now) : 0,
    capped: amount !== wanted,
    cause: likelyCause(found, book),
  }
}

/** In words that help to look for it; they accuse nobody. */
function likelyCause(found: number, book: number): string {
  if (found === book) return "As the book says."
  if (found === 0) return "Used up without a tick, poured into another bottle, or it stands somewhere else."
  const share = (found - book) / Math.max(book, 1)
  if (share < -0.25) return "A coat that was not ticked off, a spill, or a bottle taken for another."
  if (share < 0) return "A little more goes on than the plan says; see planned and actual."
  if (share <= 0.1)
    return "Bottles often hold a little more than their label says, or less goes on than planned."
  return "Ticked off twice, not done after all, or a delivery that was not taken in."
}
