import { sharedWord } from "../domain/vessels.ts"
import { labelPlaces, rounded } from "../web/picture.ts"
import { type Lineage, THINGS, type Thing, type ThingKind } from "./lineage.ts"

/** What a box is, said in words: colour tells nothing here. A container's own word stands with it. */
const KIND_WORDS: Record<ThingKind, string> = {
  lot: "Maker's lot",
  delivery: "Came",
  container: "Container",
  coat: "Mix and coat",
  cup: "Cup",
  order: "Order",
  buyer: "Buyer",
}

/** A box that is tapped. Sizes in px where the picture is shown at its own size. */
export interface Box {
  x: number
  y: number
  width: number
  height: number
  to: string
  /** for a screen reader: what it is, the words as they stand in the box, and in full where they were cut */
  label: string
  isFocus: boolean
  lines: { x: number; y: number; text: string; isName: boolean }[]
}

/** A line from one thing into another; with a head where its way is not told by the order of the columns. */
export interface Stroke {
  path: string
  head: string | null
  off: boolean
}

export interface TracePicture {
  width: number
  height: number
  /** too long for one sheet of paper */
  isLong: boolean
  headings: { x: number; y: number; text: string }[]
  strokes: Stroke[]
  boxes: Box[]
}

const WIDE = 1_040
const NARROW = 358
const PAD = 8
const NAME_LINE = 19
const LINE = 16
const HEAD = 26

/**
 * The picture for a wide page and for paper: a column for each kind of thing, from the maker's lot on the left to the
 * buyer on the right.
 */
export function widePicture(lineage: Lineage): TracePicture {
  const things = [...lineage.things.values()]
  const kinds = THINGS.filter((kind) => things.some((one) => one.kind === kind))
  const gap = kinds.length > 5 ? 26 : 44
  const width = Math.min(220, Math.floor((WIDE - gap * (kinds.length - 1)) / kinds.length))
  const texts = new Map(things.map((one) => [one.key, linesOf(one.name, one.says, width, 3)]))
  const height = heightOf(Math.max(1, ...[...texts.values()].map((lines) => lines.length - 1)))
  const places = placesOf(lineage, kinds, height + 12)
  const left = (kind: ThingKind) => PAD + kinds.indexOf(kind) * (width + gap)
  const place = (key: string) => {
    const { kind } = lineage.things.get(key)!
    return { kind, x: left(kind), y: places.get(key)!, middle: places.get(key)! + height / 2 }
  }
  const strokes = lineage.links.map(({ from, to, off }): Stroke => {
    const [a, b] = [place(from), place(to)]
    if (a.kind === b.kind) {
      // from bottle to bottle: round the side on which nothing else leaves
      const bulge = a.x - Math.min(gap - 6, 20)
      const [start, end] = a.y < b.y ? [a.middle + 12, b.middle - 12] : [a.middle - 12, b.middle + 12]
      return {
        path: `M${a.x} ${rounded(start)}C${bulge} ${rounded(start)} ${bulge} ${rounded(end)} ${a.x - 4} ${rounded(end)}`,
        head: `${a.x},${rounded(end)} ${a.x - 8},${rounded(end - 4)} ${a.x - 8},${rounded(end + 4)}`,
        off,
      }
    }
    const [start, end] = [a.x + width, b.x]
    const half = (end - start) / 2
    return {
      path: `M${start} ${rounded(a.middle)}C${start + half} ${rounded(a.middle)} ${end - half} ${rounded(b.middle)} ${end} ${rounded(b.middle)}`,
      head: null,
      off,
    }
  })
  const end = Math.max(...[...places.values()]) + height + PAD
  return {
    width: WIDE + 2 * PAD,
    height: end,
    isLong: end > 2 * WIDE,
    headings: kinds.map((kind) => ({
      x: left(kind),
      y: 16,
      text: headingOf(things.filter((thing) => thing.kind === kind)),
    })),
    strokes,
    boxes: things.map((thing) => {
      const { x, y } = place(thing.key)
      return boxOf(lineage, thing, { x, y, width, height }, texts.get(thing.key)!)
    }),
  }
}

