import {
  type Band,
  type CoatedProfile,
  coveredBand,
  heightUm,
  type Ring,
  ringsBetween,
} from "../domain/profile.ts"
import { rounded } from "../web/picture.ts"

/** A side view of a blank, in millimetres, base down: outlines for SVG. */
export interface ProfilePicture {
  viewBox: string
  /** from lip to base, the bands left bare included */
  whole: string
  /** what coats may cover */
  coated: string
  /** the rings, as lines across */
  rings: readonly { x1: number; x2: number; y: number }[]
  /** beside the cup, a bar for each band with its name over it */
  bars: readonly { x: number; y1: number; y2: number; name: string; nameY: number }[]
  stroke: number
  barWidth: number
  /** of the names, in the picture's millimetres */
  fontSize: number
}

/** Room around the cup, as a share of its size, so that its outline is not cut. */
const MARGIN = 0.04
/** Names, and the room of a bar, as shares of the cup's height. */
const NAME = 0.075
const BAR = 0.1

/**
 * The side view of a blank: bare bands and what coats may cover, and beside it the bands that layers cover.
 *
 * @param bands with a name of one or two characters each
 */
export function profilePicture(
  blank: CoatedProfile,
  bands: readonly { name: string; band: Band }[] = [],
): ProfilePicture {
  const { rings } = blank
  const height = heightUm(rings) / 1000
  const width = Math.max(...rings.map((ring) => ring.diameterUm)) / 1000
  const margin = Math.max(height, width) * MARGIN
  const fontSize = height * NAME
  const above = bands.length === 0 ? 0 : fontSize
  const beside = bands.length * height * BAR
  const box = [-width / 2 - margin, -margin - above, width + beside + 2 * margin, height + above + 2 * margin]
  const { fromUm, toUm } = coveredBand(blank)
  const up = (um: number) => rounded(height - um / 1000, 2)
  return {
    viewBox: box.map((length) => rounded(length, 2)).join(" "),
    whole: outline(rings, height),
    coated: outline(ringsBetween(rings, fromUm, toUm), height),
    rings: rings.map((ring) => ({
      x1: rounded(-ring.diameterUm / 2000, 2),
      x2: rounded(ring.diameterUm / 2000, 2),
      y: up(ring.heightUm),
    })),
    bars: bands.map(({ name, band }, index) => {
      const covered = coveredBand(blank, band)
      return {
        x: rounded(width / 2 + (index + 0.6) * height * BAR, 2),
        y1: up(covered.toUm),
        y2: up(covered.fromUm),
        name,
        nameY: rounded(up(covered.toUm) - fontSize * 0.3, 2),
      }
    }),
    stroke: rounded(Math.max(height, width) / 160, 2),
    barWidth: rounded(height / 50, 2),
    fontSize: rounded(fontSize, 2),
  }
}

/** Up the right side, down the left. */
function outline(rings: readonly Ring[], heightMm: number): string {
  const side = (sign: 1 | -1) =>
    rings.map(
      (ring) =>
        `${rounded((sign * ring.diameterUm) / 2000, 2)},${rounded(heightMm - ring.heightUm / 1000, 2)}`,
    )
  return [...side(1), ...side(-1).reverse()].join(" ")
}
