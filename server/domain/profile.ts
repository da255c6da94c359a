import { Refusal } from "./refusal.ts"

/** A ring of the outside profile: at `heightUm` above the base the blank is `diameterUm` wide. */
export interface Ring {
  heightUm: number
  diameterUm: number
}

/** A profile from base to lip, and the bands at both ends that stay bare. */
export interface CoatedProfile {
  rings: readonly Ring[]
  bareLipUm: number
  bareBaseUm: number
}

/** A profile that cannot be a cup; its message is a sentence for the person who typed it. */
export class ProfileError extends Refusal {
  override readonly name = "ProfileError"
}

/** No cup is a metre tall or wide, nor under 5 mm: such a figure was typed in another unit. */
const LARGEST_UM = 1_000_000
const SMALLEST_UM = 5_000

/**
 * Outside area of the part of a blank between two heights.
 *
 * The profile is a stack of frusta; each adds π (r₁ + r₂) · slant
 * (lateral area of a frustum, any handbook of mathematical tables).
 *
 * @param profile rings from base (height 0) to lip, heights strictly rising, at least two
 * @param fromUm lower end, µm above the base; below the base counts as the base
 * @param toUm upper end, µm; above the lip counts as the lip; not under `fromUm`
 * @returns mm²
 * @throws {ProfileError} when the profile cannot be a cup, see `checkProfile`
 */
export function lateralAreaMm2(profile: readonly Ring[], fromUm: number, toUm: number): number {
  checkProfile(profile)
  if (!(fromUm <= toUm)) throw new RangeError(`no band runs from ${fromUm} to ${toUm} µm`)
  return sumFrusta(profile, fromUm, toUm, (r1, r2, h) => Math.PI * (r1 + r2) * Math.hypot(r2 - r1, h))
}

/**
 * Volume inside the outside profile, base to lip (not what the cup holds: its walls count too).
 *
 * Each frustum adds π h (r₁² + r₁ r₂ + r₂²) ÷ 3 (any handbook of mathematical tables).
 *
 * @returns mm³
 * @throws {ProfileError} when the profile cannot be a cup
 */
export function volumeMm3(profile: readonly Ring[]): number {
  checkProfile(profile)
  const volume = (r1: number, r2: number, h: number) => (Math.PI * h * (r1 * r1 + r1 * r2 + r2 * r2)) / 3
  return sumFrusta(profile, 0, heightUm(profile), volume)
}

/**
 * The surface a coat goes on: outside area less the bands left bare at lip and base. The underside is not coated.
 *
 * @returns mm²
 * @throws {ProfileError} when the profile cannot be a cup, or when the bare bands leave nothing
 */
export function coatedAreaMm2(blank: CoatedProfile): number {
  const { rings, bareLipUm, bareBaseUm } = blank
  checkProfile(rings)
  if (!(bareLipUm >= 0 && bareBaseUm >= 0)) throw new ProfileError("A bare band cannot be less than zero.")
  const top = heightUm(rings) - bareLipUm
  if (bareBaseUm >= top) {
    throw new ProfileError("The bands left bare at lip and base leave nothing to coat.")
  }
  return lateralAreaMm2(rings, bareBaseUm, top)
}

/** Height of the lip above the base, µm. */
export function heightUm(profile: readonly Ring[]): number {
  return profile.at(-1)?.heightUm ?? 0
}

/**
 * Nothing when the rings can be a cup.
 *
 * @throws {ProfileError} fewer than two rings, the first not at the base, heights that do not rise, a width that
 *   is not above zero, or sizes no cup has
 */
export function checkProfile(profile: readonly Ring[]): void {
  if (profile.length < 2) {
    throw new ProfileError("A profile needs at least two rings: one at the base and one at the lip.")
  }
  profile.forEach((ring, index) => {
    const nth = `Ring ${index + 1}`
    if (!Number.isFinite(ring.heightUm) || !Number.isFinite(ring.diameterUm)) {
      throw new ProfileError(`${nth} needs a number for its height and one for its width.`)
    }
    if (index === 0 && ring.heightUm !== 0) {
      throw new ProfileError("The first ring is the base itself; its height is 0.")
    }
    const below = profile[index - 1]
    if (below && ring.heightUm <= below.heightUm) {
      throw new ProfileError(`${nth} must be higher than the ring below it; list rings from base to lip.`)
    }
    if (ring.diameterUm <= 0) {
      throw new ProfileError(`The width at ring ${index + 1} must be more than zero.`)
    }
    if (ring.diameterUm > LARGEST_UM || ring.heightUm > LARGEST_UM) {
      throw new ProfileError(`${nth} is over 1 m tall or wide; check the unit it was typed in.`)
    }
    if (ring.diameterUm < SMALLEST_UM) {
      throw new ProfileError(`${nth} is under 5 mm wide; check the unit it was typed in.`)
    }
  })
  if (heightUm(profile) < SMALLEST_UM) {
    throw new ProfileError("The blank is under 5 mm tall; check the unit it was typed in.")
  }
}

/** Radius at a height between two rings, by the straight line between them. */
function radiusMm(lower: Ring, upper: Ring, atUm: number): number {
  const share = (atUm - lower.heightUm) / (upper.heightUm - lower.heightUm)
  return (lower.diameterUm + share * (upper.diameterUm - lower.diameterUm)) / 2000
}

/** Adds up `measure(lower radius, upper radius, height)`, in mm, over the frusta between two heights. */
function sumFrusta(
  profile: readonly Ring[],
  fromUm: number,
  toUm: number,
  measure: (r1Mm: number, r2Mm: number, hMm: number) => number,
): number {
  let sum = 0
  for (let i = 1; i < profile.length; i++) {
    const lower = profile[i - 1]!
    const upper = profile[i]!
    const from = Math.max(fromUm, lower.heightUm)
    const to = Math.min(toUm, upper.heightUm)
    if (from >= to) continue
    sum += measure(radiusMm(lower, upper, from), radiusMm(lower, upper, to), (to - from) / 1000)
  }
  return sum
}