/**
 * The picture for a phone: top down, what a thing comes from under it, then what it went into. What was told before
 * is not told again, only named.
 */
export function tallPicture(lineage: Lineage): TracePicture {
  const picture: TracePicture = {
    width: NARROW,
    height: 0,
    isLong: false,
    headings: [],
    strokes: [],
    boxes: [],
  }
  const ways = [
    { says: "Where it comes from", next: nextOf(lineage, "to", "from") },
    { says: "Where it went", next: nextOf(lineage, "from", "to") },
  ]
  for (const { says, next } of ways) {
    const begin = lineage.focus.filter((key) => next(key).length > 0)
    if (begin.length === 0) continue
    picture.headings.push({ x: 0, y: picture.height + 20, text: says })
    picture.height += HEAD + 6
    const told = new Set<string>()
    for (const key of begin) if (!told.has(key)) branch(lineage, picture, key, 0, next, told)
    picture.height += 10
  }
  if (picture.boxes.length === 0)
    for (const key of lineage.focus) branch(lineage, picture, key, 0, () => [], new Set())
  return picture
}

type Next = (key: string) => { key: string; off: boolean }[]

function branch(
  lineage: Lineage,
  picture: TracePicture,
  key: string,
  depth: number,
  next: Next,
  told: Set<string>,
): number {
  const thing = lineage.things.get(key)!
  const again = told.has(key) && next(key).length > 0
  told.add(key)
  const x = Math.min(depth, 8) * 16
  const width = NARROW - x
  const name = nameWithKind(thing)
  const lines = linesOf(name, again ? [...thing.says, "as above"] : thing.says, width, 2)
  const height = heightOf(lines.length - 1)
  const y = picture.height
  picture.boxes.push(boxOf(lineage, thing, { x, y, width, height }, lines))
  picture.height += height + 8
  if (again) return y + height / 2
  for (const one of next(key)) {
    const at = picture.strokes.length
    const middle = branch(lineage, picture, one.key, depth + 1, next, told)
    const path = `M${x + 8} ${rounded(y + height)}V${rounded(middle)}H${x + 16}`
    picture.strokes.splice(at, 0, { path, head: null, off: one.off })
  }
  return y + height / 2
}

/** Of containers their own word where all of them share it. */
function headingOf(things: readonly Thing[]): string {
  const words = things.flatMap((thing) => thing.vessel ?? [])
  return words.length > 0 ? capital(sharedWord(words).one) : KIND_WORDS[things[0]!.kind]
}

function kindWord({ kind, vessel }: Thing): string {
  return vessel === undefined ? KIND_WORDS[kind] : capital(vessel.one)
}

function capital(word: string): string {
  return word.charAt(0).toUpperCase() + word.slice(1)
}

/** "Mix M0012", "12 cups", "Order 7": its kind is part of its name where it does not say it itself. */
function nameWithKind(thing: Thing): string {
  const { kind, name } = thing
  if (kind === "order" || name.startsWith("Mix ") || /^\d+ c/.test(name)) return name
  const short: Partial<Record<ThingKind, string>> = { coat: "Coat", lot: "Lot", delivery: "Came from" }
  return `${short[kind] ?? kindWord(thing)} ${name}`
}

function nextOf({ links }: Lineage, at: "from" | "to", then: "from" | "to"): Next {
  const next = new Map<string, { key: string; off: boolean }[]>()
  for (const link of links)
    next.set(link[at], [...(next.get(link[at]) ?? []), { key: link[then], off: link.off }])
  return (key) => next.get(key) ?? []
}

