import { type IsoDate, parseDate } from "../domain/dates.ts"
import { parseMoney } from "../domain/money.ts"
import { readNumber, shorten } from "../domain/number-text.ts"
import type { BaseUnit } from "../domain/plan.ts"
import type { Life } from "../domain/shelf-life.ts"
import { fieldUnit, parseAmount, type UnitSystem } from "../domain/units.ts"
import { headKey } from "./csv-file.ts"

/** How decimals are written in a file; null: as each number can be read alone. */
export type Decimals = "point" | "comma" | null

/** A column of a file that is brought in. */
export interface Column {
  /** its head in the template; capital letters and what stands between words do not matter */
  head: string
  /** other heads under which it is found */
  also?: readonly string[]
  needed: boolean
  /** what stands in it, in a few words */
  about: string
  example: string
}

/** What money and amounts are written in. */
export interface Manner {
  currency: string
  units: UnitSystem
  decimals: Decimals
}

/**
 * One row of a file, read cell by cell. What cannot be read is kept as a problem and read as nothing, so that all that
 * is wrong with a row is told at once.
 */
export class Cells {
  readonly number: number
  readonly problems: string[] = []
  readonly #cells: readonly string[]
  readonly #places: ReadonlyMap<string, number>
  readonly #manner: Manner

  constructor(
    row: { number: number; cells: readonly string[] },
    places: ReadonlyMap<string, number>,
    manner: Manner,
  ) {
    this.number = row.number
    this.#cells = row.cells
    this.#places = places
    this.#manner = manner
  }

  /** Something is wrong with the row, or with one of its cells. */
  wrong(head: string | null, sentence: string): null {
    this.problems.push(head === null ? sentence : `${head}: ${sentence}`)
    return null
  }

  said(head: string): string {
    const place = this.#places.get(head)
    return place === undefined ? "" : (this.#cells[place] ?? "").trim()
  }

  /** One line of text; null where nothing stands. */
  text(head: string, most: number): string | null {
    const said = this.said(head)
    if (said === "") return null
    if (said.length > most) return this.wrong(head, `it is too long: at most ${most} characters.`)
    // biome-ignore lint/suspicious/noControlCharactersInRegex: those are what is refused
    if (/[\u0000-\u001f\u007f\ufffd]/.test(said)) {
      return this.wrong(head, "it has line breaks or characters that cannot be kept.")
    }
    return said
  }

  /** The same, and it must be there. */
  needed(head: string, most: number): string | null {
    if (this.said(head) === "") return this.wrong(head, "it is missing.")
    return this.text(head, most)
  }

  whole(head: string, least: number, most: number): number | null {
    const said = this.said(head)
    if (said === "") return null
    const read = readNumber(this.#plain(said))
    const value = read.ok ? Number(read.decimal) : Number.NaN
    if (Number.isSafeInteger(value) && value >= least && value <= most) return value
    return this.wrong(
      head,
      `“${shorten(said)}” must be a whole number from ${least} to ${most.toLocaleString("en-US")}.`,
    )
  }

  /** A number above zero, times `scale`, to the nearest whole one. */
  scaled(head: string, scale: number): number | null {
    const said = this.said(head)
    if (said === "") return null
    const read = readNumber(this.#plain(said))
    if (read.ok && Number(read.decimal) > 0) return Math.round(Number(read.decimal) * scale)
    return this.wrong(head, read.ok ? "it must be above zero." : read.message)
  }

  money(head: string): number | null {
    const said = this.said(head)
    if (said === "") return null
    const read = parseMoney(this.#plain(said), this.#manner.currency)
    return read.ok ? read.micro : this.wrong(head, read.message)
  }

  /** In base units; 0 is taken where `zero` says so. */
  amount(
    head: string,
    supply: { baseUnit: BaseUnit; densityMgPerMl: number | null },
    zero: "zero too" | "above zero" = "above zero",
  ): number | null {
    const said = this.said(head)
    if (said === "") return null
    if (zero === "zero too" && /^0+(?:[.,]0*)?$/.test(said)) return 0
    const { units } = this.#manner
    const read = parseAmount(
      this.#plain(said),
      supply.baseUnit,
      fieldUnit(supply.baseUnit, units),
      supply.densityMgPerMl,
    )
    return read.ok ? read.amount : this.wrong(head, read.message)
  }

  day(head: string): IsoDate | null {
    const said = this.said(head)
    if (said === "") return null
    const read = parseDate(said.slice(0, 100))
    return read.ok ? read.date : this.wrong(head, read.message)
  }

  /** One of some words, capitals or not. */
  choice<Choice extends string>(head: string, words: Readonly<Record<string, Choice>>): Choice | null {
    const said = this.said(head)
    if (said === "") return null
    const found = words[headKey(said)]
    if (found !== undefined) return found
    const known = [...new Map(Object.entries(words).map(([word, choice]) => [choice, word])).values()]
    return this.wrong(head, `“${shorten(said)}” is none of: ${known.join(", ")}.`)
  }

  /** "24 months", "2 years", "90 days", "48 hours", "never"; undefined where nothing stands or it cannot be read. */
  life(head: string): Life | undefined {
    const said = this.said(head).toLowerCase()
    if (said === "") return undefined
    if (/^(?:never|does not expire|keeps for ever)$/.test(said)) return { unit: "never" }
    const [, number = "", unit = ""] = /^(\d{1,5})\s*(hour|day|month|year)s?$/.exec(said) ?? []
    const value = Number(number) * (unit === "year" ? 12 : 1)
    if (unit !== "" && value >= 1 && value <= 36_500) {
      return { unit: unit === "year" ? "months" : (`${unit}s` as "hours" | "days" | "months"), value }
    }
    this.wrong(head, `“${shorten(said)}” is not understood: write it like 24 months, 90 days, or never.`)
    return undefined
  }

  /** Numbers as the file writes them, as they are read here: no marks between thousands, a point before decimals. */
  #plain(said: string): string {
    const { decimals } = this.#manner
    if (decimals === null) return said
    const [thousands, mark] = decimals === "comma" ? [".", ","] : [",", "."]
    return said
      .replace(/[\d.,\u00a0\u202f ]*\d[\d.,]*/, (number) =>
        number
          .replaceAll(thousands, "")
          .replace(/[\u00a0\u202f ]/g, "")
          .replace(mark, "."),
      )
      .trim()
  }
}

/** A name as two of them are compared: capital letters of plain Latin make no other name, as in the file. */
export function nameKey(name: string): string {
  return name.replace(/[A-Z]/g, (letter) => letter.toLowerCase())
}
