import express, { type Router } from "express"
import { z } from "zod"
import { sayDate } from "../domain/dates.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { packById } from "../supplies/service.ts"
import { count, id, idempotencyKey, isoDay } from "../web/fields.ts"
import { formPost, idParam } from "../web/forms.ts"
import { Once } from "../web/once.ts"
import { shoppingPage } from "./page.ts"
import { cancelPurchase, orderPacks } from "./service.ts"

const Ordered = z.object({
  key: idempotencyKey,
  sellerId: id,
  packId: id,
  count: count(10_000, "How many packs"),
  expectedOn: isoDay("Expected"),
})
const Cancel = z.object({ key: idempotencyKey })

/** The shopping list, and what is ordered. */
export function purchasingRoutes(studio: Studio): Router {
  const router = express.Router()
  const once = new Once<number>()
  const page = { view: "purchasing/shopping", show: () => shoppingPage(studio) }

  router.get("/shopping", (_req, res) => {
    res.page(page.view, page.show())
  })
  formPost(
    router,
    {
      path: "/shopping/ordered",
      form: Ordered,
      save: ({ key, ...input }, _req, res) => {
        const today = todayOf(studio)
        once.do(key, () => orderPacks(studio, { ...input, orderedOn: today }))
        const { name } = packById(studio, input.packId)
        res.saved(`${input.count} × ${name} counts as coming on ${sayDate(input.expectedOn, today)}.`, {
          to: "/shopping",
        })
      },
    },
    page,
  )
  formPost(router, {
    path: "/purchases/:id/cancel",
    form: Cancel,
    save: (_input, req, res) => {
      const purchase = cancelPurchase(studio, idParam(req))
      res.saved(`${purchase.awaited} × ${purchase.pack} is not coming any more.`, { to: "/shopping" })
    },
  })
  return router
}
