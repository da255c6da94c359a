import type { IsoDate } from "../domain/dates.ts"
import type { Plan } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { sayAmount } from "../domain/said-amounts.ts"
import { sheetsOf } from "../ledger/sheets.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type Missing, type Pass, type Say, take } from "./take.ts"

/** Not enough on the shelf. The page offers another container, "the bottle held more", or to stop. */
export class Short extends Refusal {
  readonly missing: readonly Missing[]
  /** how many of the cups cannot be done with what is there */
  readonly cupsShort: number

  constructor(sentence: string, missing: readonly Missing[], cupsShort: number) {
    super(sentence, { status: 409 })
    this.missing = missing
    this.cupsShort = cupsShort
  }
}

/**
 * The refusal for layers that lack stock, in the person's words: "The book says 12 mL of hardener are missing
 * for 2 of 6 cups."
 */
export function shortOf(
  studio: Studio,
  plan: Plan,
  passes: readonly Pass[],
  on: IsoDate,
  say: Say,
  missing: readonly Missing[],
): Short {
  const { units } = settingsOf(studio)
  const sheets = sheetsOf(studio)
  const cups = new Set(passes.flatMap((pass) => pass.cupIds)).size
  const covered = coveredCups(studio, plan, passes, on, say).length
  const cupsShort = cups - covered
  const amounts = missing.map((lack) => {
    const { baseUnit, supplyId } = lack
    const amount = sayAmount(lack.amount, { baseUnit, sheet: sheets.get(supplyId) }, units)
    return lack.baseUnit === "each" ? `${amount} × ${lack.supply}` : `${amount} of ${lack.supply}`
  })
  return new Short(
    `The book says ${list(amounts)} ${amounts.length === 1 && missing[0]?.amount === 1 ? "is" : "are"} missing for ${cupsShort} of ${cups} ${cups === 1 ? "cup" : "cups"}` +
      `${covered === 0 ? "" : `; it covers ${covered}`}. ` +
      "Use another container, say that one held more, or stop here.",
    missing,
    cupsShort,
  )
}

/** Which of the cups, the first ones first, could be taken through all the layers. */
export function coveredCups(
  studio: Studio,
  plan: Plan,
  passes: readonly Pass[],
  on: IsoDate,
  say: Say,
): number[] {
  const all = [...new Set(passes.flatMap((pass) => pass.cupIds))]
  let enough = 0
  let tooMany = all.length
  while (tooMany - enough > 1) {
    const middle = Math.floor((enough + tooMany) / 2)
    const some = new Set(all.slice(0, middle))
    const fewer = passes
      .map((pass) => ({ ...pass, cupIds: pass.cupIds.filter((id) => some.has(id)) }))
      .filter((pass) => pass.cupIds.length > 0)
    if (take(studio, plan, fewer, on, say).kind === "enough") enough = middle
    else tooMany = middle
  }
  return all.slice(0, enough)
}

function list(parts: readonly string[]): string {
  return parts.length < 2 ? parts.join("") : `${parts.slice(0, -1).join(", ")} and ${parts.at(-1)}`
}
