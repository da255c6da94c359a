export type ReadNumber = { ok: true; decimal: string } | { ok: false; message: string }

const PLAIN = /^\d*\.?\d+$|^\d+\.$/
const COMMA_DECIMAL = /^\d+,\d+$/
const SPACED_THOUSANDS = /^\d{1,3}(?: \d{3})+(?:[.,]\d+)?$/
const COMMA_THOUSANDS = /^\d{1,3}(?:,\d{3})+\.\d+$|^\d{1,3}(?:,\d{3}){2,}$/
const DOT_THOUSANDS = /^\d{1,3}(?:\.\d{3})+,\d+$|^\d{1,3}(?:\.\d{3}){2,}$/

/**
 * Reads a number as a person writes it, and gives it back as a plain decimal ("1250.5"), so that nothing is
 * lost to binary fractions before the caller rounds. Takes a point or a comma for the decimals, and spaces,
 * commas or points between thousands where only one reading is possible.
 *
 * @param text digits without sign or unit
 * @returns a plain decimal, or one sentence saying how to write it. "1,250" is refused: it is 1250 to one
 *   person and 1.25 to another, and a guess would be wrong a thousandfold.
 */
export function readNumber(text: string): ReadNumber {
  const said = text.trim().replace(/[\s\u00a0\u202f]+/g, " ")
  if (PLAIN.test(said)) return { ok: true, decimal: tidy(said) }
  if (SPACED_THOUSANDS.test(said))
    return { ok: true, decimal: tidy(said.replaceAll(" ", "").replace(",", ".")) }
  if (COMMA_THOUSANDS.test(said)) return { ok: true, decimal: tidy(said.replaceAll(",", "")) }
  if (DOT_THOUSANDS.test(said)) {
    return { ok: true, decimal: tidy(said.replaceAll(".", "").replace(",", ".")) }
  }
  if (COMMA_DECIMAL.test(said)) {
    const [whole = "", part = ""] = said.split(",")
    if (part.length === 3 && /^[1-9]\d{0,2}$/.test(whole)) {
      const decimal = tidy(`${whole}.${part}`)
      return { ok: false, message: `“${said}” can be read two ways: write ${whole}${part} or ${decimal}.` }
    }
    return { ok: true, decimal: tidy(`${whole}.${part}`) }
  }
  return { ok: false, message: `“${shorten(said)}” is not a number: write it in digits, like 25 or 0.5.` }
}

/** What a person typed, short enough to be repeated in a sentence. */
export function shorten(text: string): string {
  const clean = text.replace(/\p{C}/gu, "").trim()
  return clean.length > 30 ? `${clean.slice(0, 29)}…` : clean
}

function tidy(decimal: string): string {
  const [whole = "", part = ""] = decimal.split(".")
  const left = whole.replace(/^0+(?=\d)/, "") || "0"
  const right = part.replace(/0+$/, "")
  return right === "" ? left : `${left}.${right}`
}
