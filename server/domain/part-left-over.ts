import type { ResinSystem } from "./plan.ts"
import { byRatioBasis, inBaseUnit, ratioOf } from "./resin-parts.ts"

/** How much of a resin system can be mixed, and what is then left over of one part. */
export interface LeftOver {
  /** the part there is too much of */
  part: "A" | "B"
  /** in that part's base unit */
  amount: number
}

/**
 * What of A or B has no other part to go with it, by the maker's ratio.
 *
 * @param amountA in part A's base unit; `amountB` in part B's
 * @returns null when they go together to the last drop
 * @throws {Refusal} a density is missing
 */
export function partLeftOver(system: ResinSystem, amountA: number, amountB: number): LeftOver | null {
  const ratio = ratioOf(system)
  const a = byRatioBasis(system.partA, amountA, system)
  const b = byRatioBasis(system.partB, amountB, system)
  const tooMuchA = a - b * ratio
  const left: LeftOver =
    tooMuchA > 0
      ? { part: "A", amount: inBaseUnit(system.partA, tooMuchA, system) }
      : { part: "B", amount: inBaseUnit(system.partB, -tooMuchA / ratio, system) }
  return left.amount === 0 ? null : left
}
