import { createRequire } from "node:module"
import type bwip from "bwip-js"
import { type Format, placed } from "./formats.ts"

const require = createRequire(import.meta.url)

export const SYMBOLS = ["qr", "datamatrix"] as const
export type SymbolName = (typeof SYMBOLS)[number]

/** What stands on one label. */
export interface Label {
  /** what the symbol says */
  code: string
  /** the first line: the code in clear, or a shelf's name */
  title: string
  /** what is in it; wrapped to two lines */
  name: string
  /** a line each: lot, expiry */
  lines: readonly string[]
  /** a line to write on with a pen: "Opened on"; null: none */
  toFillIn: string | null
}

/**
 * Pages of labels as pictures at their true size: each is as many mm wide and high as the paper.
 *
 * @returns one SVG a page
 */
export function pagesOf(
  labels: readonly Label[],
  format: Format,
  options: { start: number; symbol: SymbolName },
): string[] {
  const { width, height } = format.page
  return placed(labels, format, options.start).map((page) => {
    const drawn = page.map(
      ({ label, x, y }) =>
        `<g transform="translate(${mm(x)} ${mm(y)})">${labelOf(label, format.label, options.symbol)}</g>`,
    )
    const said = page.map(({ label }) => `${label.title} ${label.name}`.trim()).join(", ")
    return (
      `<svg xmlns="http://www.w3.org/2000/svg" class="label-page" width="${width}mm" height="${height}mm" viewBox="0 0 ${width} ${height}" ` +
      `role="img" aria-label="${escaped(`Labels: ${said}`)}"><rect width="${width}" height="${height}" fill="#ffffff"/>${drawn.join("")}</svg>`
    )
  })
}

const EDGE = 2
const LARGEST_SYMBOL = 22
const LARGEST_TYPE = 4.6
const SMALLEST_COLUMN = 26
/** How wide a letter is of its height, about; what is longer is drawn narrower. */
const LETTER = 0.56

function labelOf(label: Label, size: Format["label"], symbol: SymbolName): string {
  const side = Math.min(size.height - 2 * EDGE, size.width * 0.36, LARGEST_SYMBOL)
  const column = { x: EDGE + side + 1.5, width: size.width - EDGE - side - 1.5 - EDGE }
  const below = label.lines.length + (label.toFillIn === null ? 0 : 1)
  // one line where that has room at its own, larger size: two for a short name make all the others smaller
  const room = { width: column.width, height: size.height - 2 * EDGE, count: 2 + below }
  const isWide = column.width >= SMALLEST_COLUMN
  const nameLines = isWide && fitsOneLine(label.name, room) ? [label.name] : wrapped(label.name, 2)
  const picture = symbolOf(label.code, symbol, EDGE, EDGE, side)
  if (isWide) {
    const area = { ...column, y: EDGE, height: size.height - 2 * EDGE }
    return picture + linesOf(label, nameLines, area, 1 + nameLines.length + below)
  }
  // little room beside the symbol: only what it is called, and the rest across the whole label
  const beside = { ...column, y: EDGE, height: side }
  const across = {
    x: EDGE,
    width: size.width - 2 * EDGE,
    y: EDGE + side + 0.5,
    height: size.height - 2 * EDGE - side - 0.5,
  }
  return (
    picture +
    linesOf({ ...label, lines: [], toFillIn: null }, nameLines, beside, 1 + nameLines.length) +
    (below === 0 ? "" : linesOf({ ...label, title: "" }, [], across, below))
  )
}

interface Area {
  x: number
  y: number
  width: number
  height: number
}

/** How high the letters are where so many lines share a height. */
function sizeOf(height: number, count: number): { step: number; size: number } {
  const step = Math.min(height / count, LARGEST_TYPE * 1.25)
  return { step, size: step * 0.8 }
}

function fitsOneLine(name: string, room: { width: number; height: number; count: number }): boolean {
  return name !== "" && name.length * sizeOf(room.height, room.count).size * LETTER <= room.width
}

function linesOf(label: Label, names: readonly string[], area: Area, count: number): string {
  const { step, size } = sizeOf(area.height, count)
  let baseline = area.y + size
  const parts: string[] = []
  const add = (text: string, more = "") => {
    parts.push(textAt(text, area.x, baseline, size, area.width, more))
    baseline += step
  }
  if (label.title !== "") add(label.title, ' class="label-code"')
  for (const name of names) add(name, ' class="label-name"')
  for (const line of label.lines) add(line)
  if (label.toFillIn !== null) {
    const end = area.x + Math.min(area.width * 0.5, label.toFillIn.length * size * LETTER) + 1
    parts.push(textAt(label.toFillIn, area.x, baseline, size, area.width * 0.5))
    parts.push(
      `<line x1="${mm(end)}" y1="${mm(baseline + 0.4)}" x2="${mm(area.x + area.width)}" y2="${mm(baseline + 0.4)}" stroke="#000000" stroke-width="0.2"/>`,
    )
  }
  return parts.join("")
}

/** A text that keeps within its width: drawn narrower up to a third, and cut beyond that. */
function textAt(text: string, x: number, y: number, size: number, width: number, more = ""): string {
  const most = Math.floor((width * 1.5) / (size * LETTER))
  const shown = text.length > most ? `${text.slice(0, Math.max(1, most - 1))}…` : text
  const narrow =
    shown.length * size * LETTER > width ? ` textLength="${mm(width)}" lengthAdjust="spacingAndGlyphs"` : ""
  return `<text x="${mm(x)}" y="${mm(y)}" font-size="${mm(size)}"${narrow}${more}>${escaped(shown)}</text>`
}

/** At most so many lines, broken between words as evenly as it goes. */
function wrapped(text: string, most: number): string[] {
  const words = text.split(/\s+/).filter(Boolean)
  if (words.length < 2 || text.length <= 14) return text === "" ? [] : [text]
  let best = 1
  for (let at = 1; at < words.length; at++) {
    const longer = (cut: number) =>
      Math.max(words.slice(0, cut).join(" ").length, words.slice(cut).join(" ").length)
    if (longer(at) < longer(best)) best = at
  }
  return [words.slice(0, best).join(" "), words.slice(best).join(" ")].slice(0, most)
}

/** The symbol with its quiet zone, as large as its place. */
function symbolOf(code: string, symbol: SymbolName, x: number, y: number, side: number): string {
  // two megabytes of program, loaded when the first label is drawn
  const { toSVG } = require("bwip-js") as typeof bwip
  const svg =
    symbol === "qr"
      ? toSVG({ bcid: "qrcode", text: code, scale: 1, padding: 4 })
      : toSVG({ bcid: "datamatrix", text: code, scale: 1, padding: 2 })
  const box = /viewBox="([^"]+)"/.exec(svg)?.[1]
  const inside = svg.slice(svg.indexOf(">") + 1, svg.lastIndexOf("</svg>"))
  return `<svg x="${mm(x)}" y="${mm(y)}" width="${mm(side)}" height="${mm(side)}" viewBox="${box}" shape-rendering="crispEdges">${inside}</svg>`
}

function mm(value: number): string {
  return String(Math.round(value * 1000) / 1000)
}

function escaped(text: string): string {
  return text.replace(/[&<>"']/g, (sign) => `&#${sign.charCodeAt(0)};`)
}
