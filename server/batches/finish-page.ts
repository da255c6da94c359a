import type { Request } from "express"
import type { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { type FormState, idParam } from "../web/forms.ts"
import { exceptionsOf, Finish } from "./forms.ts"
import { recoatOf, withScuffing } from "./recoat.ts"
import { inRoom, roomOn } from "./room.ts"
import { type BatchProgress, batchProgress, type Exception, passesToFinish, scuffRecipe } from "./service.ts"
import { shortPage } from "./short-page.ts"

/** Finishing cup by cup: which are not good, and what became of them. */
export function finishPage(studio: Studio, req: Request, state: FormState | null) {
  const batchId = idParam(req)
  const batch = batchProgress(studio, batchId)
  const cups = inWork(batch)
  const form = Finish.safeParse(req.body ?? {})
  const marked = form.success ? form.data.outcomes.filter((one) => one.outcome !== "good").length : 0
  const good = marked > 0 ? cups.length - marked : form.success ? form.data.good : null
  const short = state && shortFinish(studio, batch, form, state)
  return {
    title: `Finish batch ${batch.id}`,
    lead:
      short === null
        ? `${batch.plan.designName}: tap what became of the cups that are not good. All others count as good.`
        : batch.plan.designName,
    back: { to: `/batches/${batchId}`, label: "The batch" },
    batchId,
    good,
    outcomeChoices: [
      { value: "good", label: "Good" },
      { value: "second", label: "Second" },
      { value: "scrapped", label: "Scrapped" },
    ],
    cups: cups.map((cup) => ({
      id: cup.id,
      serial: cup.serial,
      afterLayer: cup.layersDone > 0 ? cup.layersDone : "",
      layers: layerChoices(batch, cup.layersDone),
    })),
    scuff: scuffingOf(studio, batch),
    short,
    several: passesToFinish(batch, []).length > 1,
  }
}

/** The cups that are not good, from what the form says. @throws {Refusal} a scrapped cup lacks its layer */
export function readOutcomes(form: z.output<typeof Finish>): Exception[] {
  const exceptions = exceptionsOf(form.outcomes)
  if (exceptions !== null) return exceptions
  const index = form.outcomes.findIndex((one) => one.outcome === "scrapped" && one.afterLayer === null)
  throw new Refusal("Say after which layer it was scrapped: it used only the layers so far.", {
    field: `outcomes[${index}][afterLayer]`,
  })
}

function inWork(batch: BatchProgress) {
  return batch.cups.filter((cup) => cup.state === "in work")
}

function layerChoices({ plan }: BatchProgress, layersDone: number): { value: number; label: string }[] {
  const layers = plan.layers
    .filter((layer) => layer.position >= layersDone)
    .map((layer) => ({ value: layer.position, label: `${layer.position}. ${layer.name}` }))
  return layersDone === 0 ? [{ value: 0, label: "Before any layer" }, ...layers] : layers
}

function shortFinish(
  studio: Studio,
  batch: BatchProgress,
  form: ReturnType<typeof Finish.safeParse>,
  state: FormState,
) {
  const exceptions = form.success ? exceptionsOf(form.data.outcomes) : null
  if (!form.success || exceptions === null) return null
  // not short but undecided: which cups are not good is asked first
  if (form.data.good !== null && inWork(batch).length - form.data.good !== exceptions.length) return null
  try {
    const at = studio.now().toString()
    const { scuff, answers } = form.data
    const room = roomOn(studio, todayOf(studio))
    const passesOf = (of: BatchProgress) =>
      withScuffing(of, inRoom(passesToFinish(of, exceptions), room), at, scuff, scuffRecipe(studio))
    return shortPage(studio, batch, { step: "finish", passesOf, answers }, state)
  } catch (error) {
    // refused for another reason: not asked about scuffing yet
    if (error instanceof Refusal) return null
    throw error
  }
}

/** How many cups are past their latest recoat, and the minutes each is scuffed; null: none. */
function scuffingOf(studio: Studio, batch: BatchProgress) {
  const at = studio.now().toString()
  const late = inWork(batch).filter((cup) => (recoatOf(batch, [cup], at)?.late.length ?? 0) > 0).length
  return late === 0 ? null : { cups: late, minutes: scuffRecipe(studio).minutes }
}
