import express, { type Request, type Router } from "express"
import { z } from "zod"
import { designs } from "../designs/service.ts"
import { cautionsFor, isHazard } from "../domain/hazards.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { suppliesList } from "../supplies/service.ts"
import { count, id, idempotencyKey, oneOf, optionalText, orEmpty, rows } from "../web/fields.ts"
import { type FormState, formPage, formPost, idParam } from "../web/forms.ts"
import {
  type BatchProgress,
  batchProgress,
  coatLayer,
  cupCosts,
  type Exception,
  finishBatch,
  MOST_CUPS,
  openBatches,
  passesToFinish,
  pastBatches,
  scrapCups,
  startBatch,
} from "./service.ts"
import { shortView, takingView } from "./taking-view.ts"

const Start = z.object({
  key: idempotencyKey,
  versionId: id,
  cups: count(MOST_CUPS, "How many cups"),
  note: optionalText(200, "Note"),
})
/** What a person may say when the shelf is short: this bottle held more; use this one although past its day. */
const SAY = {
  heldMore: rows(z.object({ containerId: id, amount: count(1e12, "How much more it held") }), {
    max: 200,
    blankWhen: "containerId",
  }),
  insist: z.preprocess(asList, z.array(id)),
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
    show: (req: Request, state: FormState | null) => batchPage(studio, req, state),
  }
  router.get("/batches/:id", (req, res) => {
    res.page(page.view, page.show(req, null))
  })
  // reloaded by hand after a refusal, these addresses lead back to the batch
  router.get(["/batches/:id/coat", "/batches/:id/finish", "/batches/:id/scrap"], (req, res) => {
    res.redirect(302, `/batches/${idParam(req)}`)
  })
  formPost(
    router,
    {
      path: "/batches/:id/coat",
      form: Coat,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const input = {
          batchId,
          position: form.position,
          say: { heldMore: form.heldMore, insist: form.insist },
        }
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
        const exceptions = exceptionsOf(form)
        const input = { batchId, exceptions, say: { heldMore: form.heldMore, insist: form.insist } }
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

function exceptionsOf(
  form: Pick<z.output<typeof Finish>, "different" | "outcome" | "afterLayer">,
): Exception[] {
  if (form.different === null) return []
  const { different: cupId, outcome, afterLayer } = form
  return [{ cupId, outcome, ...(afterLayer === null ? {} : { afterLayer }) }]
}

function asList(raw: unknown): unknown[] {
  return raw === undefined ? [] : Array.isArray(raw) ? raw : [raw]
}

/** What is short for the form that was refused, and what to say about it; null when it was refused for another reason. */
function shortOfForm(studio: Studio, batch: BatchProgress, req: Request) {
  const finish = req.path.endsWith("/finish")
  const form = (finish ? Finish : Coat).safeParse(req.body)
  if (!form.success) return null
  const { heldMore, insist } = form.data
  const passes =
    "position" in form.data
      ? batch.next === null
        ? []
        : [{ layer: batch.next.layer, cupIds: batch.next.cups.map((cup) => cup.id) }]
      : passesToFinish(batch, exceptionsOf(form.data))
  const lacks = shortView(studio, batch.plan, passes, todayOf(studio), { heldMore, insist })
  if (lacks === null) return null
  const hidden = Object.entries(form.data).filter(
    (entry): entry is [string, string | number] =>
      ["position", "different", "outcome", "afterLayer"].includes(entry[0]) && entry[1] !== null,
  )
  return {
    action: `/batches/${batch.id}/${finish ? "finish" : "coat"}`,
    hidden: [
      ...hidden.map(([name, value]) => ({ name, value })),
      ...insist.map((value) => ({ name: "insist", value })),
      ...heldMore.flatMap(({ containerId, amount }, index) => [
        { name: `heldMore[${lacks.length + index}][containerId]`, value: containerId },
        { name: `heldMore[${lacks.length + index}][amount]`, value: amount },
      ]),
    ],
    lacks: lacks.map((lack, index) => ({ ...lack, row: `heldMore[${index}]` })),
    canGoOn: lacks.some((lack) => lack.heldMore.length + lack.pastItsDay.length > 0),
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

function batchPage(studio: Studio, req: Request, state: FormState | null) {
  const batchId = idParam(req)
  const batch = batchProgress(studio, batchId)
  const { plan, cups, next } = batch
  const inWork = cups.filter((cup) => cup.state === "in work")
  const position = next?.layer.position ?? 0
  const hazardsOf = new Map(
    suppliesList(studio).map((supply) => [supply.id, supply.hazards.filter(isHazard)]),
  )
  const costs = cupCosts(studio.file, batchId)
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
    cups: cups.map((cup) => ({ ...cup, costMicro: costs.get(cup.id) ?? 0, inWork: cup.state === "in work" })),
    layers: plan.layers.map((layer) => ({
      position: layer.position,
      name: layer.name,
      doneAt: batch.doneAt.get(layer.position) ?? null,
      isNext: layer.position === position,
    })),
    short: state && shortOfForm(studio, batch, req),
    next: next && {
      position,
      name: next.layer.name,
      cups: next.cups.length,
      draws: takingView(
        studio,
        plan,
        { layer: next.layer, cupIds: next.cups.map((cup) => cup.id) },
        todayOf(studio),
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
