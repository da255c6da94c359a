import type { Ring } from "./profile.ts"
import { Refusal } from "./refusal.ts"

/** A flat piece that goes once around a blank. Whole µm, rounded up. */
export interface Wrap {
  /** the smallest rectangle it can be cut from: width × height of the sheet it takes */
  widthUm: number
  heightUm: number
  /** how it is drawn when the side tapers: part of a ring; null for a straight side, where it is a rectangle */
  arc: Arc | null
}

/** A part of a ring (an annular sector). */
export interface Arc {
  innerRadiusUm: number
  outerRadiusUm: number
  /** angle it covers, overlap included, in millionths of a turn */
  turnPpm: number
}

/** A side this much wider or narrower than the straight line from end to end still counts as one taper. */
const STRAIGHT_WITHIN_UM = 500

/**
 * The flat piece that wraps a band of a blank, meeting itself with an overlap.
 *
 * Straight side: circumference + overlap, by the height of the band.
 *
 * Taper: the side of a frustum unrolled (development of a frustum of a right cone, any handbook of descriptive
 * geometry or sheet-metal pattern drafting). With radii r < R and slant s between them, the cone's apex lies
 * s r ÷ (R − r) from the narrow edge along the side, so the piece is part of a ring with
 *
 *     inner radius a = s r ÷ (R − r)    outer radius b = s R ÷ (R − r)    angle = 2 π (R − r) ÷ s
 *
 * to which the overlap adds overlap ÷ a, so that it is as wide as asked for at the narrow edge, wider at the
 * other. With half the angle α, laid symmetrically, it takes a rectangle
 *
 *     α ≤ 90°:  2 b sin α  by  s + 2 a sin² (α ÷ 2)         (= b − a cos α)
 *     α > 90°:  2 b        by  b (1 − cos α)
 *
 * Pieces are counted by that rectangle; nesting one arc into the next would save some sheet and is left out.
 *
 * @param rings the band's own rings, lower to upper edge, at least two; see `ringsBetween`
 * @param overlapUm how far the ends lie over each other
 * @throws {Refusal} the band is neither straight nor one taper, the overlap is less than zero, or the side is so
 *   flat that the piece would go more than once around the apex
 */
export function wrapPiece({ rings, overlapUm }: { rings: readonly Ring[]; overlapUm: number }): Wrap {
  const [lower, upper] = [rings[0], rings.at(-1)]
  if (!lower || !upper || !(upper.heightUm > lower.heightUm)) throw new RangeError("a wrap needs a band")
  if (!(overlapUm >= 0)) throw new Refusal("The overlap of a wrap cannot be less than zero.")
  if (!rings.every((ring) => liesBetween(ring, lower, upper))) {
    throw new Refusal(
      "A wrap lies flat only on a straight or evenly tapered side: choose a band without a step or shoulder.",
    )
  }
  const riseUm = upper.heightUm - lower.heightUm
  const narrow = Math.min(lower.diameterUm, upper.diameterUm) / 2
  const wide = Math.max(lower.diameterUm, upper.diameterUm) / 2
  if (narrow === wide) {
    return { widthUm: wholeUm(2 * Math.PI * wide + overlapUm), heightUm: wholeUm(riseUm), arc: null }
  }

  const slant = Math.hypot(riseUm, wide - narrow)
  const inner = (slant * narrow) / (wide - narrow)
  const outer = (slant * wide) / (wide - narrow)
  const angle = (2 * Math.PI * (wide - narrow)) / slant + overlapUm / inner
  if (angle >= 2 * Math.PI) {
    throw new Refusal("This side is too flat to be wrapped in one piece with so much overlap.")
  }
  const half = angle / 2
  const reachesSides = half > Math.PI / 2
  return {
    widthUm: wholeUm(reachesSides ? 2 * outer : 2 * outer * Math.sin(half)),
    heightUm: wholeUm(
      reachesSides ? outer * (1 - Math.cos(half)) : slant + 2 * inner * Math.sin(half / 2) ** 2,
    ),
    arc: {
      innerRadiusUm: Math.round(inner),
      outerRadiusUm: Math.round(outer),
      turnPpm: Math.round((angle / (2 * Math.PI)) * 1e6),
    },
  }
}

function liesBetween(ring: Ring, lower: Ring, upper: Ring): boolean {
  const share = (ring.heightUm - lower.heightUm) / (upper.heightUm - lower.heightUm)
  const straight = lower.diameterUm + share * (upper.diameterUm - lower.diameterUm)
  return Math.abs(ring.diameterUm - straight) <= STRAIGHT_WITHIN_UM
}

/** Up to the whole µm, so that a piece is never cut short; a billionth is the computer's error. */
function wholeUm(exact: number): number {
  return Math.ceil(exact * (1 - 1e-9))
}
