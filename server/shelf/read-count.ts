import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import { fieldUnit, parseAmount } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { oneOf, optionalText, orEmpty } from "../web/fields.ts"
import type { CountBasis } from "./amounts.ts"
import type { ContainerPage } from "./container.ts"
import { LEVELS } from "./levels.ts"

/** What a person says is in a container: an amount, or how full it looks. */
export const countFields = {
  level: orEmpty(
    oneOf(
      LEVELS.map((one) => one.value),
      "How full",
    ),
  ),
  amount: optionalText(40, "Amount"),
}
const CountFields = z.object(countFields)

/** Base units; null when nothing was typed, which means all of it. */
export function readAmount(studio: Studio, container: ContainerPage, typed: string): number | null {
  if (typed === "") return null
  const { units } = settingsOf(studio)
  const unit = fieldUnit(container.baseUnit, units)
  const read = parseAmount(typed, container.baseUnit, unit, container.densityMgPerMl)
  if (!read.ok) throw new Refusal(read.message, { field: "amount" })
  return read.amount
}

const NOTHING = /^0+(?:[.,]0+)?\s*\D*$/

/** The amount a count says, and how it was come by. @throws {Refusal} nothing was said, or it cannot be read */
export function readCount(
  studio: Studio,
  container: ContainerPage,
  input: z.output<typeof CountFields>,
): { amount: number; basis: CountBasis } {
  const level = LEVELS.find((one) => one.value === input.level)
  if (level) {
    const basis = level.value === "empty" ? "counted" : "estimated"
    return { amount: Math.round(container.fullAmount * level.share), basis }
  }
  if (NOTHING.test(input.amount)) return { amount: 0, basis: "counted" }
  const amount = readAmount(studio, container, input.amount)
  if (amount === null)
    throw new Refusal("Write how much is in it, or tap how full it looks.", { field: "amount" })
  return { amount, basis: BASIS[container.baseUnit] }
}

const BASIS = {
  uL: "measured",
  mg: "weighed",
  um: "measured",
  mm2: "measured",
  each: "counted",
} as const satisfies Record<ContainerPage["baseUnit"], CountBasis>
