import type { Blank } from "../domain/plan.ts"
import { coveredBand, heightUm } from "../domain/profile.ts"
import type { UnitSystem } from "../domain/units.ts"
import { labelPlaces, rounded } from "../web/picture.ts"
import type { LayerPerCup } from "./per-cup.ts"
import { sayFilm } from "./words.ts"

/** A cut through the wall of a finished cup from base (left) to lip, outside on top: shapes and labels for SVG. */
export interface CrossSection {
  viewBox: string
  width: number
  height: number
  coats: readonly DrawnCoat[]
  wall: { y: number; height: number; labelY: number; endsY: number }
  /** how many times thicker than it is a known film is drawn on a usual screen; null when there is none */
  timesThicker: number | null
  /** the known films in all where they are thickest, as it is said; null when there is none */
  thickest: string | null
  /** something is on the cup whose thickness is not known */
  hasUnknown: boolean
  /** the picture in words */
  said: string
}

interface DrawnCoat {
  label: string
  labelY: number
  /** the leader from the coat to its label */
  leader: string
  /** left to right; where it covers only a band, or lies on a step below it, it has several */
  segments: readonly Segment[]
  specks: readonly { x: number; y: number; colour: string | null }[]
}

interface Segment {
  x: number
  y: number
  width: number
  height: number
  colour: string | null
  isResin: boolean
}

const WIDTH = 360
const ACROSS = 132
const LABELS = 158
const LINE = 21
const TOP = 8
/** what the thickest stack of known films may take of the picture */
const FILMS_HEIGHT = 130
const THINNEST = 3
const LINE_COAT = 5
const WALL = 26
/** for "base" and "lip" below the wall */
const ENDS = 16
/** A CSS pixel is 1/96 of an inch. */
const UM_PER_PX = 25_400 / 96
const LONGEST_LABEL = 17

/**
 * The stack of layers to look at. Films whose thickness the engine works out (resin with its glitter, paint by its
 * data sheet) are drawn to one scale; other paint and vinyl are thin lines. Along the wall each layer covers its
 * own band. Layers that leave nothing are not drawn.
 *
 * @param colours of supplies, by id
 */
export function crossSection(
  layers: readonly LayerPerCup[],
  blank: Blank,
  colours: ReadonlyMap<number, string | null>,
  units: UnitSystem,
): CrossSection {
  const coats = layers.map((one) => coatOf(one, blank, colours)).filter((coat) => coat !== null)
  const cuts = [...new Set([0, ACROSS, ...coats.flatMap((coat) => [coat.from, coat.to])])].sort(
    (a, b) => a - b,
  )
  const columns = cuts.slice(1).map((to, index) => ({ from: cuts[index]!, to }))
  const covers = (coat: Coat, column: Column) => coat.from <= column.from && column.to <= coat.to
  const stackOf = (column: Column, measure: (coat: Coat) => number) =>
    coats.reduce((sum, coat) => sum + (covers(coat, column) ? measure(coat) : 0), 0)

  const thickestUm = Math.max(0, ...columns.map((column) => stackOf(column, (coat) => coat.um ?? 0)))
  const pxPerUm = thickestUm === 0 ? 0 : Math.min(FILMS_HEIGHT / thickestUm, 0.2)
  const heightOf = (coat: Coat) => (coat.um === null ? LINE_COAT : Math.max(THINNEST, coat.um * pxPerUm))
  const stack = Math.max(0, ...columns.map((column) => stackOf(column, heightOf)))
  const height = TOP + Math.max(stack + WALL + ENDS, (coats.length + 1) * LINE + 4) + 4
  const wallTop = height - WALL - ENDS - 4

  // from the wall up: in each column the first coat that covers it lies lowest
  const tops = new Map(columns.map((column) => [column, wallTop]))
  const placed = coats.map((coat) => {
    const boxes = columns
      .filter((column) => covers(coat, column))
      .map((column) => {
        const y = tops.get(column)! - heightOf(coat)
        tops.set(column, y)
        return { ...column, y, height: heightOf(coat) }
      })
    const last = boxes.at(-1)!
    return { coat, boxes, middle: last.y + last.height / 2 }
  })
  const outsideIn = placed.toReversed().toSorted((a, b) => a.middle - b.middle)
  const wallMiddle = wallTop + WALL / 2
  const labelYs = labelPlaces([...outsideIn.map((one) => one.middle), wallMiddle], TOP + 6, height - 8, LINE)

  return {
    viewBox: `0 0 ${WIDTH} ${Math.ceil(height)}`,
    width: WIDTH,
    height: Math.ceil(height),
    coats: outsideIn.map(({ coat, boxes, middle }, index): DrawnCoat => {
      const labelY = labelYs[index]!
      return {
        label: `${shortened(coat.name)}${coat.um === null ? "" : ` · ${sayFilm(coat.um, units)}`}`,
        labelY: rounded(labelY),
        leader: `M${rounded(coat.to) + 2} ${rounded(middle)}H${ACROSS + 2}L${LABELS - 14} ${rounded(labelY)}H${LABELS - 5}`,
        segments: boxes.flatMap((box) => segmentsOf(coat, box)),
        specks: specksOf(coat, boxes),
      }
    }),
    wall: {
      y: rounded(wallTop),
      height: WALL,
      labelY: rounded(labelYs.at(-1)!),
      endsY: rounded(wallTop + WALL + ENDS - 4),
    },
    timesThicker: thickestUm === 0 ? null : Number((pxPerUm * UM_PER_PX).toPrecision(1)),
    thickest: thickestUm === 0 ? null : sayFilm(thickestUm, units),
    hasUnknown: coats.some((coat) => coat.um === null),
    said: saidOf(coats, units),
  }
}

