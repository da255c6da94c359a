import { type Request, type Response, Router } from "express"
import { z } from "zod"
import { sayDate } from "../domain/dates.ts"
import { SYMBOLOGIES } from "../domain/gs1.ts"
import type { Done } from "../ledger/act.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { sellers } from "../supplies/service.ts"
import { by } from "../web/device.ts"
import { count, id, idempotencyKey, isoDay, oneOf, optionalText, orEmpty, scanned } from "../web/fields.ts"
import { type FormState, formPost, idParam, readQuery } from "../web/forms.ts"
import { address } from "./address.ts"
import { confirmRoutes } from "./confirm-routes.ts"
import { type Delivery, deliveryById, deliveryLines, openDelivery, recentDeliveries } from "./deliveries.ts"
import { newThingRoutes } from "./new-thing-routes.ts"
import { openingRoutes } from "./opening-routes.ts"
import { lookUp, type ScanAnswer } from "./scan.ts"
import { closeDelivery, reopenDelivery, startDelivery } from "./service.ts"

const PageQuery = z.object({ delivery: orEmpty(id) })
const ScanQuery = z.object({
  code: scanned(200, "The code"),
  symbology: oneOf(SYMBOLOGIES).default("typed"),
  delivery: orEmpty(id),
})
const StartForm = z.object({
  key: idempotencyKey,
  sellerId: orEmpty(id),
  newSeller: optionalText(80, "The seller's name"),
  leadTimeDays: orEmpty(count(365, "Days from order to door", 0)),
  receivedOn: isoDay("The day it came"),
})
const KeyForm = z.object({ key: idempotencyKey })

/** Taking things in: scan, confirm, next. */
export function receivingRoutes(studio: Studio): Router {
  const router = Router()
  const page = {
    view: "receiving/receive",
    show: (req: Request, _state: FormState | null) => pageModel(studio, deliveryOf(studio, req)),
  }

  router.get("/receive", (req, res) => {
    res.page(page.view, page.show(req, null))
  })

  formPost(
    router,
    {
      path: "/receive/deliveries",
      form: StartForm,
      save: (form, _req, res) => {
        const { sellerId, newSeller, leadTimeDays, receivedOn } = form
        const done = startDelivery(studio, by(res, form.key), {
          sellerId,
          ...(newSeller === "" ? {} : { newSeller: { name: newSeller, leadTimeDays: leadTimeDays ?? 7 } }),
          receivedOn,
          note: "",
        })
        said(res, done)
      },
    },
    { view: page.view, show: () => pageModel(studio, null) },
  )
  formPost(router, {
    path: "/receive/deliveries/:id/close",
    form: KeyForm,
    save: ({ key }, req, res) => {
      const done = closeDelivery(studio, by(res, key), idParam(req))
      res.saved(`${done.summary}.`, {
        to: "/receive",
        undo: done.actionId,
        undoTo: address("/receive", { delivery: done.answer.deliveryId }),
      })
    },
  })
  formPost(router, {
    path: "/receive/deliveries/:id/reopen",
    form: KeyForm,
    save: ({ key }, req, res) => said(res, reopenDelivery(studio, by(res, key), idParam(req))),
  })

  // The page's own script asks here what a scan means, and then fetches the page it is told.
  router.get("/receive/lookup", (req, res) => {
    const scan = readQuery(ScanQuery, req)
    const answer = lookUp(studio, scan)
    res.json({ kind: answer.kind, ...whereTo(answer, deliveryOf(studio, req), scan) })
  })
  // The same for a code that was typed where no script runs.
  router.get("/receive/scan", (req, res) => {
    const scan = readQuery(ScanQuery, req)
    const delivery = deliveryOf(studio, req)
    const { to, sentence } = whereTo(lookUp(studio, scan), delivery, scan)
    if (to !== null) return res.redirect(303, to)
    showAgain(res, scan.code, sentence ?? "", pageModel(studio, delivery))
  })
  router.get("/receive/which", (req, res) => {
    const scan = readQuery(ScanQuery, req)
    const delivery = deliveryOf(studio, req)
    const model = whichModel(lookUp(studio, scan), delivery)
    if (model === null) return res.redirect(303, address("/receive/scan", { ...scan }))
    res.page("receiving/which", model)
  })
  router.get("/receive/own", (req, res) => {
    const scan = readQuery(ScanQuery, req)
    const answer = lookUp(studio, scan)
    if (answer.kind !== "own") return res.redirect(303, address("/receive/scan", { ...scan }))
    res.page("receiving/own", ownModel(answer, deliveryOf(studio, req)))
  })

  confirmRoutes(router, studio)
  newThingRoutes(router, studio)
  openingRoutes(router, studio)
  return router
}

