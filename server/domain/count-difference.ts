import { withdrawCost } from "./money.ts"
import type { BaseUnit } from "./plan.ts"
import { UNITS } from "./units.ts"

/** What a count found beside what the book said. Amounts in base units. */
export interface Counted {
  found: number
  /** what the book said when it was counted */
  book: number
  /** what the book says now: things may have come or gone since */
  now: number
  costNowMicro: number
  /** what fits in */
  full: number
  baseUnit: BaseUnit
  /** a look at the level, and nothing finer */
  isLook: boolean
}

/** The difference as it can be written now. */
export interface CountDifference {
  /** signed: above zero, more was found than the book said */
  amount: number
  /** of a loss, the cost that goes with it, below zero; a gain costs nothing */
  costMicro: number
  /** more is missing than is left by now: the rest was used after the count and cannot be missing too */
  capped: boolean
  /** a guess where to look, never more */
  cause: string
}

/**
 * What accepting a count changes. The difference is the one at the moment of the count: what was received or used
 * after it stays as it is. Only where more is missing than is left by now, no more than that is written.
 */
export function countDifference(counted: Counted): CountDifference {
  const { found, book, now, costNowMicro } = counted
  const wanted = found - book
  const amount = Math.max(wanted, 0 - now)
  return {
    amount,
    costMicro: amount < 0 ? -withdrawCost(costNowMicro, -amount, now) : 0,
    capped: amount !== wanted,
    cause: likelyCause(counted),
  }
}

/** A look at the level tells quarters: half a step either way. Common practice, no source. */
const LOOK_SHARE = 1 / 8
/** How near a slip must be to be taken for one: levels and scales are read to a few percent. Common practice, no source. */
const NEAR = 0.03

/**
 * A guess at the cause, in words that help to look for it; they accuse nobody. What is a slip of the count itself
 * comes first: that is mended by counting again.
 */
function likelyCause({ found, book, full, baseUnit, isLook }: Counted): string {
  if (found === book) return "As the book says."
  if (found === 0 && book === full)
    return "Perhaps a full one is missing: it stands somewhere else, was given away, or never came."
  if (found === 0)
    return "Perhaps used up without a tick, poured into another bottle, or it stands somewhere else."
  if (isLook && Math.abs(found - book) <= full * LOOK_SHARE)
    return "Perhaps none: a look at the level tells no finer than that. Weigh it to be sure."
  const slip = book === 0 ? null : slipOf(found / book, baseUnit)
  if (slip !== null) return `${slip} Count it again before you accept.`
  const share = (found - book) / Math.max(book, 1)
  if (share < -0.25) return "Perhaps a coat that was not ticked off, a spill, or a bottle taken for another."
  if (share < 0 && book === full)
    return "Perhaps it came with less than its label says, or an empty one weighs more than was put in: by the book nothing was taken from it."
  if (share < 0)
    return "Perhaps more drips off or stays in the mixing cup than planned; see planned against actual."
  if (share <= 0.1) return "Perhaps it held a little more than its label says, or less goes on than planned."
  return "Perhaps a coat ticked off twice or not done after all, or a delivery that was not taken in."
}

/** Whether a count is off by what a slip makes it off by: a digit, or another unit of the same sort. */
function slipOf(ratio: number, baseUnit: BaseUnit): string | null {
  const isNear = (to: number) => Math.abs(ratio / to - 1) <= NEAR
  if (isNear(10)) return "Perhaps a digit too many: that is ten times what the book says."
  if (isNear(0.1)) return "Perhaps a digit too few: that is a tenth of what the book says."
  for (const [small, large] of MISTAKEN[baseUnit]) {
    const step = UNITS[large].size / UNITS[small].size
    if (isNear(step)) return `Perhaps the unit: it would fit if ${small} were meant and not ${large}.`
    if (isNear(1 / step)) return `Perhaps the unit: it would fit if ${large} were meant and not ${small}.`
  }
  return null
}

/** Units that are taken for one another, the small one first. */
const MISTAKEN: Record<BaseUnit, readonly (readonly [keyof typeof UNITS, keyof typeof UNITS])[]> = {
  uL: [
    ["mL", "fl oz"],
    ["mL", "L"],
  ],
  mg: [
    ["g", "oz"],
    ["g", "kg"],
  ],
  um: [
    ["cm", "in"],
    ["cm", "m"],
  ],
  mm2: [["cm²", "in²"]],
  each: [],
}
