import { type CodeRead, readCode } from "../domain/gs1.ts"
import { Refusal } from "../domain/refusal.ts"

/**
 * A code as it is kept and compared: a trade item number in its 14-digit form, so that UPC-A, EAN-13 and the
 * number inside a QR code are one; any other code as it reads.
 *
 * @param code as it was scanned or typed
 * @throws {Refusal} eight digits that can be read in two ways
 */
export function keptCode(code: string): string {
  const read = asRead(code)
  if (read.kind === "ask") throw new Refusal(twoWays(read), { field: "codes" })
  return keptForm(read, code)
}

/** A kept code with as many digits as stand under the bars: 13, or 12 of a UPC-A. Any other code as it is. */
export function printedCode(kept: string): string {
  return /^0\d{13}$/.test(kept) ? kept.slice(kept.startsWith("00") ? 2 : 1) : kept
}

/** Every form under which a scanned or typed code may have been kept. */
export function codesToLookFor(code: string): string[] {
  const read = asRead(code)
  return read.kind === "ask" ? read.choices.map((choice) => choice.gtin14) : [keptForm(read, code)]
}

export type CheckedCode = { ok: true; code: string } | { ok: false; message: string }

/**
 * A code of a pack as a person types it: digits in the length of an item number must have the right check digit.
 *
 * @returns the form in which it is kept, or one sentence
 */
export function checkCode(typed: string): CheckedCode {
  const read = asRead(typed)
  switch (read.kind) {
    case "item":
      return { ok: true, code: read.gtin14 }
    case "text":
      return { ok: true, code: read.text }
    case "studio":
      return {
        ok: false,
        message: `${read.code} is one of your own labels. Read the code printed by the maker.`,
      }
    case "ask":
      return { ok: false, message: twoWays(read) }
    case "bad":
      return { ok: false, message: read.message }
  }
}

function asRead(code: string): CodeRead {
  return readCode({ text: code, symbology: "typed" })
}

function keptForm(read: Exclude<CodeRead, { kind: "ask" }>, code: string): string {
  switch (read.kind) {
    case "item":
      return read.gtin14
    case "text":
      return read.text
    case "studio":
      return read.code
    // no item number after all: Code 128 and its like may hold any digits
    case "bad":
      return code.trim()
  }
}

function twoWays(read: Extract<CodeRead, { kind: "ask" }>): string {
  const choices = read.choices.map((choice) => `${choice.gtin14} (${lowerFirst(choice.says)})`)
  return `These eight digits can be read in two ways. Write ${choices.join(" or ")}.`
}

function lowerFirst(text: string): string {
  return text.charAt(0).toLowerCase() + text.slice(1)
}