/** The delivery an address speaks of, or the one that is open. */
function deliveryOf(studio: Studio, req: Request): Delivery | null {
  const { delivery } = readQuery(PageQuery, req)
  return delivery === null ? openDelivery(studio) : deliveryById(studio, delivery)
}

/** Where a scan leads, or the sentence to show in its place. */
function whereTo(
  answer: ScanAnswer,
  delivery: Delivery | null,
  scan: z.output<typeof ScanQuery>,
): { to: string | null; sentence: string | null } {
  if (answer.kind === "bad") return { to: null, sentence: answer.sentence }
  if (answer.kind === "own") return { to: address("/receive/own", { code: answer.code }), sentence: null }
  if (delivery === null || delivery.closed)
    return { to: null, sentence: "Begin a delivery first, then scan what is in it." }
  const here = { delivery: delivery.id }
  switch (answer.kind) {
    case "pack":
      return { to: address("/receive/confirm", { ...here, pack: answer.pack.id }), sentence: null }
    case "packs":
    case "ask":
      return {
        to: address("/receive/which", { ...here, code: scan.code, symbology: scan.symbology }),
        sentence: null,
      }
    case "unknown":
      return { to: address("/receive/new", { ...here, code: answer.code }), sentence: null }
  }
}

function showAgain(res: Response, code: string, sentence: string, model: ReturnType<typeof pageModel>): void {
  res.status(422)
  res.page("receiving/receive", model, {
    form: "scan",
    problems: [{ field: "code", sentence }],
    values: { code: [code] },
    typed: {},
  })
}

function pageModel(studio: Studio, delivery: Delivery | null) {
  const today = todayOf(studio)
  const lines = delivery === null ? [] : deliveryLines(studio, delivery.id)
  return {
    title: "Receive",
    lead:
      delivery === null
        ? "Who is the delivery from? Then scan one thing after the other."
        : `From ${delivery.seller ?? "somebody not named"}, came ${sayDate(delivery.receivedOn, today)}.`,
    delivery,
    lines,
    here: delivery === null ? "/receive" : address("/receive", { delivery: delivery.id }),
    today,
    sellers: delivery === null ? sellers(studio) : [],
    recent: delivery === null ? recentDeliveries(studio) : [],
  }
}

function whichModel(answer: ScanAnswer, delivery: Delivery | null) {
  if (delivery === null) return null
  const here = { delivery: delivery.id }
  const frame = { back: { to: address("/receive", here), label: "Delivery" } }
  if (answer.kind === "packs") {
    return {
      ...frame,
      title: "Which of these is it?",
      lead: `The code ${answer.shown} is on more than one pack.`,
      choices: answer.packs.map((pack) => ({
        to: address("/receive/confirm", { ...here, pack: pack.id }),
        label: pack.name,
        also: pack.maker,
      })),
    }
  }
  if (answer.kind === "ask") {
    return {
      ...frame,
      title: "Which code is it?",
      lead: answer.question,
      choices: answer.choices.map((choice) => ({
        to: address("/receive/scan", { ...here, code: choice.gtin14 }),
        label: choice.says,
        also: null,
      })),
    }
  }
  return null
}

const OWN = { container: "a container", cup: "a cup", mix: "a mix" } as const

function ownModel(answer: Extract<ScanAnswer, { kind: "own" }>, delivery: Delivery | null) {
  const what = OWN[answer.of]
  return {
    title: answer.code,
    lead:
      answer.name === null
        ? `This would be ${what} of yours, but none has this code. Look at it again.`
        : `This is ${what} of yours: ${answer.name}. It is in the book already.`,
    back: { to: address("/receive", { delivery: delivery?.id ?? null }), label: "Delivery" },
    to: answer.name === null ? null : address("/go", { code: answer.code }),
    label: `Go to ${answer.code}`,
  }
}

/** To the delivery, with Undo that leads back to the page of all. */
function said(res: Response, done: Done<{ deliveryId: number }>): void {
  res.saved(`${done.summary}.`, {
    to: address("/receive", { delivery: done.answer.deliveryId }),
    undo: done.actionId,
    undoTo: "/receive",
  })
}
