import { AI_TABLE } from "../../server/domain/gs1/ai-table.ts"
import { type Component, type Identifier, identifier } from "../../server/domain/gs1/identifiers.ts"
import { gtinCheckDigit } from "../../server/domain/gs1/item-number.ts"
import type { Chance } from "./chance.ts"

export const GS = "\u001d"

/** Every identifier of the table, ranges written out. */
export const ALL_AIS: readonly string[] = AI_TABLE.flatMap(([ais]) => {
  const [first = "", last = first] = ais.split("-")
  return Array.from({ length: Number(last) - Number(first) + 1 }, (_, nth) =>
    String(Number(first) + nth).padStart(first.length, "0"),
  )
})

const LETTERS = "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ"

/** Data that fits an identifier, made by its format alone. */
export function someValue(id: Identifier, random: Chance): string {
  return id.components
    .map((component) => (component.optional && random.even() < 0.5 ? null : component))
    .map((component, at, all) => {
      // optional parts are left out from the right
      const leftOut = all.slice(0, at).some((one) => one === null)
      return component === null || leftOut ? "" : someText(component, random)
    })
    .join("")
}

function someText({ set, min, max, checks }: Component, random: Chance): string {
  const length = min + random.below(max - min + 1)
  const digits = Array.from({ length }, () => random.below(10)).join("")
  const two = (from: number, to: number) => String(from + random.below(to - from + 1)).padStart(2, "0")
  switch (checks[0]) {
    case "csum":
      return digits.slice(0, -1) + gtinCheckDigit(digits.slice(0, -1))
    case "yymmd0":
      return two(0, 99) + two(1, 12) + two(0, 28)
    case "yymmdd":
      return two(0, 99) + two(1, 12) + two(1, 28)
    case "yyyymmdd":
      return `19${two(0, 99)}${two(1, 12)}${two(1, 28)}`
    case "hhmi":
      return two(0, 23) + two(0, 59)
    case "hh":
      return two(0, 23)
    case "mi":
    case "ss":
      return two(0, 59)
    default:
      return set === "N" ? digits : Array.from({ length }, () => LETTERS[random.below(36)]).join("")
  }
}

/** A right element string of some identifiers, each once, separators where the standard wants them. */
export function elementString(pieces: readonly { ai: string; value: string }[]): string {
  return pieces
    .map(({ ai, value }, nth) => {
      const last = nth === pieces.length - 1
      return ai + value + (identifier(ai)?.fixedLength === null && !last ? GS : "")
    })
    .join("")
}
