import { Refusal } from "./refusal.ts"

/** A ring of the outside profile: at `heightUm` above the base the blank is `diameterUm` wide. */
export interface Ring {
  heightUm: number
  diameterUm: number
}

/** A profile from base to lip, without handles, and the bands at both ends that stay bare. */
export interface CoatedProfile {
  rings: readonly Ring[]
  bareLipUm: number
  bareBaseUm: number
  /** coats go over the underside too; only where nothing above it stays bare */
  coatsBase: boolean
}

/** A part of a blank between two heights above its base. */
export interface Band {
  fromUm: number
  toUm: number
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
  return frusta(ringsBetween(profile, fromUm, toUm)).reduce((sum, [low, high]) => sum + lateral(low, high), 0)
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
  return frusta(profile).reduce((sum, [lower, upper]) => {
    const [r1, r2, h] = inMm(lower, upper)
    return sum + (Math.PI * h * (r1 * r1 + r1 * r2 + r2 * r2)) / 3
  }, 0)
}

/**
 * What a layer covers of a blank: its own band as far as the bare bands let it, or all that they leave.
 *
 * @param band the layer's own band; null: everything but the bare bands
 * @throws {ProfileError} when the profile cannot be a cup, or when nothing is left to cover
 */
export function coveredBand(blank: CoatedProfile, band: Band | null = null): Band {
  const { rings, bareLipUm, bareBaseUm } = blank
  checkProfile(rings)
  if (!(bareLipUm >= 0 && bareBaseUm >= 0)) throw new ProfileError("A bare band cannot be less than zero.")
  if (blank.coatsBase && bareBaseUm > 0) {
    throw new ProfileError("The underside cannot be coated while a band above it stays bare.")
  }
  const top = heightUm(rings) - bareLipUm
  if (bareBaseUm >= top) {
    throw new ProfileError("The bands left bare at lip and base leave nothing to coat.")
  }
  if (band === null) return { fromUm: bareBaseUm, toUm: top }
  if (!(band.fromUm < band.toUm)) throw new ProfileError("A band must end higher than it begins.")
  const covered = { fromUm: Math.max(band.fromUm, bareBaseUm), toUm: Math.min(band.toUm, top) }
  if (covered.fromUm >= covered.toUm) {
    throw new ProfileError("This band lies where the cup stays bare, or above its lip.")
  }
  return covered
}

/**
 * The surface that a layer covers: outside area of its band, and the underside when that is coated and the band
 * begins at the base.
 *
 * @param band the layer's own band; null: all that the bare bands leave
 * @returns mm²
 * @throws {ProfileError} see `coveredBand`
 */
export function coatedAreaMm2(blank: CoatedProfile, band: Band | null = null): number {
  const { fromUm, toUm } = coveredBand(blank, band)
  const underside = blank.coatsBase && fromUm === 0 ? baseDiscMm2(blank.rings) : 0
  return underside + lateralAreaMm2(blank.rings, fromUm, toUm)
}

/** The underside, taken as flat: π r² of the first ring. @returns mm² */
export function baseDiscMm2(profile: readonly Ring[]): number {
  checkProfile(profile)
  return Math.PI * (profile[0]!.diameterUm / 2000) ** 2
}

/**
 * How high a band reaches that begins at a height and has a certain area: the reverse of `lateralAreaMm2`.
 *
 * Up a frustum from radius r, with the radius changing by m a unit of height, the area of a height h is
 * π √(1 + m²) (2 r h + m h²); solved for h.
 *
 * @returns µm above the base, not rounded
 * @throws {ProfileError} when the profile cannot be a cup, or has less than that area above `fromUm`
 */
export function heightWithAreaUm(profile: readonly Ring[], fromUm: number, areaMm2: number): number {
  checkProfile(profile)
  if (!(areaMm2 >= 0)) throw new RangeError(`no band has ${areaMm2} mm²`)
  let left = areaMm2
  let at = Math.max(0, fromUm)
  for (const [lower, upper] of frusta(ringsBetween(profile, at, heightUm(profile)))) {
    const area = lateral(lower, upper)
    if (left <= area) {
      const radius = lower.diameterUm / 2000
      const slope = (upper.diameterUm - lower.diameterUm) / 2 / (upper.heightUm - lower.heightUm)
      const q = left / (Math.PI * Math.hypot(1, slope))
      // not divided by the slope, which is zero on a straight side
      const h = q / (radius + Math.sqrt(Math.max(0, radius * radius + slope * q)))
      return Math.min(upper.heightUm, lower.heightUm + h * 1000)
    }
    left -= area
    at = upper.heightUm
  }
  // a billionth of the area is the computer's error
  if (left <= 1e-9 * areaMm2) return at
  throw new ProfileError("This cup has less surface than that above the start of the band.")
}

/**
 * The height below which a share of what a blank's coats cover lies, the underside counted.
 *
 * @param share above 0 up to 1
 * @returns µm above the base, not rounded
 * @throws {ProfileError} see `coveredBand`
 */
export function heightAtShareUm(blank: CoatedProfile, share: number): number {
  if (!(share > 0 && share <= 1)) throw new RangeError(`no height has a share of ${share} below it`)
  const { fromUm, toUm } = coveredBand(blank)
  const underside = blank.coatsBase ? baseDiscMm2(blank.rings) : 0
  const area = share * coatedAreaMm2(blank) - underside
  // all of it ends where the coat ends, whatever the last digit of the area says
  return area <= 0 ? fromUm : Math.min(toUm, heightWithAreaUm(blank.rings, fromUm, area))
}

/** The rings between two heights, with one at each end; none when nothing of the blank lies between them. */
export function ringsBetween(profile: readonly Ring[], fromUm: number, toUm: number): Ring[] {
  const from = Math.max(fromUm, 0)
  const to = Math.min(toUm, heightUm(profile))
  if (from >= to) return []
  const inside = profile.filter((ring) => ring.heightUm > from && ring.heightUm < to)
  return [ringAt(profile, from), ...inside, ringAt(profile, to)]
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
      throw new ProfileError(
        `The width at ring ${index + 1} must be more than zero: a cup's side never crosses its middle.`,
      )
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

/** The ring at a height, by the straight line between its neighbours. */
function ringAt(profile: readonly Ring[], atUm: number): Ring {
  const above = profile.findIndex((ring) => ring.heightUm >= atUm)
  const [lower, upper] = [profile[Math.max(0, above - 1)]!, profile[above]!]
  if (upper.heightUm === atUm) return upper
  const share = (atUm - lower.heightUm) / (upper.heightUm - lower.heightUm)
  return { heightUm: atUm, diameterUm: lower.diameterUm + share * (upper.diameterUm - lower.diameterUm) }
}

/** Neighbouring rings, lower and upper, base to lip. */
function frusta(rings: readonly Ring[]): (readonly [Ring, Ring])[] {
  return rings.slice(1).map((upper, index) => [rings[index]!, upper] as const)
}

/** Lateral area of one frustum, mm². */
function lateral(lower: Ring, upper: Ring): number {
  const [r1, r2, h] = inMm(lower, upper)
  return Math.PI * (r1 + r2) * Math.hypot(r2 - r1, h)
}

/** Radii and height of a frustum. */
function inMm(lower: Ring, upper: Ring): readonly [r1: number, r2: number, h: number] {
  return [lower.diameterUm / 2000, upper.diameterUm / 2000, (upper.heightUm - lower.heightUm) / 1000]
}
