import { type Request, type Response, Router } from "express"
import { z } from "zod"
import { parseMoney } from "../domain/money.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Done } from "../ledger/act.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { packById, sellers } from "../supplies/service.ts"
import { by } from "../web/device.ts"
import { count, id, idempotencyKey, isoDay, oneOf, optionalText, orEmpty, orRefuse } from "../web/fields.ts"
import { type FormState, formPost, idParam, readQuery } from "../web/forms.ts"
import { address } from "./address.ts"
import { confirmRoutes } from "./confirm-routes.ts"
import { correctLotRoutes } from "./correct-lot-routes.ts"
import { deliveryById } from "./deliveries.ts"
import { confirmAddress, deliveryPage, deliveryToScanInto } from "./delivery-page.ts"
import { listPage } from "./list-page.ts"
import { newThingRoutes } from "./new-thing-routes.ts"
import { openingRoutes } from "./opening-routes.ts"
import { photoRoutes } from "./photo-routes.ts"
import { scanRoutes } from "./scan-routes.ts"
import { closeDelivery, reopenDelivery, startDelivery } from "./service.ts"

const PageQuery = z.object({ delivery: orEmpty(id) })
const StartForm = z.object({
  key: idempotencyKey,
  sellerId: orEmpty(id),
  newSeller: optionalText(80, "The seller's name"),
  leadTimeDays: orEmpty(count(365, "Days from order to door", 0)),
  receivedOn: isoDay("The day it came"),
  /** begun from what is expected: this is taken in first */
  packId: orEmpty(id),
  unnamed: orEmpty(oneOf(["yes"], "Without a name")),
})
const CloseForm = z.object({
  key: idempotencyKey,
  shipping: optionalText(30, "Shipping"),
  tax: optionalText(30, "Tax"),
})
const KeyForm = z.object({ key: idempotencyKey })

/** Taking things in: scan, confirm, next. */
export function receivingRoutes(studio: Studio): Router {
  const router = Router()
  const view = "receiving/receive"
  const money = (typed: string, field: string) =>
    typed === "" ? 0 : orRefuse(parseMoney(typed, settingsOf(studio).currency), field).micro

  router.get("/receive", (req, res) => {
    const { delivery } = readQuery(PageQuery, req)
    res.page(
      view,
      deliveryPage(studio, delivery === null ? deliveryToScanInto(studio) : deliveryById(studio, delivery)),
    )
  })
  router.get("/receive/begin", (_req, res) => {
    res.page(view, deliveryPage(studio, null))
  })
  router.get("/receive/list", (req, res) => {
    const { delivery } = readQuery(z.object({ delivery: id }), req)
    res.page("receiving/list", listPage(studio, deliveryById(studio, delivery)))
  })
  formPost(
    router,
    {
      path: "/receive/deliveries",
      form: StartForm,
      save: (form, _req, res) => {
        const { sellerId, newSeller, leadTimeDays, receivedOn, packId, unnamed } = form
        if (packId !== null) packById(studio, packId)
        if (sellerId === null && newSeller === "" && unnamed === null) askWho(studio)
        const done = startDelivery(studio, by(res, form.key), {
          sellerId,
          ...(newSeller === "" ? {} : { newSeller: { name: newSeller, leadTimeDays: leadTimeDays ?? 7 } }),
          receivedOn,
          note: "",
        })
        said(res, done, packId)
      },
    },
    {
      view,
      show: (_req: Request, state: FormState | null) =>
        deliveryPage(studio, null, state?.problems.some(({ field }) => field === "sellerId") === true),
    },
  )
  formPost(
    router,
    {
      path: "/receive/deliveries/:id/close",
      form: CloseForm,
      save: ({ key, shipping, tax }, req, res) => {
        const done = closeDelivery(studio, by(res, key), idParam(req), {
          shippingMicro: money(shipping, "shipping"),
          taxMicro: money(tax, "tax"),
        })
        const to = address("/receive", { delivery: done.answer.deliveryId })
        res.saved(`${done.summary}.`, { to, undo: done.actionId })
      },
    },
    {
      view,
      show: (req: Request, _state: FormState | null) =>
        deliveryPage(studio, deliveryById(studio, idParam(req))),
    },
  )
  formPost(router, {
    path: "/receive/deliveries/:id/reopen",
    form: KeyForm,
    save: ({ key }, req, res) => said(res, reopenDelivery(studio, by(res, key), idParam(req))),
  })
  scanRoutes(router, studio)
  confirmRoutes(router, studio)
  correctLotRoutes(router, studio)
  newThingRoutes(router, studio)
  photoRoutes(router, studio)
  openingRoutes(router, studio)
  return router
}

/** Nobody named is a slip of the thumb more often than not: asked once, where there is somebody to tick. */
function askWho(studio: Studio): void {
  if (sellers(studio).length === 0) return
  throw new Refusal("Who is it from? Tick one, put in somebody new, or begin without a name.", {
    field: "sellerId",
  })
}

/** To the delivery, or to the first thing taken in, with Undo that leads back to the page of all. */
function said(res: Response, done: Done<{ deliveryId: number }>, packId: number | null = null): void {
  const { deliveryId } = done.answer
  res.saved(`${done.summary}.`, {
    to: packId === null ? address("/receive", { delivery: deliveryId }) : confirmAddress(deliveryId, packId),
    undo: done.actionId,
    undoTo: "/receive",
  })
}
