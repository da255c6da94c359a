/**
 * Shares a whole out by weight so that the parts add up to exactly the whole: each part is the exact share
 * rounded down, and what is then missing goes, one each, to the largest remainders (the largest-remainder or
 * Hamilton method); of equal remainders the first comes first.
 *
 * @param total whole units to share out, may be negative: then every part is the negative of the share
 * @param weights whole numbers, none negative, at least one above zero unless `total` is 0
 * @returns one part for each weight; a weight of zero gets nothing
 * @throws {RangeError} when a number is not a safe integer, a weight is negative, or nothing has weight
 */
export function apportion(total: number, weights: readonly number[]): number[] {
  for (const number of [total, ...weights]) {
    if (!Number.isSafeInteger(number)) throw new RangeError(`apportion needs whole numbers, not ${number}`)
  }
  if (weights.some((weight) => weight < 0)) throw new RangeError("apportion needs weights of zero or more")
  if (total === 0) return weights.map(() => 0)

  const even = evenly(Math.abs(total), weights)
  if (even !== null) return even.map((part) => (part === 0 ? 0 : Math.sign(total) * part))

  // total × weight runs past 2⁵³ for costs in millionths
  const whole = BigInt(Math.abs(total))
  const weightSum = weights.reduce((sum, weight) => sum + BigInt(weight), 0n)
  if (weightSum === 0n) throw new RangeError("apportion needs a weight above zero")

  const shares = weights.map((weight, index) => {
    const product = whole * BigInt(weight)
    return { index, part: product / weightSum, remainder: product % weightSum }
  })
  const missing = Number(whole - shares.reduce((sum, share) => sum + share.part, 0n))
  const byRemainder = shares.toSorted((a, b) =>
    a.remainder === b.remainder ? a.index - b.index : a.remainder > b.remainder ? -1 : 1,
  )
  for (const share of byRemainder.slice(0, missing)) share.part += 1n

  const sign = total < 0 ? -1 : 1
  return shares.map((share) => (share.part === 0n ? 0 : sign * Number(share.part)))
}

/** The same where all weights are alike: all remainders are then, so the first get what is left over. */
function evenly(whole: number, weights: readonly number[]): number[] | null {
  const [weight = 0] = weights
  if (weight === 0 || weights.some((one) => one !== weight)) return null
  const part = Math.floor(whole / weights.length)
  const over = whole - part * weights.length
  return weights.map((_, index) => (index < over ? part + 1 : part))
}
