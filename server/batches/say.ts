import { z } from "zod"
import type { BaseUnit } from "../../db/tables.ts"
import { Refusal } from "../domain/refusal.ts"
import { readSheets } from "../domain/said-amounts.ts"
import { fieldUnit, parseAmount } from "../domain/units.ts"
import { sheetsOf } from "../ledger/sheets.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { optionalText, rows } from "../web/fields.ts"
import { CHOICE_TEXT, readChoice } from "./substitutes.ts"
import type { InsteadOf, Say } from "./take.ts"

/**
 * What a person answers when the shelf is short, one line a supply: `more:12` container 12 held more than the
 * book says, `past:12` it is used although past its day, `use:7:9` supply 9 in place of 7, `use:resin:3:4`
 * resin 4 in place of 3. As a form sends it.
 */
export const answers = rows(
  z.object({
    say: z
      .string()
      .regex(
        new RegExp(`^(?:(?:more|past):[1-9]\\d{0,14}|use:${CHOICE_TEXT})$`),
        "Choose one of those shown.",
      ),
    amount: optionalText(40, "How much more"),
  }),
  { max: 200, blankWhen: "say" },
)

/**
 * The answers as the services take them.
 *
 * @throws {Refusal} an amount that cannot be read, or a container that is not there
 */
export function sayOf(studio: Studio, given: z.output<typeof answers>): Say {
  const { units } = settingsOf(studio)
  const sheets = sheetsOf(studio)
  const say = {
    insist: [] as number[],
    heldMore: [] as { containerId: number; amount: number }[],
    insteadOf: [] as InsteadOf[],
  }
  for (const [index, answer] of given.entries()) {
    const [what, id] = answer.say.split(":")
    if (what === "use") {
      say.insteadOf.push(readChoice(answer.say.slice("use:".length)))
      continue
    }
    const containerId = Number(id)
    if (what === "past") {
      say.insist.push(containerId)
      continue
    }
    const row = studio.file.firstText<{ id: number; base_unit: BaseUnit; density: number | null }>(
      `SELECT s.id, s.base_unit, s.density_mg_per_ml AS density FROM container c JOIN supply s ON s.id = c.supply_id
       WHERE c.id = ?`,
      [containerId],
    )
    if (!row) throw new Refusal("That container is not on the shelf. Choose another.", { status: 409 })
    const field = `answers[${index}][amount]`
    // the field asks for sheets, whatever container of them it is
    const inSheets = readSheets({ baseUnit: row.base_unit, sheet: sheets.get(row.id) }, answer.amount, field)
    const read =
      inSheets === null
        ? parseAmount(answer.amount, row.base_unit, fieldUnit(row.base_unit, units), row.density)
        : { ok: true as const, amount: inSheets }
    if (!read.ok) throw new Refusal(read.message, { field })
    say.heldMore.push({ containerId, amount: read.amount })
  }
  return say
}
