import { AI_TABLE, type AiRow } from "./ai-table.ts"

/** N digits, X character set 82, Y set 39, Z base64url. */
export type CharacterSet = "N" | "X" | "Y" | "Z"

const CHECKS = ["csum", "yymmd0", "yymmdd", "yyyymmdd", "hhmi", "hh", "mi", "ss"] as const
export type Check = (typeof CHECKS)[number]

/** A part of an element's data. */
export interface Component {
  set: CharacterSet
  min: number
  max: number
  optional: boolean
  checks: readonly Check[]
}

/** What one application identifier says of the data behind it. */
export interface Identifier {
  ai: string
  components: readonly Component[]
  /** its length is fixed by the standard: no separator follows. null: it runs to a separator or the end */
  fixedLength: number | null
  /** it may stand among a Digital Link's attributes */
  attribute: boolean
  /** its short title in the standard */
  title: string
  /** what may follow it in a Digital Link, in order, one list or the other; null when no link is about it */
  follows: readonly (readonly string[])[] | null
}

/** What an identifier means. @returns undefined when the standard has none of that number */
export function identifier(ai: string): Identifier | undefined {
  return BY_NUMBER.get(ai)
}

/** The identifier that a text begins with; no identifier is the beginning of another. */
export function identifierAt(text: string): Identifier | undefined {
  for (let length = 2; length <= 4; length++) {
    const found = BY_NUMBER.get(text.slice(0, length))
    if (found) return found
  }
  return undefined
}

// marked, so that a page that needs none of it is not sent the table
const BY_NUMBER: ReadonlyMap<string, Identifier> = /* @__PURE__ */ byNumber()

function byNumber(): Map<string, Identifier> {
  return new Map(AI_TABLE.flatMap((row) => identifiersOf(row).map((one) => [one.ai, one] as const)))
}

/** A row's identifiers: one, or each of its range. */
function identifiersOf([ais, format, flags, title, follows]: AiRow): Identifier[] {
  const components = format.split(" ").map(componentOf)
  const shared = {
    components,
    fixedLength: flags.includes("*") ? components.reduce((sum, { max }) => sum + max, 0) : null,
    attribute: flags.includes("?"),
    title,
    follows: follows === undefined ? null : follows.split("|").map((list) => list.split(",").filter(Boolean)),
  }
  const [first = "", last = first] = ais.split("-")
  return Array.from({ length: Number(last) - Number(first) + 1 }, (_, nth) => ({
    ai: String(Number(first) + nth).padStart(first.length, "0"),
    ...shared,
  }))
}

/** "N6,yymmd0", "X..20" or "[N2],mi". */
function componentOf(text: string): Component {
  const [type = "", ...names] = text.split(",")
  const [, optional, set, upTo, length] = /^(\[?)([NXYZ])(\.\.)?([0-9]+)\]?$/.exec(type) ?? []
  if (!isSet(set) || length === undefined) throw new RangeError(`no format reads “${text}”`)
  return {
    set,
    min: upTo === undefined ? Number(length) : 1,
    max: Number(length),
    optional: optional === "[",
    checks: CHECKS.filter((check) => names.includes(check)),
  }
}

function isSet(letter: string | undefined): letter is CharacterSet {
  return letter === "N" || letter === "X" || letter === "Y" || letter === "Z"
}
