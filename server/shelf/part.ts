import type { BaseUnit } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"

/**
 * How much of what a container holds: an amount in base units, a share of what is left, or null for all of it. A share
 * stays one until it is carried out, so that "half" sent twice is one request and not the half of the half.
 */
export type Part = number | { share: number } | null

/**
 * A part of a whole, in base units.
 *
 * @throws {Refusal} pieces cannot be parted so, or nothing is left to part
 */
export function partOf(whole: number, part: Part, baseUnit: BaseUnit): number {
  if (part === null) return whole
  if (typeof part === "number") return part
  const amount = whole * part.share
  // "2/3" of 6 pieces is 4, whatever a double makes of two thirds
  if (baseUnit === "each" && Math.abs(amount - Math.round(amount)) > 1e-6) {
    const pieces = whole === 1 ? "one piece" : `${whole} pieces`
    throw new Refusal(`That share of ${pieces} is no whole number: write how many.`, { field: "amount" })
  }
  if (Math.round(amount) === 0) throw new Refusal("Nothing is left to take a share of.", { field: "amount" })
  return Math.round(amount)
}
