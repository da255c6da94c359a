import type { Router } from "express"
import { z } from "zod"
import { fieldAmount, fieldUnit, parseAmount } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { suppliesList } from "../supplies/service.ts"
import { chosen, count, idempotencyKey, orRefuse, rows, text } from "../web/fields.ts"
import { formPage, rowsTyped } from "../web/forms.ts"
import { actorOf } from "./actor.ts"
import { changeScuff, scuffRecipe } from "./service.ts"

const SPARE_LINES = 2
const ScuffForm = z.object({
  key: idempotencyKey,
  minutes: count(1440, "Minutes a cup", 0),
  uses: rows(z.object({ supplyId: chosen("Supply"), amount: text(40, "Amount a cup") }), {
    max: 20,
    blankWhen: "supplyId",
  }),
})

/** How a cup is scuffed and wiped when its last coat is past its latest recoat. */
export function scuffPage(router: Router, studio: Studio): void {
  formPage(router, {
    path: "/batches/scuff",
    view: "batches/scuff",
    show: (_req, state) => {
      const { units } = settingsOf(studio)
      const recipe = scuffRecipe(studio)
      const kept = recipe.uses.map(({ supply, amount }) => {
        const unit = fieldUnit(supply.baseUnit, units)
        const shown = `${fieldAmount(amount, unit)}${supply.baseUnit === "each" ? "" : ` ${unit}`}`
        return { supplyId: supply.id, amount: shown }
      })
      const spare = Array.from({ length: SPARE_LINES }, () => ({ supplyId: "", amount: "" }))
      return {
        title: "Scuff and wipe between coats",
        lead: "Done before the next coat when the last one is past its latest recoat, so that the two hold together.",
        back: { to: "/batches", label: "Batches" },
        minutes: recipe.minutes,
        uses: rowsTyped(state, "uses") ?? [...kept, ...spare],
        supplies: suppliesList(studio)
          .filter((supply) => supply.kind !== "blank")
          .map(({ id, name }) => ({ value: id, label: name })),
      }
    },
    form: ScuffForm,
    save: (form, _req, res) => {
      const { units } = settingsOf(studio)
      const supplies = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
      const uses = form.uses.map(({ supplyId, amount }, index) => {
        const { baseUnit, densityMgPerMl } = supplies.get(supplyId) ?? {
          baseUnit: "each",
          densityMgPerMl: null,
        }
        const read = parseAmount(amount, baseUnit, fieldUnit(baseUnit, units), densityMgPerMl)
        return { supplyId, amount: orRefuse(read, `uses[${index}][amount]`).amount }
      })
      const done = changeScuff(studio, actorOf(res, form), { minutes: form.minutes, uses })
      res.saved(`${done.summary}.`, { to: "/batches", undo: done.actionId })
    },
  })
}
