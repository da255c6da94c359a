import { isResin } from "../domain/layers.ts"
import type { UnitSystem } from "../domain/units.ts"
import type { LayerPerCup } from "./per-cup.ts"
import { sayFilm } from "./words.ts"

/** A cut through the wall of a finished cup, outside on top: shapes and labels for SVG. */
export interface CrossSection {
  viewBox: string
  width: number
  height: number
  bands: readonly Band[]
  wall: { y: number; height: number; labelY: number }
  /** how many times thicker than it is resin is drawn on a usual screen; null when there is none */
  timesThicker: number | null
  /** the resin in all, as it is said; null when there is none */
  resin: string | null
  /** the picture in words */
  said: string
}

interface Band {
  y: number
  height: number
  middle: number
  label: string
  labelY: number
  /** the leader from the band to its label */
  leader: string
  segments: readonly { x: number; width: number; colour: string | null; isResin: boolean }[]
  specks: readonly { x: number; y: number; colour: string | null }[]
}

const WIDTH = 360
const BANDS = 132
const LABELS = 158
const LINE = 21
const TOP = 8
/** what the thickest stack of resin may take of the picture */
const RESIN_HEIGHT = 130
const THINNEST = 3
const LINE_BAND = 5
const WALL = 26
/** A CSS pixel is 1/96 of an inch. */
const UM_PER_PX = 25_400 / 96
const LONGEST_LABEL = 17

/**
 * The stack of layers to look at. Resin is drawn to one scale, from the films the engine works out; paint and
 * vinyl are lines, since how thick they dry is not worked out here. Layers that leave nothing are not drawn.
 *
 * @param colours of supplies, by id
 */
export function crossSection(
  layers: readonly LayerPerCup[],
  colours: ReadonlyMap<number, string | null>,
  units: UnitSystem,
): CrossSection {
  const coats = layers.map((one) => coatOf(one, colours)).filter((coat) => coat !== null)
  const resinUm = coats.reduce((sum, coat) => sum + (coat.um ?? 0), 0)
  const pxPerUm = resinUm === 0 ? 0 : Math.min(RESIN_HEIGHT / resinUm, 0.2)
  const heights = coats.map((coat) => (coat.um === null ? LINE_BAND : Math.max(THINNEST, coat.um * pxPerUm)))
  const stack = heights.reduce((sum, height) => sum + height, 0)
  const height = TOP + Math.max(stack + WALL, (coats.length + 1) * LINE + 4) + 4

  // from the wall up: the first coat lies lowest
  const wallTop = height - WALL - 4
  let above = wallTop
  const placed = coats.map((coat, index) => {
    const own = heights[index]!
    above -= own
    return { coat, y: above, height: own, middle: above + own / 2 }
  })
  const outsideIn = placed.toReversed()
  const wallMiddle = wallTop + WALL / 2
  const labelYs = spread([...outsideIn.map((band) => band.middle), wallMiddle], TOP + 6, height - 8)

  const bands = outsideIn.map(({ coat, ...box }, index): Band => {
    const labelY = labelYs[index]!
    const told = coat.um === null ? "" : ` · ${sayFilm(coat.um, units)}`
    return {
      y: round(box.y),
      height: round(box.height),
      middle: round(box.middle),
      label: `${shortened(coat.name)}${told}`,
      labelY: round(labelY),
      leader: `M${BANDS + 2} ${round(box.middle)}L${LABELS - 14} ${round(labelY)}H${LABELS - 5}`,
      segments: segmentsOf(coat),
      specks: specksOf(coat, box.y, box.height),
    }
  })
  const exact = pxPerUm * UM_PER_PX
  return {
    viewBox: `0 0 ${WIDTH} ${Math.ceil(height)}`,
    width: WIDTH,
    height: Math.ceil(height),
    bands,
    wall: { y: round(wallTop), height: WALL, labelY: round(labelYs.at(-1)!) },
    timesThicker: resinUm === 0 ? null : Number(exact.toPrecision(1)),
    resin: resinUm === 0 ? null : sayFilm(resinUm, units),
    said: saidOf(coats, units),
  }
}

interface Coat {
  name: string
  /** null: it leaves something whose thickness is not worked out */
  um: number | null
  colours: readonly { colour: string | null; share: number }[]
  specks: readonly (string | null)[]
}

function coatOf(one: LayerPerCup, colours: ReadonlyMap<number, string | null>): Coat | null {
  const { layer } = one
  const films = layer.uses.filter(isResin)
  const others = layer.uses.filter((use) => !isResin(use)).filter((use) => "supply" in use)
  const colour = (kinds: readonly string[]) =>
    others
      .filter((use) => kinds.includes(use.supply.kind))
      .map((use) => ({
        colour: colours.get(use.supply.id) ?? null,
        share: use.how === "piece" ? 1 : use.sharePpm / 1e6,
      }))
  const flat = colour(["paint", "vinyl"])
  if (films.length > 0) {
    return {
      name: layer.name,
      um: one.films.reduce((sum, film) => sum + film.um, 0),
      colours: [{ colour: colour(["pigment", "paint"])[0]?.colour ?? null, share: 1 }],
      specks: colour(["glitter"]).map((use) => use.colour),
    }
  }
  return flat.length === 0 ? null : { name: layer.name, um: null, colours: flat, specks: [] }
}

/** Colours beside each other, each as wide as its share; together never wider than the band. */
function segmentsOf(coat: Coat): Band["segments"] {
  const whole = Math.max(
    1,
    coat.colours.reduce((sum, one) => sum + one.share, 0),
  )
  let x = 0
  return coat.colours.map(({ colour, share }) => {
    const width = (BANDS * share) / whole
    const segment = { x: round(x), width: round(width), colour, isResin: coat.um !== null }
    x += width
    return segment
  })
}

/** Glitter, strewn the same way each time. */
function specksOf(coat: Coat, y: number, height: number): Band["specks"] {
  if (coat.specks.length === 0) return []
  return Array.from({ length: 26 }, (_, i) => ({
    x: round(3 + ((i * 47) % (BANDS - 6))),
    y: round(y + 1.5 + ((i * 29) % 17) * (Math.max(0, height - 3) / 16)),
    colour: coat.specks[i % coat.specks.length] ?? null,
  }))
}

/** Places for labels as near to what they name as a line each allows. */
function spread(wanted: readonly number[], from: number, to: number): number[] {
  const places: number[] = []
  for (const want of wanted) places.push(Math.max(want, (places.at(-1) ?? from - LINE) + LINE))
  for (let i = places.length - 1; i >= 0; i--)
    places[i] = Math.min(places[i]!, (places[i + 1] ?? to + LINE) - LINE)
  return places
}

function saidOf(coats: readonly Coat[], units: UnitSystem): string {
  const names = coats.map((coat) => `${coat.name}${coat.um === null ? "" : ` ${sayFilm(coat.um, units)}`}`)
  return `From the cup's wall outwards: ${names.join(", ") || "nothing"}.`
}

function shortened(name: string): string {
  return name.length > LONGEST_LABEL ? `${name.slice(0, LONGEST_LABEL - 1).trimEnd()}…` : name
}

function round(value: number): number {
  return Number(value.toFixed(1))
}
