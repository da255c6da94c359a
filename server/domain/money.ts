import { readNumber, shorten } from "./number-text.ts"

/** Millionths of the currency unit in one unit. */
const MICRO = 1_000_000

/** A thousand million of the currency: past it a number is a slip of the keyboard, and sums stay exact. */
const LARGEST_MICRO = 1e15

/**
 * What a withdrawal takes of a container's cost: round(cost left × amount ÷ amount left), halves up; what takes
 * the last of it takes all the cost that is left, so that cost never leaks.
 *
 * @param costLeftMicro what the container still carries, zero or more
 * @param amount what is taken, above zero, in the container's base unit
 * @param amountLeft what it holds before, in the same unit, at least `amount`
 * @returns micro, from zero to `costLeftMicro`
 * @throws {RangeError} on any other numbers
 */
export function withdrawCost(costLeftMicro: number, amount: number, amountLeft: number): number {
  if (![costLeftMicro, amount, amountLeft].every(Number.isSafeInteger) || costLeftMicro < 0) {
    throw new RangeError(`no cost in ${costLeftMicro} micro for ${amount} of ${amountLeft}`)
  }
  if (amount <= 0 || amount > amountLeft) throw new RangeError(`cannot take ${amount} of ${amountLeft}`)
  if (amount === amountLeft) return costLeftMicro
  const left = BigInt(amountLeft)
  // the product runs past 2⁵³; adding half before the division rounds to the nearest
  return Number((2n * BigInt(costLeftMicro) * BigInt(amount) + left) / (2n * left))
}

export type ParsedMoney = { ok: true; micro: number } | { ok: false; message: string }

/**
 * Reads a sum of money as a person types it: "12.50", "$12.50", "12,50 €", "1,234.50". Nothing to pay ("0") is
 * a price. The sign or code of a currency is passed over: the studio has one currency.
 *
 * @returns micro (millionths of the currency unit), exact, or one sentence saying what to do
 */
export function parseMoney(text: string): ParsedMoney {
  const refuse = (message: string): ParsedMoney => ({ ok: false, message })
  const said = text.trim()
  if (said === "") return refuse("Write what it cost, like 12.50; if it cost nothing, write 0.")
  const bare = said.replace(/^(?:\p{Sc}|[A-Za-z]{3}\b)\s*|\s*(?:\p{Sc}|\b[A-Za-z]{3})$/gu, "").trim()
  if (/^[-−–]/.test(bare) || /^[-−–]/.test(said)) {
    return refuse("A price cannot be below zero: write it without the minus.")
  }
  const read = readNumber(bare)
  if (!read.ok) {
    return /\d/.test(bare) && read.message.includes("two ways")
      ? read
      : refuse(`“${shorten(said)}” is not a price: write it like 12.50.`)
  }
  const [whole = "0", part = ""] = read.decimal.split(".")
  if (part.length > 6) return refuse("A price has at most six decimals: write it shorter.")
  const micro = Number(whole) * MICRO + Number(part.padEnd(6, "0"))
  if (micro > LARGEST_MICRO) {
    return refuse(`“${shorten(said)}” is more than a studio pays: check the number.`)
  }
  return { ok: true, micro }
}

const formats = new Map<string, Intl.NumberFormat>()

/**
 * A sum of money for reading, to the cent (to the currency's own smallest coin), halves away from zero:
 * "$12.50", "-€0.35", "¥120".
 *
 * @param micro millionths of the currency unit, may be negative
 * @param currency its three-letter ISO 4217 code
 * @throws {RangeError} when the code is not three letters
 */
export function formatMoney(micro: number, currency: string): string {
  let format = formats.get(currency)
  if (format === undefined) {
    // "negative": what rounds to nothing is shown without a minus
    format = new Intl.NumberFormat("en-US", { style: "currency", currency, signDisplay: "negative" })
    formats.set(currency, format)
  }
  // As decimal text: a half cent stays a half cent and is not a hair less.
  return format.format(decimalText(micro) as Intl.StringNumericLiteral)
}

function decimalText(micro: number): string {
  const magnitude = Math.abs(micro)
  const part = String(magnitude % MICRO).padStart(6, "0")
  return `${micro < 0 ? "-" : ""}${Math.floor(magnitude / MICRO)}.${part}`
}
