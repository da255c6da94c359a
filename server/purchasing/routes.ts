import express, { type Request, type Response, type Router } from "express"
import { z } from "zod"
import type { Studio } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { checkbox, count, id, idempotencyKey, isoDay, oneOf, orEmpty, rows } from "../web/fields.ts"
import { formPost, idParam } from "../web/forms.ts"
import { HORIZON_NAMES, type HorizonName } from "./horizon.ts"
import { shoppingCsv, shoppingPage } from "./page.ts"
import { reorderPage } from "./reorder-page.ts"
import { cancelPurchase, expectPurchase, orderFromSeller } from "./service.ts"

const horizon = orEmpty(oneOf(HORIZON_NAMES, "How far ahead"))
const Ordered = z.object({
  key: idempotencyKey,
  sellerId: id,
  horizon,
  lines: rows(z.object({ packId: id, on: checkbox, count: count(10_000, "How many packs") }), {
    max: 500,
    blankWhen: "on",
  }),
  expectedOn: isoDay("Expected"),
})
const Expected = z.object({ key: idempotencyKey, expectedOn: isoDay("Expected") })
const Cancel = z.object({ key: idempotencyKey })

/** The shopping list, and what is ordered. */
export function purchasingRoutes(studio: Studio): Router {
  const router = express.Router()
  const page = {
    view: "purchasing/shopping",
    show: (req: Request) => shoppingPage(studio, horizonIn(req.body ?? req.query)),
  }

  router.get("/shopping", (req, res) => {
    res.page(page.view, page.show(req))
  })
  router.get("/reorder", (_req, res) => {
    res.page("purchasing/reorder", reorderPage(studio))
  })
  router.get("/shopping.csv", (req, res) => {
    res
      .attachment("shopping.csv")
      .type("text/csv")
      .send(shoppingCsv(studio, horizonIn(req.query)))
  })
  formPost(
    router,
    {
      path: "/shopping/ordered",
      form: Ordered,
      save: ({ key, horizon: ahead, lines, ...input }, _req, res) => {
        const ticked = lines.filter((line) => line.on).map(({ on: _on, ...line }) => line)
        said(res, orderFromSeller(studio, by(res, key), { ...input, lines: ticked }), ahead)
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

function said(
  res: Response,
  done: { summary: string; actionId: number },
  ahead: HorizonName | null = null,
): void {
  const to = ahead === null ? "/shopping" : `/shopping?horizon=${ahead}`
  res.saved(`${done.summary}.`, { to, undo: done.actionId })
}

/** How far ahead a page looks; whatever else stands there means all that is planned. */
function horizonIn(fields: unknown): HorizonName {
  const read = z.object({ horizon }).safeParse(fields)
  return (read.success ? read.data.horizon : null) ?? "all"
}
