import { type Identifier, identifier, identifierAt } from "./identifiers.ts"
import { fitValue, nameOf } from "./values.ts"

/** A piece of what a code says: its application identifier and its data. */
export interface Element {
  ai: string
  value: string
}

/** All that a code says. `doubts`: sentences about pieces that are not quite as they should be. */
export type ParsedElements =
  | { ok: true; elements: readonly Element[]; doubts: readonly string[] }
  | { ok: false; message: string }

/** The separator behind data of no fixed length, as scanners send FNC1. */
export const GS = "\u001d"

/**
 * Reads an element string as a scanner sends it: identifier, data, identifier, data, with the separator GS behind
 * data whose length the standard does not fix (GS1 General Specifications, element string processing). A
 * separator too many does no harm.
 *
 * @param text without symbology identifier
 */
export function parseElementString(text: string): ParsedElements {
  let rest = withSeparators(text)
  const read: Piece[] = []
  for (;;) {
    rest = withoutSeparators(rest)
    if (rest === "") return collected(read)
    const id = identifierAt(rest)
    if (!id) return notDefined(read)
    const behind = rest.slice(id.ai.length)
    const end = id.fixedLength ?? endOf(behind)
    const value = behind.slice(0, end)
    // a value cut short by a separator is too short by itself
    read.push({ id, value: id.fixedLength === null ? value : (value.split(GS)[0] ?? "") })
    rest = behind.slice(end)
  }
}

/**
 * With GS for the ways scanners are known to write it out ("␝", "<GS>", "{GS}", "^]"). A sign of its own that a
 * scanner is set to send is turned into GS by the caller.
 */
export function withSeparators(text: string): string {
  return text.replace(/␝|<GS>|\{GS\}|\^\]/g, GS)
}

/**
 * One sentence where a separator may be missing: some readers drop every one, and a lot "AB-12" with a serial "7"
 * behind it then reads as the lot "AB-12217". Only for strings that hold no separator and no sign that the
 * reader keeps them.
 *
 * @returns null when the last piece cannot hide another
 */
export function separatorDoubt(elements: readonly Element[]): string | null {
  const last = elements.at(-1)
  const id = last && identifier(last.ai)
  if (!last || !id || id.fixedLength !== null) return null
  for (let at = 1; at < last.value.length; at++) {
    const hidden = parseElementString(last.value.slice(at))
    if (hidden.ok && hidden.doubts.length === 0 && hidden.elements.every(({ ai }) => USUAL.has(ai))) {
      return `The ${nameOf(id)} may have run together with what stands behind it: compare it with the label.`
    }
  }
  return null
}

/** What stands behind a lot or serial number on things that a studio buys. */
const USUAL: ReadonlySet<string> = new Set([
  "10",
  "11",
  "13",
  "15",
  "16",
  "17",
  "21",
  "30",
  "37",
  "240",
  "241",
])

/**
 * Reads an element string as it stands in print, identifiers in brackets: "(01)09520000001234(10)A1". Spaces
 * around the data do not matter. A bracket that belongs to the data has a backslash before it, or holds no
 * identifier.
 *
 * @returns null when it does not begin with an identifier in brackets: it is something else
 */
export function parseBracketed(text: string): ParsedElements | null {
  const starts = [...text.matchAll(/(\\?)\((\d{2,4})\)/g)].flatMap((match) => {
    const id = match[1] === "" ? identifier(match[2] ?? "") : undefined
    return id ? [{ id, from: match.index, to: match.index + match[0].length }] : []
  })
  const [first] = starts
  if (!first || text.slice(0, first.from).trim() !== "") return null
  const read = starts.map(({ id, to }, nth) => {
    const value = text.slice(to, starts[nth + 1]?.from).replace(/\\([()])/g, "$1")
    return { id, value: isAllDigits(id) ? value.replace(/\s+/g, "") : value.trim() }
  })
  return collected(read)
}

/** A piece before it is checked. */
export interface Piece {
  id: Identifier
  value: string
}

/** Checks every piece. The same piece twice is one; two that differ leave open which is right. */
export function collected(read: readonly Piece[]): ParsedElements {
  if (read.length === 0) return { ok: false, message: "This code says nothing: scan it again." }
  const values = new Map<string, string>()
  const doubts: string[] = []
  for (const { id, value } of read) {
    const fitted = fitValue(id, value)
    if (!fitted.ok) return fitted
    const before = values.get(id.ai)
    if (before !== undefined && before !== value) {
      return {
        ok: false,
        message: "This code says two different things in one place: type what the label says.",
      }
    }
    if (before === undefined && fitted.doubt !== null) doubts.push(fitted.doubt)
    values.set(id.ai, value)
  }
  return { ok: true, elements: [...values].map(([ai, value]) => ({ ai, value })), doubts }
}

/** What stands where an identifier should: most often a separator that the scanner left out before it. */
function notDefined(read: readonly Piece[]): ParsedElements {
  return {
    ok: false,
    message:
      read.length === 0
        ? "This code does not begin as a GS1 code does: type what the label says."
        : "This code cannot be taken apart to its end: scan it again, or type what the label says.",
  }
}

function isAllDigits({ components }: Identifier): boolean {
  return components.every((component) => component.set === "N")
}

function withoutSeparators(text: string): string {
  let at = 0
  while (text[at] === GS) at++
  return text.slice(at)
}

function endOf(text: string): number {
  const at = text.indexOf(GS)
  return at === -1 ? text.length : at
}
