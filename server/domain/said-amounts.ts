import { readNumber } from "./number-text.ts"
import { saySheets, sheetMm2 } from "./pieces.ts"
import type { BaseUnit, SheetSize } from "./plan.ts"
import { Refusal } from "./refusal.ts"
import { fieldUnit, formatAmount, type UnitSystem } from "./units.ts"

/** A supply or a container of it, as far as it decides how amounts of it are said. */
export interface Said {
  baseUnit: BaseUnit
  /** one sheet of it; left out or null: not known, or no sheets */
  sheet?: SheetSize | null | undefined
  /** it is a part of a sheet, by itself: said by its area */
  offcut?: unknown
}

/**
 * An amount as a person says it: "250 mL", "12", "2.5 sheets" where the size of a sheet is known.
 *
 * @param amount in the base unit of what is said, may be below zero
 */
export function sayAmount(amount: number, thing: Said, units: UnitSystem): string {
  const sheet = countedInSheets(thing)
  return sheet === null ? formatAmount(amount, thing.baseUnit, units) : saySheets(amount, sheet)
}

/** How amounts of what is in a container are said and typed: whole sheets are sheets, though the book keeps their area. */
export function saidAmounts(thing: Said, units: UnitSystem) {
  const sheet = countedInSheets(thing)
  const isPieces = thing.baseUnit === "each"
  return {
    say: (amount: number) => sayAmount(amount, thing, units),
    /** of a bare number in a field */
    unit: sheet !== null ? "sheets" : isPieces ? "pcs" : fieldUnit(thing.baseUnit, units),
    hint:
      sheet !== null
        ? "Or the area, like 600 cm²"
        : isPieces
          ? null
          : EXAMPLE[thing.baseUnit === "um" || thing.baseUnit === "mm2" ? thing.baseUnit : "uL"],
    /** asked when it is counted */
    asks: sheet !== null ? "How many sheets there are" : isPieces ? "How many pieces there are" : null,
  }
}

const EXAMPLE = {
  uL: "Or with another unit, like 1/2 gal or 340 g",
  um: "Or with another unit, like 2 m or 6 ft",
  mm2: "Or with another unit, like 600 cm² or 90 in²",
}

const SHEETS = /^([\d.,\s]+?)\s*(?:sheets?)?$/i

/**
 * "3", "2.5 sheets" of a container that is counted in sheets.
 *
 * @param field where it was typed
 * @returns mm²; null: it is not said in sheets
 * @throws {Refusal} a number that reads two ways
 */
export function readSheets(thing: Said, typed: string, field = "amount"): number | null {
  const sheet = countedInSheets(thing)
  const number = SHEETS.exec(typed.trim())?.[1]
  if (sheet === null || number === undefined) return null
  const read = readNumber(number)
  if (!read.ok) throw new Refusal(read.message, { field })
  return Math.round(Number(read.decimal) * sheetMm2(sheet))
}

/** So many sheets, to three decimals, that at least an area is in them: for a field. */
export function sheetsAtLeast(amountMm2: number, sheet: SheetSize): string {
  return String(Math.ceil((1000 * amountMm2) / sheetMm2(sheet)) / 1000)
}

/** One sheet, where whole ones are in it. */
function countedInSheets({ baseUnit, sheet, offcut }: Said): SheetSize | null {
  return baseUnit === "mm2" && !offcut ? (sheet ?? null) : null
}
