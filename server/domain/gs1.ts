import { parseStudioCode, type StudioCodeKind, studioCodeProblem } from "./studio-code.ts"

export const SYMBOLOGIES = [
  "EAN-13",
  "EAN-8",
  "UPC-A",
  "UPC-E",
  "Code 128",
  "DataMatrix",
  "QR",
  "typed",
] as const
/** How a code came in. "typed": by hand, or by a hand-held scanner that types. */
export type Symbology = (typeof SYMBOLOGIES)[number]

/** A trade item number: 14 digits as it is kept, and the digits as they stand under the bars. */
export interface ItemNumber {
  gtin14: string
  shown: string
}

/** What a code turned out to be. */
export type CodeRead =
  | ({ kind: "item" } & ItemNumber)
  /** one of the studio's own codes; that it was ever given out is not known here */
  | { kind: "studio"; of: StudioCodeKind; code: string }
  /** anything else, to be shown as text; `doubt` is a sentence when it may be a mistyped studio code */
  | { kind: "text"; text: string; doubt: string | null }
  /** eight typed digits that are right both ways: the person says which stands on the pack */
  | { kind: "ask"; question: string; choices: readonly (ItemNumber & { says: string })[] }
  | { kind: "bad"; message: string }

export type ParsedItemNumber = ({ ok: true } & ItemNumber) | { ok: false; message: string }

const LONGEST_CODE = 200

/**
 * Says what a scanned or typed code is. Bars that can only hold a trade item number must hold a right one;
 * the others, and what is typed, are the studio's own codes or plain text.
 *
 * Each kind of content is one reader below: GS1 element strings will be one more, before the studio's codes.
 */
export function readCode({ text, symbology }: { text: string; symbology: Symbology }): CodeRead {
  const clean = withoutControls(text)
  if (clean === "") return bad("Nothing was read: scan again, or type the digits under the bars.")
  if (clean.length > LONGEST_CODE) {
    return bad(
      `This code holds more than ${LONGEST_CODE} characters and cannot be kept: scan another code on the pack.`,
    )
  }
  switch (symbology) {
    case "EAN-13":
    case "UPC-A":
      return asItem(clean, [12, 13])
    case "EAN-8":
      return asItem(clean, [8])
    case "UPC-E":
      return asUpcE(clean)
    case "Code 128":
    case "DataMatrix":
    case "QR":
      return asStudioCode(clean) ?? { kind: "text", text: clean, doubt: null }
    case "typed":
      return asTypedDigits(clean) ?? asStudioCode(clean) ?? asTypedText(clean)
  }
}

/**
 * The check digit of any GS1 number: weights 3 and 1 by turns from the right, up to the next ten
 * (GS1 General Specifications, check digit calculation).
 *
 * @param body the digits without check digit
 * @returns 0 to 9
 * @throws {RangeError} when it is not all digits
 */
export function gtinCheckDigit(body: string): number {
  if (!/^[0-9]+$/.test(body)) throw new RangeError("a check digit needs digits")
  let sum = 0
  for (let i = 0; i < body.length; i++) {
    const weight = (body.length - i) % 2 === 1 ? 3 : 1
    sum += weight * Number(body[i])
  }
  return (10 - (sum % 10)) % 10
}

/**
 * Reads a trade item number of 8, 12, 13 or 14 digits (GTIN-8, -12, -13, -14).
 *
 * @param digits as under the bars
 * @returns its 14-digit form, zeros in front, by which it is kept and compared; or one sentence
 */
export function parseItemNumber(digits: string): ParsedItemNumber {
  if (!/^(?:[0-9]{8}|[0-9]{12,14})$/.test(digits)) {
    return {
      ok: false,
      message: "The number under the bars has 8, 12, 13 or 14 digits: scan again or retype it.",
    }
  }
  if (/^0+$/.test(digits)) {
    return { ok: false, message: "A number of zeros stands for nothing: scan again or retype it." }
  }
  const expected = gtinCheckDigit(digits.slice(0, -1))
  if (Number(digits.at(-1)) !== expected) return { ok: false, message: wrongLastDigit(expected) }
  return { ok: true, gtin14: digits.padStart(14, "0"), shown: digits }
}

/**
 * The 12 digits (UPC-A) that a short UPC-E code stands for: its last digit says where the zeros were left out
 * (GS1 General Specifications, UPC-E decoding).
 *
 * @param code eight digits, or the middle six, then of number system 0
 */
export function expandUpcE(code: string): { ok: true; upcA: string } | { ok: false; message: string } {
  if (!/^(?:[0-9]{6}|[0-9]{8})$/.test(code)) {
    return { ok: false, message: "A short UPC-E code has 8 digits: scan again or retype it." }
  }
  const system = code.length === 8 ? code[0]! : "0"
  if (system !== "0" && system !== "1") {
    return { ok: false, message: "A short UPC-E code begins with 0 or 1: scan again or retype it." }
  }
  const body = system + zerosBack(code.length === 8 ? code.slice(1, 7) : code)
  const check = gtinCheckDigit(body)
  if (code.length === 8 && Number(code[7]) !== check) return { ok: false, message: wrongLastDigit(check) }
  return { ok: true, upcA: body + check }
}

/** Six digits of a UPC-E code to the ten between number system and check digit. */
function zerosBack(six: string): string {
  const last = six[5]!
  switch (last) {
    case "0":
    case "1":
    case "2":
      return `${six.slice(0, 2)}${last}0000${six.slice(2, 5)}`
    case "3":
      return `${six.slice(0, 3)}00000${six.slice(3, 5)}`
    case "4":
      return `${six.slice(0, 4)}00000${six.slice(4, 5)}`
    default:
      return `${six.slice(0, 5)}0000${last}`
  }
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

function asTypedText(text: string): CodeRead {
  return { kind: "text", text, doubt: studioCodeProblem(text) }
}

function wrongLastDigit(expected: number): string {
  return `The last digit should be ${expected}: scan again or retype it.`
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
