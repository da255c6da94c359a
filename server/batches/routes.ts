import express, { type Request, type Router } from "express"
import { designs } from "../designs/service.ts"
import type { Studio } from "../ledger/studio.ts"
import { codeParam, type FormState, formPage, formPost, idParam } from "../web/forms.ts"
import { actorOf } from "./actor.ts"
import { apartPage } from "./apart-page.ts"
import { batchPage } from "./batch-page.ts"
import { coatsOf } from "./coats.ts"
import { readEachWeighed } from "./each-weighed-form.ts"
import { finishPage, readOutcomes } from "./finish-page.ts"
import { Apart, Coat, CupPhoto, Finish, Instead, Measure, Scrap, Start, Strip } from "./forms.ts"
import { learnedPage } from "./learned-page.ts"
import { lowSentences } from "./low.ts"
import { readCameFrom, readMeasured, readMeasuredBefore } from "./measured-form.ts"
import { measuredPage } from "./measured-page.ts"
import { mixCardPage } from "./mix-card-page.ts"
import { readRoom } from "./room.ts"
import { sayOf } from "./say.ts"
import { scuffPage } from "./scuff-page.ts"
import {
  addCupPhoto,
  batchProgress,
  coatLayer,
  curingRemark,
  finishBatch,
  joinBatch,
  measureCoats,
  openBatches,
  pastBatches,
  scrapCups,
  splitBatch,
  startBatch,
  stripCups,
  takeInsteadOf,
} from "./service.ts"
import { readChoice } from "./substitutes.ts"

/** Batches: started, coated layer by layer or finished at once, scrapped. */
export function batchesRoutes(studio: Studio): Router {
  const router = express.Router()
  // before the addresses that a batch's number stands in
  scuffPage(router, studio)
  router.get("/batches/planned-and-actual", (_req, res) => {
    res.page("batches/planned-and-actual", learnedPage(studio))
  })
  formPage(router, {
    path: "/batches",
    view: "batches/batches",
    show: () => listPage(studio),
    form: Start,
    save: ({ key, ...input }, _req, res) => {
      const done = startBatch(studio, actorOf(res, { key }), input)
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
  router.get("/batches/:id/mix-card", (req, res) => {
    res.page("batches/mix-card", mixCardPage(studio, req))
  })
  // reloaded by hand after a refusal, these addresses lead back to the batch
  router.get(
    ["/batches/:id/coat", "/batches/:id/scrap", "/batches/:id/strip", "/batches/:id/substitute"],
    (req, res) => {
      res.redirect(302, `/batches/${idParam(req)}`)
    },
  )
  formPost(
    router,
    {
      path: "/batches/:id/substitute",
      form: Instead,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const choice = readChoice(form.insteadOf)
        const done = takeInsteadOf(studio, actorOf(res, form), { batchId, choice })
        res.saved(`${done.summary}.`, { to: `/batches/${batchId}`, undo: done.actionId })
      },
    },
    page,
  )
  formPost(
    router,
    {
      path: "/batches/:id/coat",
      form: Coat,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const { position, cupIds, scuff, again } = form
        const measured = readMeasured(batchProgress(studio, batchId).plan, position, form)
        const room = readRoom(studio, form)
        const say = sayOf(studio, form.answers)
        const more = { room, again, photoId: form.photo }
        const input = { batchId, position, cupIds, measured, scuff, say, ...more }
        const done = coatLayer(studio, actorOf(res, form), input)
        const also = [...done.answer.remarks, ...lowSentences(studio, done.answer.low)]
        res.saved(`Done. ${done.summary}.`, { to: `/batches/${batchId}`, undo: done.actionId, also })
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
        const done = scrapCups(studio, actorOf(res, form), { batchId, cupIds: [form.cupId] })
        res.saved(`${done.summary}.`, { to: `/batches/${batchId}`, undo: done.actionId })
      },
    },
    page,
  )
  formPost(
    router,
    {
      path: "/batches/:id/strip",
      form: Strip,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const { cupIds, fromPosition } = form
        const input = { batchId, cupIds: cupIds ?? [], fromPosition }
        const done = stripCups(studio, actorOf(res, form), input)
        res.saved(`${done.summary}.`, { to: `/batches/${batchId}`, undo: done.actionId })
      },
    },
    page,
  )
  apartRoutes(router, studio)
  cupPhotoRoute(router, studio)
  finishRoutes(router, studio)
  measureRoutes(router, studio)
  return router
}

