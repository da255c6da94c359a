/**
 * Half the width of a two-sided Student's t interval, in standard errors: the t for which
 * P(−t ≤ T ≤ t) = `confidence`.
 *
 * The probability comes from the exact finite series for whole degrees of freedom (Abramowitz and Stegun,
 * Handbook of Mathematical Functions, 26.7.3 and 26.7.4), in the angle θ = arctan(t ÷ √ν), and is solved for θ
 * by halving, as it only rises with it.
 *
 * @param degrees of freedom, whole, at least one
 * @param confidence above 0 and under 1
 * @throws {RangeError} outside of that
 */
export function studentT(degrees: number, confidence: number): number {
  if (!Number.isSafeInteger(degrees) || degrees < 1) throw new RangeError(`no t has ${degrees} degrees`)
  if (!(confidence > 0 && confidence < 1)) throw new RangeError(`no interval holds a share of ${confidence}`)
  let [low, high] = [0, Math.PI / 2]
  // each step halves the gap, and a double has no more than this many halvings between 0 and π/2
  for (let step = 0; step < 64; step++) {
    const middle = (low + high) / 2
    if (within(middle, degrees) < confidence) low = middle
    else high = middle
  }
  return Math.sqrt(degrees) * Math.tan((low + high) / 2)
}

/** P(−t ≤ T ≤ t) at t = √ν tan θ. */
function within(theta: number, degrees: number): number {
  const [sin, cos] = [Math.sin(theta), Math.cos(theta)]
  const odd = degrees % 2 === 1
  if (degrees === 1) return (2 * theta) / Math.PI
  // odd: cos θ + 2/3 cos³ θ + 2·4/(3·5) cos⁵ θ …; even: 1 + 1/2 cos² θ + 1·3/(2·4) cos⁴ θ …
  let term = odd ? cos : 1
  let sum = term
  for (let power = odd ? 3 : 2; power <= degrees - 2; power += 2) {
    term *= ((power - 1) / power) * cos * cos
    sum += term
  }
  return odd ? (2 / Math.PI) * (theta + sin * sum) : sin * sum
}