/** Tops of the boxes: each column in the order of what its boxes hang on, so that few lines cross. */
function placesOf(lineage: Lineage, kinds: readonly ThingKind[], line: number): Map<string, number> {
  const columns = kinds.map((kind) =>
    [...lineage.things.values()].filter((one) => one.kind === kind).map((one) => one.key),
  )
  const most = Math.max(...columns.map((column) => column.length))
  const places = new Map<string, number>()
  for (const column of columns) for (const [row, key] of column.entries()) places.set(key, row * line)
  const [back, on] = [nextOf(lineage, "to", "from"), nextOf(lineage, "from", "to")]
  const pull = (key: string, sides: readonly Next[]) => {
    const kind = lineage.things.get(key)!.kind
    const beside = sides
      .flatMap((side) => side(key))
      .filter((one) => lineage.things.get(one.key)!.kind !== kind)
      .map((one) => places.get(one.key)!)
    return beside.length === 0 ? places.get(key)! : beside.reduce((sum, one) => sum + one, 0) / beside.length
  }
  const settle = (column: readonly string[], sides: readonly Next[]) => {
    const wanted = column.map((key) => ({ key, at: pull(key, sides) })).sort((a, b) => a.at - b.at)
    const at = labelPlaces(
      wanted.map((one) => one.at),
      0,
      (most - 1) * line,
      line,
    )
    for (const [row, { key }] of wanted.entries()) places.set(key, at[row]!)
  }
  for (let sweep = 0; sweep < 4; sweep += 1) {
    for (const column of columns) settle(column, [back])
    for (const column of columns.toReversed()) settle(column, [on])
  }
  for (const column of columns) settle(column, [back, on])
  return new Map([...places].map(([key, y]) => [key, Math.round(y + HEAD)]))
}

function boxOf(
  lineage: Lineage,
  thing: Thing,
  at: { x: number; y: number; width: number; height: number },
  lines: readonly string[],
): Box {
  return {
    ...at,
    to: `/trace/${thing.ref.kind}/${thing.ref.id}`,
    label: labelOf(thing, lines),
    isFocus: lineage.focus.includes(thing.key),
    lines: lines.map((text, index) => ({
      x: at.x + PAD,
      y: at.y + PAD + 12 + (index === 0 ? 0 : NAME_LINE + (index - 1) * LINE),
      text,
      isName: index === 0,
    })),
  }
}

function labelOf(thing: Thing, lines: readonly string[]): string {
  const shown = lines.join(" ")
  const said = shown.startsWith(nameWithKind(thing)) ? shown : `${kindWord(thing)}: ${shown}`
  return shown.includes("…") ? `${said} (${[thing.name, ...thing.says].filter(Boolean).join(", ")})` : said
}

/** At least 48 px: big enough for a gloved thumb. */
function heightOf(lines: number): number {
  return Math.max(48, 2 * PAD + NAME_LINE + lines * LINE)
}

/** Letters of the name at 14 px bold and of the rest at 13 px are about so wide. */
const NAME_LETTER = 8
const LETTER = 6.7

function linesOf(name: string, says: readonly string[], width: number, most: number): string[] {
  const room = width - 2 * PAD
  return [
    cut(name, Math.floor(room / NAME_LETTER)),
    ...wrap(says.filter(Boolean).join(", "), Math.floor(room / LETTER), most),
  ]
}

function wrap(text: string, letters: number, most: number): string[] {
  const lines: string[] = []
  for (const word of text.split(" ").filter(Boolean)) {
    const last = lines.at(-1)
    if (last !== undefined && last.length + 1 + word.length <= letters)
      lines[lines.length - 1] = `${last} ${word}`
    else lines.push(word)
  }
  const kept = lines.slice(0, most).map((line) => cut(line, letters))
  if (lines.length > most) kept[most - 1] = cut(`${kept[most - 1]} ${"…".repeat(letters)}`, letters)
  return kept
}

function cut(text: string, letters: number): string {
  return text.length <= letters ? text : `${text.slice(0, Math.max(1, letters - 1)).trimEnd()}…`
}
