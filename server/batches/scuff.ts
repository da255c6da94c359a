import type { PlanSupply } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { changed } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import { planSupplies, suppliesList } from "../supplies/service.ts"

/** Scuffing and wiping a cup whose last coat is past its latest recoat, so that the next one holds. */
export interface ScuffRecipe {
  /** minutes a cup */
  minutes: number
  /** amount a cup, in the supply's base unit */
  uses: readonly { supply: PlanSupply; amount: number }[]
}

/** A cup is scuffed in about this time. Common practice, no source. */
const USUAL_MINUTES = 5
const MOST_USES = 8

/** The studio's own recipe; until one is kept, the usual time and no supplies. */
export function scuffRecipe(studio: Studio): ScuffRecipe {
  const { file } = studio
  const row = file.firstText<{ minutes: number }>("SELECT minutes FROM scuff WHERE id = 1")
  if (!row) return { minutes: USUAL_MINUTES, uses: [] }
  const supplies = planSupplies(studio)
  return {
    minutes: row.minutes,
    uses: file
      .allText<{ supply_id: number; amount: number }>(
        "SELECT supply_id, amount FROM scuff_use WHERE scuff_id = 1 ORDER BY position",
      )
      .map(({ supply_id, amount }) => ({ supply: supplies.get(supply_id)!, amount })),
  }
}

/**
 * Keeps how a cup is scuffed and wiped between coats.
 *
 * @throws {Refusal} a supply that is not there or is named twice, or is the cup itself
 */
export function changeScuff(
  studio: Studio,
  by: Actor,
  input: { minutes: number; uses: readonly { supplyId: number; amount: number }[] },
): Done<{ minutes: number }> {
  return act(studio, "set-up", by, input, (now) => {
    const supplies = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
    if (input.uses.length > MOST_USES) throw new Refusal(`Scuffing takes at most ${MOST_USES} supplies.`)
    for (const [index, { supplyId }] of input.uses.entries()) {
      const field = `uses[${index}][supplyId]`
      const supply = supplies.get(supplyId)
      if (!supply || supply.kind === "blank")
        throw new Refusal("Choose a supply that cups are wiped with.", { field })
      if (input.uses.findIndex((use) => use.supplyId === supplyId) !== index) {
        throw new Refusal(`${supply.name} is there twice: say it once, with the whole amount.`, { field })
      }
    }
    changed(now, "scuff", 1, () => {
      now.file.runText("DELETE FROM scuff WHERE id = 1")
      now.file.insert("scuff", { id: 1, minutes: input.minutes })
      for (const [index, { supplyId, amount }] of input.uses.entries())
        now.file.insert("scuff_use", { scuff_id: 1, position: index + 1, supply_id: supplyId, amount })
    })
    return {
      summary: "Changed how cups are scuffed between coats",
      answer: { minutes: input.minutes },
    }
  })
}
