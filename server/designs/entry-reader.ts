import type { z } from "zod"
import { parseMoney } from "../domain/money.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { parseAmount, type UnitName, type UnitSystem } from "../domain/units.ts"
import { decimal } from "../web/fields.ts"
import type { Problem } from "../web/forms.ts"
import { filmUnit, readTime } from "./words.ts"

/** Reads typed fields of one place in the form; what cannot be read becomes a problem beside its field. */
export class Reader {
  readonly #problems: Problem[]
  readonly #prefix: string
  readonly #about: string

  constructor(problems: Problem[], prefix: string, about: string) {
    this.#problems = problems
    this.#prefix = prefix
    this.#about = about
  }

  take<Piece extends z.ZodType>(piece: Piece, value: string, field: string): z.output<Piece> | undefined {
    const read = piece.safeParse(value)
    if (read.success) return read.data
    this.refuse(read.error.issues[0]?.message ?? "", field)
    return undefined
  }

  amount(
    value: string,
    baseUnit: BaseUnit,
    bare: UnitName,
    field: string,
    densityMgPerMl: number | null = null,
  ): number {
    const read = parseAmount(value, baseUnit, bare, densityMgPerMl)
    if (read.ok) return read.amount
    this.refuse(read.message, field)
    return 1
  }

  /** A length that may be empty or zero. */
  lengthOrZero(value: string, bare: UnitName, field: string): number {
    return isNothing(value) ? 0 : this.amount(value, "um", bare, field)
  }

  /** A film's thickness, µm. */
  film(value: string, units: UnitSystem): number {
    const read = parseAmount(value, "um", filmUnit(units))
    if (read.ok) return read.amount
    const example = units === "us" ? "12 mil" : "300 µm or 0.3 mm"
    this.refuse(`A film is given by its thickness: write it like ${example}.`, "amount")
    return 1
  }

  money(value: string, currency: string, field: string): number {
    const read = parseMoney(value, currency)
    if (read.ok) return read.micro
    this.refuse(read.message, field)
    return 0
  }

  /** @returns minutes */
  time(value: string, label: string, field: string): number {
    const minutes = readTime(value)
    if (minutes !== null) return minutes
    this.refuse(`${label}: write a time like 12 h, 30 min or 3 days.`, field)
    return 0
  }

  share(value: string, label: string): number {
    return this.percent(value, label, "share", { min: 0.0001, max: 100 })
  }

  /** Percent as typed, in ppm. */
  percent(value: string, label: string, field: string, limits: { min: number; max: number }): number {
    const read = this.take(decimal({ ...limits, label, unit: "%" }), value.replace(/\s*%\s*$/, ""), field)
    return Math.round((read ?? 100) * 10_000)
  }

  refuse(sentence: string, field: string): void {
    this.#problems.push({
      field: this.#prefix === "" ? field : `${this.#prefix}[${field}]`,
      sentence: this.#about + sentence,
    })
  }
}

/** Empty, or a zero with or without its unit. */
export function isNothing(value: string): boolean {
  return /^\s*(?:0+(?:[.,]0*)?\D*)?$/.test(value)
}
