import { dateOfSix, isDateOfEight } from "./dates.ts"
import type { CharacterSet, Check, Component, Identifier } from "./identifiers.ts"
import { gtinCheckDigit } from "./item-number.ts"

/** Data that fits its identifier; `doubt` is a sentence when it is not quite as the standard has it. */
export type FittedValue = { ok: true; doubt: string | null } | { ok: false; message: string }

/**
 * Whether data is what its identifier asks for.
 *
 * Wrong length, letters among digits, or a wrong check digit: the code was misread or misprinted, and nothing in
 * it can be relied upon. A date that is none, or a character that the standard does not allow, spoils only
 * itself: the rest is good, and that piece is left to the person.
 */
export function fitValue(id: Identifier, value: string): FittedValue {
  const parts = partsOf(id.components, value)
  if (parts === null) {
    return { ok: false, message: `The ${nameOf(id)} in this code is too long or too short: scan it again.` }
  }
  let doubt: string | null = null
  for (const { component, text } of parts) {
    if (component.set === "N" && !/^[0-9]*$/.test(text)) {
      return { ok: false, message: `The ${nameOf(id)} in this code must be all digits: scan it again.` }
    }
    if (/\p{C}/u.test(text)) {
      return {
        ok: false,
        message: `The ${nameOf(id)} in this code holds an invisible character: scan it again.`,
      }
    }
    if (!ALLOWED[component.set].test(text)) {
      doubt ??= `The ${nameOf(id)} holds a character that its code should not: compare it with the label.`
    }
    for (const check of component.checks) {
      if (passes(check, text)) continue
      if (check === "csum") {
        return {
          ok: false,
          message: `The check digit of the ${nameOf(id)} in this code is wrong: scan it again.`,
        }
      }
      doubt ??= `The ${nameOf(id)} in this code is no date: read it from the label.`
    }
  }
  return { ok: true, doubt }
}

/** What an identifier's data is called at the bench; the standard's own title for the rest. */
export function nameOf({ ai, title }: Identifier): string {
  return NAMES[ai] ?? (title === "" ? `part (${ai})` : `part “${title.toLowerCase()}”`)
}

const NAMES: Readonly<Record<string, string>> = {
  "00": "number of the parcel",
  "01": "item number",
  "02": "item number of what is inside",
  "10": "lot number",
  "11": "made-on date",
  "13": "packed-on date",
  "15": "best-before date",
  "16": "sell-by date",
  "17": "expiry date",
  "21": "serial number",
  "30": "count",
  "37": "count",
  "240": "part number",
  "241": "part number",
}

/** Character sets of the GS1 General Specifications, figures 7.11-1 to -3; the table says which. */
const ALLOWED: Readonly<Record<CharacterSet, RegExp>> = {
  N: /^[0-9]*$/,
  X: /^[!"%&'()*+,\-./0-9:;<=>?A-Z_a-z]*$/,
  Y: /^[#\-/0-9A-Z]*$/,
  Z: /^[-0-9A-Z_a-z]*=*$/,
}

interface Part {
  component: Component
  text: string
}

/** The value cut up by its components, the last one taking what is left; null when the lengths do not fit. */
function partsOf(components: readonly Component[], value: string): Part[] | null {
  const parts: Part[] = []
  let rest = value
  for (const component of components) {
    if (rest === "" && component.optional) break
    const text = rest.slice(0, component.max)
    if (text.length < component.min) return null
    parts.push({ component, text })
    rest = rest.slice(text.length)
  }
  return rest === "" ? parts : null
}

/** The century does not change whether six digits are a date: 00 counts as the leap year 2000. */
const ANY_DAY = "2000-01-01"

function passes(check: Check, text: string): boolean {
  switch (check) {
    case "csum":
      return gtinCheckDigit(text.slice(0, -1)) === Number(text.at(-1))
    case "yymmd0":
      return dateOfSix(text, ANY_DAY) !== null
    case "yymmdd":
      return !text.endsWith("00") && dateOfSix(text, ANY_DAY) !== null
    case "yyyymmdd":
      return isDateOfEight(text)
    case "hhmi":
      return Number(text.slice(0, 2)) <= 23 && Number(text.slice(2)) <= 59
    case "hh":
      return Number(text) <= 23
    case "mi":
    case "ss":
      return Number(text) <= 59
  }
}
