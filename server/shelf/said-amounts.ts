import { readNumber } from "../domain/number-text.ts"
import { saySheets, sheetMm2 } from "../domain/pieces.ts"
import type { SheetSize } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { fieldUnit, formatAmount, type UnitSystem } from "../domain/units.ts"
import type { ContainerPage } from "./container.ts"

/** A container, as far as it decides how amounts of it are said. */
export type Said = Pick<ContainerPage, "baseUnit"> & Partial<Pick<ContainerPage, "sheet" | "offcut">>

/** How amounts of what is in a container are said and typed: whole sheets are sheets, though the book keeps their area. */
export function saidAmounts(thing: Said, units: UnitSystem) {
  const sheet = countedInSheets(thing)
  const isPieces = thing.baseUnit === "each"
  return {
    say: (amount: number) =>
      sheet === null ? formatAmount(amount, thing.baseUnit, units) : saySheets(amount, sheet),
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
 * @returns mm²; null: it is not said in sheets
 * @throws {Refusal} a number that reads two ways
 */
export function readSheets(thing: Said, typed: string): number | null {
  const sheet = countedInSheets(thing)
  const number = SHEETS.exec(typed.trim())?.[1]
  if (sheet === null || number === undefined) return null
  const read = readNumber(number)
  if (!read.ok) throw new Refusal(read.message, { field: "amount" })
  return Math.round(Number(read.decimal) * sheetMm2(sheet))
}

/** One sheet, where whole ones are in it. */
function countedInSheets({ baseUnit, sheet, offcut }: Said): SheetSize | null {
  return baseUnit === "mm2" && !offcut ? (sheet ?? null) : null
}
