import express, { type Request, type Response, type Router } from "express"
import { z } from "zod"
import { designs } from "../designs/service.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { addOrder } from "../orders/service.ts"
import { by } from "../web/device.ts"
import { chosen, count, id, idempotencyKey, isoDay, oneOf, optionalText } from "../web/fields.ts"
import { formPost, idParam, problemsOf, readForm } from "../web/forms.ts"
import { flatten, nest } from "../web/nest.ts"
import type { Asked } from "./asked.ts"
import { forecastPage } from "./page.ts"
import { planPage } from "./plan-page.ts"
import type { DraftLine } from "./service.ts"
import { supplyPage } from "./supply-page.ts"
import { triedIn, whatIfRoutes } from "./what-if-routes.ts"

const ASK = { designId: chosen("Design"), quantity: count(10_000, "How many"), dueOn: isoDay("Due") }
const Ask = z.object(ASK)
const Draft = z.object({ draft: id })
const Keep = z.object({
  ...ASK,
  key: idempotencyKey,
  buyer: optionalText(80, "Buyer"),
  state: oneOf(["planned", "draft"], "Keep as"),
})

/** What runs short, and what an order that is not kept would make short. */
export function forecastRoutes(studio: Studio): Router {
  const router = express.Router()

  router.get("/forecast", (req, res) => {
    try {
      res.page("forecast/forecast", forecastPage(studio, askedIn(studio, req)))
    } catch (error) {
      showAgain(studio, req, res, error)
    }
  })
  router.get("/plan", (req, res) => {
    res.page("forecast/plan", planPage(studio, askedOf(studio, req)))
  })
  router.get("/forecast/supplies/:id", (req, res) => {
    res.page("forecast/supply", supplyPage(studio, idParam(req), askedOf(studio, req)))
  })
  whatIfRoutes(router, studio)
  formPost(
    router,
    {
      path: "/forecast/keep",
      form: Keep,
      save: ({ key, state, buyer, ...line }, _req, res) => {
        refusePast(studio, line)
        const lines = [{ ...line, note: "" }]
        const done = addOrder(studio, by(res, key), {
          buyerId: null,
          buyerName: buyer,
          state,
          note: "",
          lines,
        })
        res.saved(`${done.summary}.`, {
          to: `/orders/${done.answer.orderId}`,
          undo: done.actionId,
          undoTo: "/orders",
        })
      },
    },
    { view: "forecast/forecast", show: () => forecastPage(studio, { kind: "nothing" }, true) },
  )
  return router
}

function askedIn(studio: Studio, req: Request): Asked {
  if (req.query.draft !== undefined) return { kind: "draft", orderId: readForm(Draft, req.query).draft }
  if (req.query.designId === undefined && req.query.quantity === undefined) return { kind: "nothing" }
  const line = readForm(Ask, req.query)
  refusePast(studio, line)
  return { kind: "typed", line }
}

/** The same, or what is tried out under What if. */
function askedOf(studio: Studio, req: Request): Asked {
  const lines = triedIn(req)?.filter((line) => line.on) ?? null
  if (lines === null) return askedIn(studio, req)
  for (const line of lines) refuseUnknown(studio, line)
  return { kind: "tried", lines }
}

function refusePast(studio: Studio, line: DraftLine): void {
  if (line.dueOn < todayOf(studio)) {
    throw new Refusal("That due date has passed. Put today or a later day.", { field: "dueOn" })
  }
  refuseUnknown(studio, line)
}

function refuseUnknown(studio: Studio, line: DraftLine): void {
  if (!designs(studio).some((design) => design.designId === line.designId)) {
    throw new Refusal("Choose the design that is asked for.", { field: "designId" })
  }
}

/** The page with what was typed and what is wrong with it: the question is asked by address, so it is not a post. */
function showAgain(studio: Studio, req: Request, res: Response, error: unknown): void {
  const problems = problemsOf(error)
  if (problems === null || (error instanceof Refusal && error.status === 404)) throw error
  const typed = nest(req.query)
  res.status(error instanceof Refusal ? error.status : 422)
  res.page("forecast/forecast", forecastPage(studio, { kind: "nothing" }, true), {
    form: "",
    problems,
    values: flatten(typed),
    typed,
  })
}
