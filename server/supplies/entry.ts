import { z } from "zod"
import type { BaseUnit } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Life } from "../domain/shelf-life.ts"
import { fieldAmount, fieldUnit, parseAmount, type UnitName, type UnitSystem } from "../domain/units.ts"
import { count, oneOf, optionalText, orEmpty, orRefuse } from "../web/fields.ts"

/** An amount as text for its field, unit included: "473 mL". Nothing for zero. */
export function amountText(amount: number, baseUnit: BaseUnit, units: UnitSystem): string {
  if (amount === 0) return ""
  const unit = fieldUnit(baseUnit, units)
  return baseUnit === "each" ? String(amount) : `${fieldAmount(amount, unit)} ${unit}`
}

/**
 * An amount that may be left empty or zero.
 *
 * @throws {Refusal} beside `field`
 */
export function amountOrZero(
  text: string,
  supply: { baseUnit: BaseUnit; densityMgPerMl: number | null },
  units: UnitSystem,
  field: string,
): number {
  if (isZero(text)) return 0
  const bare = fieldUnit(supply.baseUnit, units)
  return orRefuse(parseAmount(text, supply.baseUnit, bare, supply.densityMgPerMl), field).amount
}

/** Lengths on a cup: a bare number is millimetres, or inches in US units. */
export function lengthUnit(units: UnitSystem): UnitName {
  return units === "us" ? "in" : "mm"
}

/** A length on a cup as text for its field: "70" (mm) or "2.756" (in). */
export function lengthText(um: number, units: UnitSystem): string {
  return um === 0 ? "0" : fieldAmount(um, lengthUnit(units))
}

/**
 * A length on a cup; empty is zero.
 *
 * @returns µm
 * @throws {Refusal} beside `field`
 */
export function lengthOrZero(text: string, units: UnitSystem, field: string): number {
  return isZero(text) ? 0 : length(text, units, field)
}

/** A length on a cup, above zero. @returns µm @throws {Refusal} beside `field` */
export function length(text: string, units: UnitSystem, field: string): number {
  return orRefuse(parseAmount(text, "um", lengthUnit(units)), field).amount
}

const LIFE_UNITS = ["unknown", "months", "days", "hours", "never"] as const
type LifeChoice = (typeof LIFE_UNITS)[number]

export const LIFE_CHOICES: readonly { value: LifeChoice; label: string }[] = [
  { value: "unknown", label: "not known" },
  { value: "months", label: "months" },
  { value: "days", label: "days" },
  { value: "hours", label: "hours" },
  { value: "never", label: "does not expire" },
]

export const lifeUnit = (label: string) => oneOf(LIFE_UNITS, label)
/** A hundred years at most, also when counted in days. */
export const lifeValue = (label: string) => orEmpty(count(36_500, label))

/**
 * How long something keeps, from a number and its unit.
 *
 * @throws {Refusal} beside `field`: a number without a unit, or a unit without a number
 */
export function readLife(value: number | null, unit: LifeChoice, field: string): Life | null {
  switch (unit) {
    case "unknown":
    case "never":
      if (value !== null) {
        throw new Refusal(`Choose months, days or hours for ${value}, or leave the number empty.`, { field })
      }
      return unit === "never" ? { unit } : null
    case "months":
    case "days":
    case "hours":
      if (value === null) throw new Refusal(`Write how many ${unit}.`, { field })
      return { unit, value }
  }
}

/** What the two fields of a life show. */
export function lifeFields(life: Life | null): { value: number | null; unit: LifeChoice } {
  if (life === null) return { value: null, unit: "unknown" }
  return life.unit === "never" ? { value: null, unit: "never" } : { value: life.value, unit: life.unit }
}

/** An amount or a length as typed; read later, when its supply is known. */
export const typedAmount = (label: string) => optionalText(40, label)

/** A text of the row, whatever it is, for showing it again. */
export function typedText(row: Readonly<Record<string, unknown>>, name: string): string {
  const value = row[name]
  return typeof value === "string" ? value : ""
}

/** The places in the form of the lines that were filled in: `rows` leaves the empty ones out. */
export function filledLines(typed: unknown, field: string): number[] {
  const lines: unknown[] = Array.isArray(typed) ? typed : []
  const Filled = z.looseObject({ [field]: z.string().trim().min(1) })
  return lines.flatMap((line, index) => (Filled.safeParse(line).success ? [index] : []))
}

function isZero(text: string): boolean {
  return /^$|^0+(?:[.,]0*)?$/.test(text.trim())
}
