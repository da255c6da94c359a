/** A trade item number: 14 digits as it is kept, and the digits as they stand under the bars. */
export interface ItemNumber {
  gtin14: string
  shown: string
}

export type ParsedItemNumber = ({ ok: true } & ItemNumber) | { ok: false; message: string }

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
 * The item that an outer carton is full of: a 14-digit number that begins with 1 to 8 is of a packing level, and the
 * digits behind are the item's own, with another check digit (GS1 General Specifications, GTIN-14). How many are in
 * it the number does not say.
 *
 * @returns null when it is no carton's number
 */
export function itemInCarton(gtin14: string): ItemNumber | null {
  if (!/^[1-8][0-9]{13}$/.test(gtin14)) return null
  const body = gtin14.slice(1, -1)
  const inside = parseItemNumber(`${body}${gtinCheckDigit(body)}`)
  return inside.ok ? { gtin14: inside.gtin14, shown: inside.shown } : null
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
export function zerosBack(six: string): string {
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

export function wrongLastDigit(expected: number): string {
  return `The last digit should be ${expected}: scan again or retype it.`
}
