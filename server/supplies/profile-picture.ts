import { type CoatedProfile, heightUm, type Ring } from "../domain/profile.ts"

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
  const top = heightUm(rings) - blank.bareLipUm
  return {
    viewBox: box.map(round).join(" "),
    whole: outline(rings, height),
    coated: outline(between(rings, blank.bareBaseUm, top), height),
    rings: rings.map((ring) => ({
      x1: round(-ring.diameterUm / 2000),
      x2: round(ring.diameterUm / 2000),
      y: round(height - ring.heightUm / 1000),
    })),
    stroke: round(Math.max(height, width) / 160),
  }
}

/** The rings between two heights, with one at each end. */
function between(rings: readonly Ring[], fromUm: number, toUm: number): Ring[] {
  const inside = rings.filter((ring) => ring.heightUm > fromUm && ring.heightUm < toUm)
  return [ringAt(rings, fromUm), ...inside, ringAt(rings, toUm)]
}

function ringAt(rings: readonly Ring[], atUm: number): Ring {
  const above = rings.find((ring) => ring.heightUm >= atUm) as Ring
  const below = rings.findLast((ring) => ring.heightUm <= atUm) as Ring
  const span = above.heightUm - below.heightUm
  const share = span === 0 ? 0 : (atUm - below.heightUm) / span
  return { heightUm: atUm, diameterUm: below.diameterUm + share * (above.diameterUm - below.diameterUm) }
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
