import { type CoatedProfile, coveredBand, heightUm, type Ring, ringsBetween } from "../domain/profile.ts"

/** A side view of a blank, in millimetres, base down: outlines for SVG. */
export interface ProfilePicture {
  viewBox: string
  /** from lip to base, the bands left bare included */
  whole: string
  /** what the coat covers */
  coated: string
  /** the rings, as lines across */
  rings: readonly { x1: number; x2: number; y: number }[]
  stroke: number
}

/** Room around the cup, as a share of its size, so that its outline is not cut. */
const MARGIN = 0.04

/** The side view of a blank: coated part and bare bands. */
export function profilePicture(blank: CoatedProfile): ProfilePicture {
  const { rings } = blank
  const height = heightUm(rings) / 1000
  const width = Math.max(...rings.map((ring) => ring.diameterUm)) / 1000
  const margin = Math.max(height, width) * MARGIN
  const box = [-width / 2 - margin, -margin, width + 2 * margin, height + 2 * margin]
  const { fromUm, toUm } = coveredBand(blank)
  return {
    viewBox: box.map(round).join(" "),
    whole: outline(rings, height),
    coated: outline(ringsBetween(rings, fromUm, toUm), height),
    rings: rings.map((ring) => ({
      x1: round(-ring.diameterUm / 2000),
      x2: round(ring.diameterUm / 2000),
      y: round(height - ring.heightUm / 1000),
    })),
    stroke: round(Math.max(height, width) / 160),
  }
}

/** Up the right side, down the left. */
function outline(rings: readonly Ring[], heightMm: number): string {
  const side = (sign: 1 | -1) =>
    rings.map((ring) => `${round((sign * ring.diameterUm) / 2000)},${round(heightMm - ring.heightUm / 1000)}`)
  return [...side(1), ...side(-1).reverse()].join(" ")
}

function round(value: number): number {
  return Number(value.toFixed(2))
}
