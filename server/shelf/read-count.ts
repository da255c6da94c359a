import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import { readSheets, type Said } from "../domain/said-amounts.ts"
import { shareSaid } from "../domain/shares-said.ts"
import { fieldUnit, parseAmount } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { oneOf, optionalText, orEmpty, orRefuse } from "../web/fields.ts"
import type { CountBasis } from "./amounts.ts"
import type { ContainerPage } from "./container.ts"
import { LEVELS } from "./levels.ts"
import { type Part, partOf } from "./part.ts"
import { amountOnScale } from "./weigh.ts"

/** What a person says is in a container: an amount, or how full it looks. */
export const countFields = {
  level: orEmpty(
    oneOf(
      LEVELS.map((one) => one.value),
      "How full",
    ),
  ),
  amount: optionalText(40, "Amount"),
  /** on the scale, bottle and all; and what the bottle alone weighs, where that is not known yet */
  gross: optionalText(30, "What the scale reads"),
  empty: optionalText(30, "What the bottle alone weighs"),
}
const CountFields = z.object(countFields)

/** What an amount is read for: the units of its supply. */
type Read = Said & Pick<ContainerPage, "densityMgPerMl">

/**
 * What a person says of a container: an amount with or without its unit, or a share of what is left in it, like
 * "half" or "1/4".
 *
 * @returns null when nothing was typed, which means all of it
 * @throws {Refusal} it cannot be read
 */
export function readAmount(studio: Studio, container: Read, typed: string): Part {
  if (typed === "") return null
  const share = shareSaid(typed)
  if (share !== null) return { share }
  const sheets = readSheets(container, typed)
  if (sheets !== null) return sheets
  const { units } = settingsOf(studio)
  const unit = fieldUnit(container.baseUnit, units)
  const read = parseAmount(typed, container.baseUnit, unit, container.densityMgPerMl)
  if (!read.ok) throw new Refusal(read.message, { field: "amount" })
  return read.amount
}

const NOTHING = /^0+(?:[.,]0+)?\s*\D*$/

/** What a count says. */
export interface ReadCount {
  amount: number
  /** how it was come by */
  basis: CountBasis
  /** what the bottle alone weighs, where that was said with it */
  empty?: { grossMg: number; emptyMg: number }
}

/** The amount a count says, and how it was come by. @throws {Refusal} nothing was said, or it cannot be read */
export function readCount(
  studio: Studio,
  container: ContainerPage,
  input: z.output<typeof CountFields>,
): ReadCount {
  if (input.gross !== "") return readScale(studio, container, input)
  const level = LEVELS.find((one) => one.value === input.level)
  if (level) {
    const basis = level.value === "empty" ? "counted" : "estimated"
    return { amount: Math.round(container.fullAmount * level.share), basis }
  }
  if (NOTHING.test(input.amount)) return { amount: 0, basis: "counted" }
  // counted, a share is of the full container, as the level is
  const said = readAmount(studio, container, input.amount)
  if (said === null)
    throw new Refusal("Write how much is in it, or tap how full it looks.", { field: "amount" })
  if (typeof said === "number") return { amount: said, basis: BASIS[container.baseUnit] }
  return { amount: partOf(container.fullAmount, said, container.baseUnit), basis: "estimated" }
}

const BASIS = {
  uL: "measured",
  mg: "weighed",
  um: "measured",
  mm2: "measured",
  each: "counted",
} as const satisfies Record<ContainerPage["baseUnit"], CountBasis>

/** Gross less the bottle alone, which the container may know. */
function readScale(
  studio: Studio,
  container: ContainerPage,
  input: { gross: string; empty: string },
): ReadCount {
  const { units } = settingsOf(studio)
  const read = (typed: string, field: string) =>
    orRefuse(parseAmount(typed, "mg", fieldUnit("mg", units)), field).amount
  const grossMg = read(input.gross, "gross")
  const said = input.empty === "" ? null : NOTHING.test(input.empty) ? 0 : read(input.empty, "empty")
  const emptyMg = said ?? container.emptyMg
  if (emptyMg === null) {
    throw new Refusal(
      `What the ${container.vessel.one} alone weighs is not known. Weigh an empty one like it and put that in; 0 if the scale was set to zero with one on it.`,
      { field: "empty" },
    )
  }
  const scaled = {
    code: container.code,
    supply: container.supply,
    base_unit: container.baseUnit,
    density_mg_per_ml: container.densityMgPerMl,
    amount_left: container.amountLeft,
    full_amount: container.fullAmount,
  }
  const amount = amountOnScale(scaled, { grossMg, emptyMg }, units)
  // a scale set to zero tells nothing of the bottle
  return { amount, basis: "weighed", ...(said ? { empty: { grossMg, emptyMg: said } } : {}) }
}
