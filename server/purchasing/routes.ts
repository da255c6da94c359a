import express, { type Request, type Response, type Router } from "express"
import { z } from "zod"
import type { Studio } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { checkbox, count, id, idempotencyKey, isoDay, oneOf, orEmpty, rows } from "../web/fields.ts"
import { type FormState, formPost, idParam } from "../web/forms.ts"
import type { Typed } from "../web/nest.ts"
import { HORIZON_NAMES } from "./horizon.ts"
import { type Asking, shoppingAddress, shoppingCsv, shoppingPage } from "./page.ts"
import { reorderPage } from "./reorder-page.ts"
import { cancelPurchase, expectPurchase, orderFromSeller, packFrom } from "./service.ts"

const horizon = orEmpty(oneOf(HORIZON_NAMES, "How far ahead"))
const Ordered = z.object({
  key: idempotencyKey,
  sellerId: id,
  horizon,
  draft: orEmpty(id),
  lines: rows(z.object({ packId: id, on: checkbox, count: count(10_000, "How many packs") }), {
    max: 500,
    blankWhen: "on",
  }),
  expectedOn: isoDay("Expected"),
  asItIs: orEmpty(oneOf(["yes"], "As it is")),
})
const Expected = z.object({ key: idempotencyKey, expectedOn: isoDay("Expected") })
const Cancel = z.object({ key: idempotencyKey })

/** The shopping list, and what is ordered. */
export function purchasingRoutes(studio: Studio): Router {
  const router = express.Router()
  const page = {
    view: "purchasing/shopping",
    show: (req: Request, state: FormState | null) =>
      shoppingPage(studio, askingIn(req.body ?? req.query), state),
  }

  router.get("/shopping", (req, res) => {
    res.page(page.view, page.show(req, null))
  })
  router.get("/reorder", (_req, res) => {
    res.page("purchasing/reorder", reorderPage(studio))
  })
  router.get("/shopping.csv", (req, res) => {
    res
      .attachment("shopping.csv")
      .type("text/csv")
      .send(shoppingCsv(studio, askingIn(req.query)))
  })
  formPost(
    router,
    {
      path: "/shopping/ordered",
      form: Ordered,
      lineName: (body) => linesNamed(studio, body),
      save: ({ key, horizon: ahead, draft, lines, asItIs, ...input }, _req, res) => {
        const ticked = lines.filter((line) => line.on).map(({ on: _on, ...line }) => line)
        said(
          res,
          orderFromSeller(studio, by(res, key), { ...input, lines: ticked, ...(asItIs && { asItIs: true }) }),
          {
            horizon: ahead ?? "all",
            draft,
          },
        )
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
  asking: Asking = { horizon: "all", draft: null },
): void {
  const isPlain = asking.horizon === "all" && asking.draft === null
  const to = isPlain ? "/shopping" : shoppingAddress(asking)
  res.saved(`${done.summary}.`, { to, undo: done.actionId })
}

const Named = z.object({ sellerId: id })
const NamedLine = z.object({ packId: id })

/** A line of an order as the list has it: several sellers have a first line each. */
function linesNamed(studio: Studio, body: Typed): (index: number) => string | null {
  const from = Named.safeParse(body)
  const lines = Array.isArray(body.lines) ? body.lines : []
  return (index) => {
    const line = NamedLine.safeParse(lines[index])
    return from.success && line.success ? packFrom(studio, line.data.packId, from.data.sellerId) : null
  }
}

/** How far ahead a page looks, and what it counts in; what cannot be read means all that is planned, and nothing more. */
function askingIn(fields: unknown): Asking {
  const ahead = z.object({ horizon }).safeParse(fields)
  const counted = z.object({ draft: orEmpty(id) }).safeParse(fields)
  return {
    horizon: (ahead.success ? ahead.data.horizon : null) ?? "all",
    draft: counted.success ? counted.data.draft : null,
  }
}
