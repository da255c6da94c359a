import express, { type Response, type Router } from "express"
import { z } from "zod"
import type { Studio } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { count, id, idempotencyKey, isoDay } from "../web/fields.ts"
import { formPost, idParam } from "../web/forms.ts"
import { shoppingCsv, shoppingPage } from "./page.ts"
import { reorderPage } from "./reorder-page.ts"
import { cancelPurchase, expectPurchase, orderPacks } from "./service.ts"

const Ordered = z.object({
  key: idempotencyKey,
  sellerId: id,
  packId: id,
  count: count(10_000, "How many packs"),
  expectedOn: isoDay("Expected"),
})
const Expected = z.object({ key: idempotencyKey, expectedOn: isoDay("Expected") })
const Cancel = z.object({ key: idempotencyKey })

/** The shopping list, and what is ordered. */
export function purchasingRoutes(studio: Studio): Router {
  const router = express.Router()
  const page = { view: "purchasing/shopping", show: () => shoppingPage(studio) }

  router.get("/shopping", (_req, res) => {
    res.page(page.view, page.show())
  })
  router.get("/reorder", (_req, res) => {
    res.page("purchasing/reorder", reorderPage(studio))
  })
  router.get("/shopping.csv", (_req, res) => {
    res.attachment("shopping.csv").type("text/csv").send(shoppingCsv(studio))
  })
  formPost(
    router,
    {
      path: "/shopping/ordered",
      form: Ordered,
      save: ({ key, ...input }, _req, res) => {
        said(res, orderPacks(studio, by(res, key), input))
      },
    },
    page,
  )
  formPost(
    router,
    {
      path: "/purchases/:id/expected",
      form: Expected,
      save: ({ key, expectedOn }, req, res) => {
        said(res, expectPurchase(studio, by(res, key), { purchaseId: idParam(req), expectedOn }))
      },
    },
    page,
  )
  formPost(router, {
    path: "/purchases/:id/cancel",
    form: Cancel,
    save: ({ key }, req, res) => said(res, cancelPurchase(studio, by(res, key), idParam(req))),
  })
  return router
}

function said(res: Response, done: { summary: string; actionId: number }): void {
  res.saved(`${done.summary}.`, { to: "/shopping", undo: done.actionId })
}
