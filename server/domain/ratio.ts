/** How far A to B may be off as measured out; a plan beyond it says so. The pouring itself needs the rest. */
export const RATIO_TOLERANCE_PPM = 20_000

/** Beyond this a mix may stay soft: keep within ±5 % is common maker's advice. Never planned. */
export const RATIO_LIMIT_PPM = 50_000

/**
 * How far a to b is from a ratio, both in the ratio's own terms.
 *
 * @param ratio A ÷ B as the maker states it
 * @returns ppm, above zero for too much A
 */
export function ratioErrorPpm(a: number, b: number, ratio: number): number {
  return Math.round((a / b / ratio - 1) * 1e6)
}

/**
 * The least A and B that land on marks, hold at least what is wanted, and keep the ratio.
 *
 * Whole pairs (a, b) with lowest ≤ a ÷ b ≤ highest stay so when two of them are taken apart and put together
 * from the smaller a and the smaller b. So there is one pair that is least in both at once, and raising
 * whichever of the two is too small leads to it. It also never falls when more is wanted.
 *
 * @param wanted A and B before rounding, above zero
 * @param step the smallest mark, in the same unit
 * @param ratio A ÷ B, a quotient of whole parts, so that there always is such a pair
 * @param tolerancePpm how far off the pair may be
 * @returns A and B, whole numbers of `step`
 */
export function leastOnMarks(
  wanted: readonly [a: number, b: number],
  step: number,
  ratio: number,
  tolerancePpm: number,
): readonly [a: number, b: number] {
  const lowest = ratio * (1 - tolerancePpm / 1e6)
  const highest = ratio * (1 + tolerancePpm / 1e6)
  let a = wholeAbove(wanted[0] / step)
  let b = wholeAbove(wanted[1] / step)
  for (;;) {
    const leastA = wholeAbove(lowest * b)
    const leastB = wholeAbove(a / highest)
    if (a >= leastA && b >= leastB) return [a * step, b * step]
    a = Math.max(a, leastA)
    b = Math.max(b, leastB)
  }
}

/** Whole marks that hold an amount, at least one. A billionth less is the computer's error, not a mark more. */
function wholeAbove(marks: number): number {
  return Math.max(1, Math.ceil(marks * (1 - 1e-9)))
}
