import express, { type Router } from "express"
import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { idempotencyKey, isLocalPath, optionalText } from "../web/fields.ts"
import { formPost, idParam, readQuery } from "../web/forms.ts"
import { THINGS_WITH_HISTORY } from "./of-thing.ts"
import { history, historyOf, undo } from "./service.ts"

const Query = z.object({
  page: z
    .string()
    .regex(/^[1-9]\d{0,8}$/)
    .transform(Number)
    .catch(1),
})

const Undo = z.object({
  key: idempotencyKey,
  returnTo: z.preprocess((raw) => (isLocalPath(raw) ? raw : "/history"), z.string()),
  reason: optionalText(300, "Why"),
})

/** What was done, newest first, and taking it back. */
export function historyRoutes(studio: Studio): Router {
  const router = express.Router()

  router.get("/history", (req, res) => {
    const shown = history(studio, readQuery(Query, req).page)
    const { page, pages, total } = shown
    const address = (number: number) => (number === 1 ? "/history" : `/history?page=${number}`)
    res.page("history/history", {
      title: "History",
      lead: total === 0 ? undefined : "What was done, the latest first. Undo takes all of one thing back.",
      ...shown,
      several: pages > 1,
      here: address(page),
      newer: page > 1 ? address(page - 1) : null,
      older: page < pages ? address(page + 1) : null,
    })
  })

  router.get("/history/of/:kind/:id", (req, res) => {
    const kind = THINGS_WITH_HISTORY.find((one) => one === req.params.kind)
    if (kind === undefined) throw new Refusal("There is no such page.", { status: 404 })
    const id = idParam(req)
    const shown = historyOf(studio, kind, id, readQuery(Query, req).page)
    const { page, pages, total, name, to } = shown
    const address = (number: number) => `/history/of/${kind}/${id}${number === 1 ? "" : `?page=${number}`}`
    res.page("history/history", {
      title: `What was done with ${name}`,
      lead: `${total === 1 ? "One thing" : `${total} things`}, the latest first: what, when, from which device, and why where it was said.`,
      back: { to, label: name },
      ...shown,
      several: pages > 1,
      here: address(page),
      newer: page > 1 ? address(page - 1) : null,
      older: page < pages ? address(page + 1) : null,
    })
  })

  formPost(router, {
    path: "/history/:id/undo",
    form: Undo,
    save: (input, req, res) => {
      const done = undo(studio, { ...by(res, input.key), reason: input.reason }, idParam(req))
      res.saved(`Undone: ${done.answer.undone}.`, { to: input.returnTo })
    },
  })
  return router
}
