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
 * Reads a sum of money as a person types it: "12.50", "$12.50", "12,50 €", "1,234.50", with the sign or code of the
 * studio's own currency or with none. Nothing to pay ("0") is a price.
 *
 * @param currency the studio's, by its three-letter ISO 4217 code
 * @returns micro (millionths of the currency unit), exact, or one sentence saying what to do
 * @throws {RangeError} when the code is not three letters
 */
export function parseMoney(text: string, currency: string): ParsedMoney {
  const refuse = (message: string): ParsedMoney => ({ ok: false, message })
  const said = text.trim()
  const notAPrice = () => refuse(`“${shorten(said)}” is not a price: write it like 12.50.`)
  if (said === "") return refuse("Write what it cost, like 12.50; if it cost nothing, write 0.")
  if (!/\d/.test(said)) return notAPrice()
  const minus = /^[-−–]/.test(said)
  const [, before = "", bare = "", after = ""] = AROUND.exec(said.replace(/^[-−–]\s*/, "")) ?? []
  for (const sign of [before, after].filter((one) => one !== "" && !isSignOf(one, currency))) {
    if (!isMoney(sign)) return notAPrice()
    return refuse(
      `“${shorten(said)}” is in another currency; prices here are in ${currency}. Write it in ${currency}, like 12.50.`,
    )
  }
  if (minus || /^[-−–]/.test(bare)) return refuse("A price cannot be below zero: write it without the minus.")
  const read = readNumber(bare)
  if (!read.ok) return /\d/.test(bare) && read.message.includes("two ways") ? read : notAPrice()
  const [whole = "0", part = ""] = read.decimal.split(".")
  if (part.length > 6) return refuse("A price has at most six decimals: write it shorter.")
  const micro = Number(whole) * MICRO + Number(part.padEnd(6, "0"))
  if (micro > LARGEST_MICRO) {
    return refuse(`“${shorten(said)}” is more than a studio pays: check the number.`)
  }
  return { ok: true, micro }
}

/** The signs around a number, as "US$", "€", "kr" or "USD". */
const AROUND = /^([\p{L}\p{Sc}]*)\s*(.*?)\s*([\p{L}\p{Sc}]*)$/su

/** Whether a sign or code means this currency: "$" does for every dollar, "CA$" for Canada's alone. */
function isSignOf(sign: string, currency: string): boolean {
  const [narrow, usual] = signsOf(currency)
  const long = `${currency.slice(0, 2)}${narrow}`
  return [currency, narrow, usual, long].some((own) => own.toLowerCase() === sign.toLowerCase())
}

/** Whether it is money at all: a currency sign, or the code or sign of some currency. */
function isMoney(sign: string): boolean {
  return /\p{Sc}/u.test(sign) || Intl.supportedValuesOf("currency").some((code) => isSignOf(sign, code))
}

const signs = new Map<string, readonly [narrow: string, usual: string]>()

/** A currency's own sign, short and as told from others of the same name (Unicode CLDR, by Intl). */
function signsOf(currency: string): readonly [narrow: string, usual: string] {
  const known = signs.get(currency)
  if (known) return known
  const sign = (currencyDisplay: "narrowSymbol" | "symbol") =>
    new Intl.NumberFormat("en-US", { style: "currency", currency, currencyDisplay })
      .formatToParts(0)
      .find((part) => part.type === "currency")?.value ?? currency
  const both = [sign("narrowSymbol"), sign("symbol")] as const
  signs.set(currency, both)
  return both
}

/** The smallest coin of a currency in micro: 10 000 where there are cents, 1 000 000 where there are none (ISO 4217). */
export function smallestCoin(currency: string): number {
  const { maximumFractionDigits = 2 } = formatOf(currency).resolvedOptions()
  return MICRO / 10 ** maximumFractionDigits
}

/** A sum of money as plain text for a table that a program reads: "12.50", "-0.35". Exact; at least two decimals. */
export function plainMoney(micro: number): string {
  return decimalText(micro).replace(/0{1,4}$/, "")
}

const formats = new Map<string, Intl.NumberFormat>()

/**
 * A sum of money for reading, to the cent (to the currency's own smallest coin), halves away from zero:
 * "$12.50", "−€0.35", "¥120"; the minus is the sign that amounts have too.
 *
 * @param micro millionths of the currency unit, may be negative
 * @param currency its three-letter ISO 4217 code
 * @throws {RangeError} when the code is not three letters
 */
export function formatMoney(micro: number, currency: string): string {
  // As decimal text: a half cent stays a half cent and is not a hair less.
  return formatOf(currency)
    .format(decimalText(micro) as Intl.StringNumericLiteral)
    .replace("-", "−")
}

function formatOf(currency: string): Intl.NumberFormat {
  let format = formats.get(currency)
  if (format === undefined) {
    // "negative": what rounds to nothing is shown without a minus
    format = new Intl.NumberFormat("en-US", { style: "currency", currency, signDisplay: "negative" })
    formats.set(currency, format)
  }
  return format
}

function decimalText(micro: number): string {
  const magnitude = Math.abs(micro)
  const part = String(magnitude % MICRO).padStart(6, "0")
  return `${micro < 0 ? "-" : ""}${Math.floor(magnitude / MICRO)}.${part}`
}
