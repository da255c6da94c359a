import express, { type Request, type Router } from "express"
import { z } from "zod"
import { designs } from "../designs/service.ts"
import { cautionsFor, isHazard } from "../domain/hazards.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { suppliesList } from "../supplies/service.ts"
import { count, id, idempotencyKey, oneOf, optionalText, orEmpty } from "../web/fields.ts"
import { type FormState, formPage, formPost, idParam } from "../web/forms.ts"
import {
  batchProgress,
  coatLayer,
  finishBatch,
  MOST_CUPS,
  openBatches,
  pastBatches,
  scrapCups,
  startBatch,
} from "./service.ts"
import { takingView } from "./taking-view.ts"

const Start = z.object({
  key: idempotencyKey,
  versionId: id,
  cups: count(MOST_CUPS, "How many cups"),
  note: optionalText(200, "Note"),
})
/** What a person may say when the shelf is short: this bottle held more, or use this one although past its day. */
const SAY = {
  heldMore: orEmpty(id),
  heldAmount: orEmpty(count(1e12, "How much more it held")),
  insist: orEmpty(id),
}
const Coat = z.object({ key: idempotencyKey, position: id, ...SAY })
const Finish = z.object({
  key: idempotencyKey,
  different: orEmpty(id),
  outcome: oneOf(["second", "scrapped"], "What became of it").default("second"),
  afterLayer: orEmpty(count(100, "After which layer", 0)),
  ...SAY,
})
const Scrap = z.object({ key: idempotencyKey, cupId: id })
const ONE_DEVICE = "this computer"

/** Batches: started, coated layer by layer or finished at once, scrapped. */
export function batchesRoutes(studio: Studio): Router {
  const router = express.Router()
  formPage(router, {
    path: "/batches",
    view: "batches/batches",
    show: () => listPage(studio),
    form: Start,
    save: ({ key, ...input }, _req, res) => {
      const done = startBatch(studio, { device: ONE_DEVICE, key }, input)
      res.saved(`${done.summary}.`, { to: `/batches/${done.answer.batchId}`, undo: done.actionId })
    },
  })
  const page = {
    view: "batches/batch",
    show: (req: Request, state: FormState | null) => batchPage(studio, idParam(req), state),
  }
  router.get("/batches/:id", (req, res) => {
    res.page(page.view, page.show(req, null))
  })
  formPost(
    router,
    {
      path: "/batches/:id/coat",
      form: Coat,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const input = { batchId, position: form.position, say: sayOf(form) }
        const done = coatLayer(studio, { device: ONE_DEVICE, key: form.key }, input)
        const also = done.answer.low.map((low) => `${low.supply} is now low.`)
        res.saved(`Done. ${done.summary}.`, { to: `/batches/${batchId}`, undo: done.actionId, also })
      },
    },
    page,
  )
  formPost(
    router,
    {
      path: "/batches/:id/finish",
      form: Finish,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const exceptions =
          form.different === null
            ? []
            : [
                {
                  cupId: form.different,
                  outcome: form.outcome,
                  ...(form.afterLayer === null ? {} : { afterLayer: form.afterLayer }),
                },
              ]
        const input = { batchId, exceptions, say: sayOf(form) }
        const done = finishBatch(studio, { device: ONE_DEVICE, key: form.key }, input)
        const also = done.answer.low.map((low) => `${low.supply} is now low.`)
        res.saved(`${done.summary}.`, { to: `/batches/${batchId}`, undo: done.actionId, also })
      },
    },
    page,
  )
  formPost(
    router,
    {
      path: "/batches/:id/scrap",
      form: Scrap,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const done = scrapCups(
          studio,
          { device: ONE_DEVICE, key: form.key },
          { batchId, cupIds: [form.cupId] },
        )
        res.saved(`${done.summary}.`, { to: `/batches/${batchId}`, undo: done.actionId })
      },
    },
    page,
  )
  return router
}

function sayOf(form: { heldMore: number | null; heldAmount: number | null; insist: number | null }) {
  return {
    heldMore: form.heldMore === null ? [] : [{ containerId: form.heldMore, amount: form.heldAmount ?? 0 }],
    insist: form.insist === null ? [] : [form.insist],
  }
}

function listPage(studio: Studio) {
  const open = openBatches(studio)
  const cups = open.reduce((sum, batch) => sum + batch.inWork, 0)
  return {
    title: "Batches",
    lead:
      open.length === 0 ? "No cups are in work." : `${cups} ${cups === 1 ? "cup is" : "cups are"} in work.`,
    open,
    past: pastBatches(studio, 30),
    designs: designs(studio).map((design) => ({ value: design.versionId, label: design.name })),
  }
}

function batchPage(studio: Studio, batchId: number, state: FormState | null) {
  const batch = batchProgress(studio, batchId)
  const { plan, cups, next } = batch
  const inWork = cups.filter((cup) => cup.state === "in work")
  const position = next?.layer.position ?? 0
  const hazardsOf = new Map(
    suppliesList(studio).map((supply) => [supply.id, supply.hazards.filter(isHazard)]),
  )
  const today = todayOf(studio)
  const isShort = state !== null && state.problems.length > 0 && next !== null
  return {
    title: `${plan.designName}, batch ${batch.id}`,
    lead:
      next === null
        ? "Every cup of this batch is finished."
        : `Next: ${next.layer.name} on ${next.cups.length} of ${cups.length} cups.`,
    back: { to: "/batches", label: "Batches" },
    batchId,
    startedOn: batch.startedOn,
    note: batch.note,
    cups: cups.map((cup) => ({ ...cup, inWork: cup.state === "in work" })),
    layers: plan.layers.map((layer) => ({
      position: layer.position,
      name: layer.name,
      doneAt: batch.doneAt.get(layer.position) ?? null,
      isNext: layer.position === position,
    })),
    next: next && {
      position,
      name: next.layer.name,
      cups: next.cups.length,
      ...takingView(
        studio,
        plan,
        [{ layer: next.layer, cupIds: next.cups.map((cup) => cup.id) }],
        today,
        isShort,
      ),
      cautions: cautionsFor(
        next.layer.uses.flatMap((use) =>
          "system" in use
            ? [...(hazardsOf.get(use.system.partA.id) ?? []), ...(hazardsOf.get(use.system.partB.id) ?? [])]
            : (hazardsOf.get(use.supply.id) ?? []),
        ),
        { layerKind: next.layer.kind },
      ),
    },
    choices: inWork.map((cup) => ({ value: cup.id, label: cup.serial })),
    outcomes: [
      { value: "second", label: "A second" },
      { value: "scrapped", label: "Scrapped" },
    ],
    layerChoices: plan.layers.map((layer) => ({
      value: layer.position,
      label: `${layer.position}. ${layer.name}`,
    })),
    good: inWork.length,
  }
}