/** Cups that go on as a batch of their own, or in another batch. */
function apartRoutes(router: Router, studio: Studio): void {
  const page = {
    view: "batches/apart",
    show: (req: Request, state: FormState | null) => apartPage(studio, req, state),
  }
  router.get("/batches/:id/apart", (req, res) => {
    res.page(page.view, page.show(req, null))
  })
  router.get(["/batches/:id/split", "/batches/:id/join"], (req, res) => {
    res.redirect(302, `/batches/${idParam(req)}/apart`)
  })
  formPost(
    router,
    {
      path: "/batches/:id/split",
      form: Apart,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const done = splitBatch(studio, actorOf(res, form), { batchId, cupIds: form.cupIds ?? [] })
        const undo = { undo: done.actionId, undoTo: `/batches/${batchId}` }
        res.saved(`${done.summary}.`, { to: `/batches/${done.answer.batchId}`, ...undo })
      },
    },
    page,
  )
  formPost(
    router,
    {
      path: "/batches/:id/join",
      form: Apart,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const done = joinBatch(studio, actorOf(res, form), { batchId, cupIds: form.cupIds ?? [] })
        res.saved(`${done.summary}.`, { to: `/batches/${batchId}`, undo: done.actionId })
      },
    },
    page,
  )
}

/** A photo of one cup, whenever it is taken. */
function cupPhotoRoute(router: Router, studio: Studio): void {
  formPost(router, {
    path: "/cups/:serial/photo",
    form: CupPhoto,
    save: (form, req, res) => {
      const serial = codeParam(req, "serial")
      const done = addCupPhoto(studio, actorOf(res, form), { serial, photoId: form.photo })
      res.saved(`${done.summary}.`, { to: `/cups/${serial}`, undo: done.actionId })
    },
  })
}

/** What a layer really took, said afterwards. */
function measureRoutes(router: Router, studio: Studio): void {
  formPage(router, {
    path: "/batches/:id/measured/:position",
    view: "batches/measured",
    show: (req, state) => measuredPage(studio, req, state),
    form: Measure,
    save: (form, req, res) => {
      const batchId = idParam(req)
      const position = idParam(req, "position")
      const coats = coatsOf(studio, batchId, position)
      const { asPoured, heldMore } = form
      const input = {
        batchId,
        position,
        ...readMeasuredBefore(coats, form),
        each: readEachWeighed(studio, coats, form),
        from: readCameFrom(studio, coats, form.from),
        asPoured,
        heldMore,
      }
      const done = measureCoats(studio, actorOf(res, form), input)
      res.saved(`${done.summary}. The book is corrected.`, {
        to: `/batches/${batchId}`,
        undo: done.actionId,
        also: done.answer.remarks,
      })
    },
  })
}

function finishRoutes(router: Router, studio: Studio): void {
  const page = {
    view: "batches/finish",
    show: (req: Request, state: FormState | null) => finishPage(studio, req, state),
  }
  router.get("/batches/:id/finish", (req, res) => {
    const shown = page.show(req, null)
    if (shown.cups.length === 0) return res.redirect(302, `/batches/${shown.batchId}`)
    res.page(page.view, shown)
  })
  formPost(
    router,
    {
      path: "/batches/:id/finish",
      form: Finish,
      save: (form, req, res) => {
        const batchId = idParam(req)
        const { good, scuff } = form
        const input = {
          batchId,
          good,
          scuff,
          exceptions: readOutcomes(form),
          say: sayOf(studio, form.answers),
        }
        const done = finishBatch(studio, actorOf(res, form), input)
        const kept = batchProgress(studio, batchId).cups.filter((cup) => cup.state !== "scrapped")
        const curing = curingRemark(
          studio,
          kept.map((cup) => cup.id),
        )
        const also = [curing ?? [], done.answer.remarks, lowSentences(studio, done.answer.low)].flat()
        res.saved(`${done.summary}.`, { to: `/batches/${batchId}`, undo: done.actionId, also })
      },
    },
    page,
  )
}

/** Older ones are found by a cup's serial. */
const PAST_SHOWN = 20

function listPage(studio: Studio) {
  const open = openBatches(studio)
  const past = pastBatches(studio, PAST_SHOWN)
  const cups = open.reduce((sum, batch) => sum + batch.inWork, 0)
  return {
    title: "Batches",
    lead:
      open.length === 0 ? "No cups are in work." : `${cups} ${cups === 1 ? "cup is" : "cups are"} in work.`,
    open,
    past,
    pastIsFull: past.length === PAST_SHOWN,
    designs: designs(studio).map((design) => ({ value: design.versionId, label: design.name })),
  }
}
