import { parseDigitalLink } from "./gs1/digital-link.ts"
import {
  type Element,
  GS,
  type ParsedElements,
  parseBracketed,
  parseElementString,
  separatorDoubt,
  withSeparators,
} from "./gs1/elements.ts"
import { itemOf } from "./gs1/facts.ts"
import {
  expandUpcE,
  gtinCheckDigit,
  type ItemNumber,
  parseItemNumber,
  wrongLastDigit,
  zerosBack,
} from "./gs1/item-number.ts"
import { symbologyIdentifier } from "./gs1/symbology.ts"
import { parseStudioCode, type StudioCodeKind, studioCodeProblem } from "./studio-code.ts"

export { expandUpcE, gtinCheckDigit, itemInCarton, parseItemNumber } from "./gs1/item-number.ts"

export const SYMBOLOGIES = [
  "EAN-13",
  "EAN-8",
  "UPC-A",
  "UPC-E",
  "ITF-14",
  "Code 39",
  "Code 128",
  "GS1-128",
  "DataMatrix",
  "GS1 DataMatrix",
  "QR",
  "GS1 QR",
  "DataBar",
  "DataBar Expanded",
  "typed",
] as const
/**
 * How a code came in. "GS1 …" and "DataBar …" hold element strings and nothing else, separators kept (GS, 0x1D).
 * "typed": by hand, or by a hand-held scanner that types.
 */
export type Symbology = (typeof SYMBOLOGIES)[number]

/** What a code says besides, where it is more than a number: see `factsOf`. */
export interface Said {
  elements: readonly Element[]
  /** sentences about pieces that are not quite as they should be */
  doubts: readonly string[]
}

/** What a code turned out to be. */
export type CodeRead =
  /** `said` is absent where the code is a number and no more */
  | ({ kind: "item"; said?: Said } & ItemNumber)
  /** one of the studio's own codes; that it was ever given out is not known here */
  | { kind: "studio"; of: StudioCodeKind; code: string }
  /**
   * anything else, to be shown as text; `doubt` is a sentence when it may be a mistyped studio code, `said` is
   * there when it is a GS1 code that names no item
   */
  | { kind: "text"; text: string; doubt: string | null; said?: Said }
  /** eight typed digits that are right both ways: the person says which stands on the pack */
  | { kind: "ask"; question: string; choices: readonly (ItemNumber & { says: string })[] }
  | { kind: "bad"; message: string }

const LONGEST_CODE = 200
/** A GS1 code that names an item may say more than is kept of it. */
const LONGEST_GS1 = 4_000

/**
 * Says what a scanned or typed code is. Bars that can only hold a trade item number must hold a right one;
 * the others, and what is typed, are GS1 codes (element string, in brackets, Digital Link), the studio's own
 * codes, or plain text. A symbology identifier in front says more surely than anything what the data is.
 */
export function readCode({ text, symbology }: { text: string; symbology: Symbology }): CodeRead {
  const marked = symbologyIdentifier(text.trim())
  const data = marked?.data ?? text.trim()
  const clean = withoutControls(data)
  if (clean === "") return bad("Nothing was read: scan again, or type the digits under the bars.")
  if (clean.length > LONGEST_GS1) return tooLong()
  switch (symbology) {
    case "EAN-13":
    case "UPC-A":
      return asItem(clean, [12, 13])
    case "EAN-8":
      return asItem(clean, [8])
    case "UPC-E":
      return asUpcE(clean)
    case "ITF-14":
      return asItem(clean, [14])
    case "GS1-128":
    case "GS1 DataMatrix":
    case "GS1 QR":
    case "DataBar":
    case "DataBar Expanded":
      return asSaid(parseElementString(data), clean)
    case "Code 39":
    case "Code 128":
    case "DataMatrix":
    case "QR":
    case "typed":
      break
  }
  switch (marked?.carried) {
    case "elements":
      return asSaid(parseElementString(data), clean)
    case 13:
    case 8:
      return asItem(clean, marked.carried === 8 ? [8] : [12, 13])
    case "anything":
    case undefined:
      return asAnything(data, clean, symbology)
  }
}

/** Without a mark of what it is: what it can be read as, the surest first. */
function asAnything(data: string, clean: string, symbology: Symbology): CodeRead {
  const short = clean.length <= LONGEST_CODE
  return (
    (symbology === "typed" ? asTypedDigits(clean) : null) ??
    (short ? asStudioCode(clean) : null) ??
    asGs1(data, clean) ??
    (short ? asText(clean, symbology) : tooLong())
  )
}