interface Column {
  from: number
  to: number
}

type Box = Column & { y: number; height: number }

interface Coat {
  name: string
  /** null: it leaves something whose thickness is not worked out */
  um: number | null
  isResin: boolean
  /** along the wall, in px from the base */
  from: number
  to: number
  colours: readonly { colour: string | null; share: number }[]
  specks: readonly (string | null)[]
}

function coatOf(one: LayerPerCup, blank: Blank, colours: ReadonlyMap<number, string | null>): Coat | null {
  const { layer, films } = one
  const colourOf = (id: number) => colours.get(id) ?? null
  const supplied = layer.uses.filter((use) => "supply" in use)
  const covered = coveredBand(blank, layer.band)
  const along = (um: number) => (um / heightUm(blank.rings)) * ACROSS
  const where = { name: layer.name, from: along(covered.fromUm), to: along(covered.toUm) }
  if (films.coatUm !== null) {
    const stirred = supplied.find(({ supply }) => supply.kind === "pigment" || supply.kind === "paint")
    return {
      ...where,
      um: films.coatUm,
      isResin: true,
      colours: [
        {
          colour: stirred === undefined ? null : colourOf(stirred.supply.id),
          share: Math.max(...films.resin.map(({ use }) => use.sharePpm)) / 1e6,
        },
      ],
      specks: films.glitter.map(({ supply }) => colourOf(supply.id)),
    }
  }
  const vinyl = supplied.filter(({ supply }) => supply.kind === "vinyl")
  const flat = [
    ...films.paint.map(({ supply, sharePpm }) => ({ colour: colourOf(supply.id), share: sharePpm / 1e6 })),
    ...vinyl.map(({ supply }) => ({ colour: colourOf(supply.id), share: 1 })),
  ]
  if (flat.length === 0) return null
  const known = films.paint.map((film) => film.um).filter((um) => um !== null)
  const um = known.length < flat.length ? null : Math.max(...known)
  return { ...where, um, isResin: false, colours: flat, specks: [] }
}

/**
 * Colours along what the coat covers, each as wide as its share, as far as they reach into a box: shares above
 * the whole lie over each other, below it they leave gaps.
 */
function segmentsOf(coat: Coat, box: Box): Segment[] {
  const widths = coat.colours.map(({ share }) => Math.min(1, share) * (coat.to - coat.from))
  const before = widths.slice(0, -1).reduce((sum, width) => sum + width, 0)
  const spacing = before === 0 ? 1 : (coat.to - coat.from - widths.at(-1)!) / before
  let x = coat.from
  return coat.colours.flatMap(({ colour }, index) => {
    const [from, to] = [Math.max(x, box.from), Math.min(x + widths[index]!, box.to)]
    x += widths[index]! * spacing
    if (to - from < 0.05) return []
    return {
      x: rounded(from),
      y: rounded(box.y),
      width: rounded(to - from),
      height: rounded(box.height),
      colour,
      isResin: coat.isResin,
    }
  })
}

/** Glitter, strewn the same way each time. */
function specksOf(coat: Coat, boxes: readonly Box[]): DrawnCoat["specks"] {
  if (coat.specks.length === 0) return []
  const width = coat.to - coat.from
  return Array.from({ length: 26 }, (_, i) => {
    const x = coat.from + 3 + ((i * 47) % Math.max(1, width - 6))
    const box = boxes.find((one) => x <= one.to) ?? boxes.at(-1)!
    return {
      x: rounded(x),
      y: rounded(box.y + 1.5 + ((i * 29) % 17) * (Math.max(0, box.height - 3) / 16)),
      colour: coat.specks[i % coat.specks.length] ?? null,
    }
  })
}

function saidOf(coats: readonly Coat[], units: UnitSystem): string {
  const names = coats.map((coat) => `${coat.name}${coat.um === null ? "" : ` ${sayFilm(coat.um, units)}`}`)
  return `From the cup's wall outwards: ${names.join(", ") || "nothing"}.`
}

function shortened(name: string): string {
  return name.length > LONGEST_LABEL ? `${name.slice(0, LONGEST_LABEL - 1).trimEnd()}…` : name
}