/**
 * A GS1 code that does not say it is one. A web address and brackets are told by their form; a bare element
 * string has to begin with an item number, and without a separator in it has to be right to its end too: any
 * digits could begin so.
 */
function asGs1(data: string, clean: string): CodeRead | null {
  const link = parseDigitalLink(data)
  if (link !== null) return asSaid(link, clean)
  const bracketed = parseBracketed(data)
  if (bracketed !== null) return bracketed.ok || NAMES_ITEM.test(data) ? asSaid(bracketed, clean) : null
  const plain = withSeparators(data)
  if (!/^0[12][0-9]{14}/.test(plain.startsWith(GS) ? plain.slice(1) : plain)) return null
  const read = parseElementString(plain)
  if (plain.includes(GS)) return asSaid(read, clean)
  if (!read.ok || read.doubts.length > 0) return null
  const doubt = separatorDoubt(read.elements)
  return asSaid(doubt === null ? read : { ...read, doubts: [doubt] }, clean)
}

const NAMES_ITEM = /\(0[12]\)/

function asSaid(read: ParsedElements, clean: string): CodeRead {
  if (!read.ok) return bad(read.message)
  const said = { elements: read.elements, doubts: read.doubts }
  const item = itemOf(read.elements)
  if (item !== null) return { kind: "item", ...item, said }
  return clean.length <= LONGEST_CODE ? { kind: "text", text: clean, doubt: null, said } : tooLong()
}

function asItem(text: string, lengths: readonly number[]): CodeRead {
  if (!lengths.includes(text.length)) return bad("The bars were only read in part: scan again.")
  const number = parseItemNumber(text)
  return number.ok ? { kind: "item", gtin14: number.gtin14, shown: number.shown } : bad(number.message)
}

function asUpcE(text: string): CodeRead {
  // some readers hand over the expanded number
  if (/^[0-9]{12}$/.test(text)) return asItem(text, [12])
  const expanded = expandUpcE(text)
  if (!expanded.ok) return bad(expanded.message)
  const number = parseItemNumber(expanded.upcA)
  return number.ok ? { kind: "item", gtin14: number.gtin14, shown: text } : bad(number.message)
}

function asStudioCode(text: string): CodeRead | null {
  const own = parseStudioCode(text)
  return own === null ? null : { kind: "studio", of: own.kind, code: own.code }
}

/** Digits typed in the length of an item number are one, with or without the gaps printed between them. */
function asTypedDigits(text: string): CodeRead | null {
  const digits = text.replace(/[\s\p{Pd}]+/gu, "")
  if (/^[0-9]{12,14}$/.test(digits)) return asItem(digits, [12, 13, 14])
  if (!/^[0-9]{8}$/.test(digits)) return null

  const asEan8 = asItem(digits, [8])
  // only these two number systems make a UPC-E
  if (!/^[01]/.test(digits)) return asEan8
  const asShort = asUpcE(digits)
  if (asEan8.kind === "item" && asShort.kind === "item") {
    return {
      kind: "ask",
      question: "These eight digits are right in two ways: which is it?",
      choices: [
        {
          gtin14: asShort.gtin14,
          shown: digits,
          says: "The first and last digit stand outside the bars (UPC-E)",
        },
        { gtin14: asEan8.gtin14, shown: digits, says: "Two groups of four digits under the bars (EAN-8)" },
      ],
    }
  }
  if (asShort.kind === "item") return asShort
  if (asEan8.kind === "item" || /^0+$/.test(digits)) return asEan8
  return bad(wrongLastDigitEitherWay(digits))
}

function wrongLastDigitEitherWay(digits: string): string {
  const ean8 = gtinCheckDigit(digits.slice(0, 7))
  const upcE = gtinCheckDigit(digits[0] + zerosBack(digits.slice(1, 7)))
  if (ean8 === upcE) return wrongLastDigit(ean8)
  return `The last digit should be ${upcE} in a UPC-E or ${ean8} in an EAN-8: scan again or retype it.`
}

function asText(text: string, symbology: Symbology): CodeRead {
  return { kind: "text", text, doubt: symbology === "typed" ? studioCodeProblem(text) : null }
}

function tooLong(): CodeRead {
  return bad(
    `This code holds more than ${LONGEST_CODE} characters and cannot be kept: scan another code on the pack.`,
  )
}

function bad(message: string): CodeRead {
  return { kind: "bad", message }
}

/** Without control, invisible and direction-turning characters, so that what is shown is what was read. */
function withoutControls(text: string): string {
  // a gap stays a gap
  return text
    .replace(/[\t\r\n]+/g, " ")
    .replace(/\p{C}/gu, "")
    .trim()
}
