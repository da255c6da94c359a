import type { Request, Router } from "express"
import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { addOrder, changeOrder, ordersList } from "../orders/service.ts"
import { by } from "../web/device.ts"
import { checkbox, chosen, count, id, idempotencyKey, isoDay, orEmpty, rows } from "../web/fields.ts"
import { formPost, problemsOf, readForm } from "../web/forms.ts"
import { flatten, nest } from "../web/nest.ts"
import { draftLines, type TriedLine, whatIfPage } from "./what-if-page.ts"

const MOST_LINES = 40
const LINE = {
  lineId: orEmpty(id),
  designId: chosen("Design"),
  quantity: count(10_000, "How many"),
  dueOn: isoDay("Due"),
}
const Tried = z.object({
  lines: rows(z.object({ ...LINE, on: checkbox }), { max: MOST_LINES, blankWhen: "designId" }),
})
const Keep = z.object({ key: idempotencyKey, ...LINE })

/** Draft orders tried out side by side. The page asks by its address, so that a changed number is only another one. */
export function whatIfRoutes(router: Router, studio: Studio): void {
  const view = "forecast/what-if"
  router.get("/what-if", (req, res) => {
    try {
      res.page(view, whatIfPage(studio, linesIn(studio, req)))
    } catch (error) {
      const problems = problemsOf(error)
      if (problems === null) throw error
      const typed = nest(req.query)
      res.status(422)
      res.page(view, whatIfPage(studio, draftLines(studio), problems), {
        form: "",
        problems,
        values: flatten(typed),
        typed,
      })
    }
  })
  formPost(
    router,
    {
      path: "/what-if/keep",
      form: Keep,
      save: ({ key, lineId, ...line }, _req, res) => {
        const done =
          lineId === null ? newDraft(studio, by(res, key), line) : changed(studio, by(res, key), lineId, line)
        res.saved(`${done.summary}.`, { to: "/what-if", undo: done.actionId })
      },
    },
    { view, show: () => whatIfPage(studio, draftLines(studio)) },
  )
}

function linesIn(studio: Studio, req: Request): TriedLine[] {
  return triedIn(req) ?? draftLines(studio)
}

/** The lines that an address tries out; null: it says none. */
export function triedIn(req: Request): TriedLine[] | null {
  const typed = nest(req.query)
  return typed.lines === undefined ? null : readForm(Tried, typed).lines
}

type Line = Pick<TriedLine, "designId" | "quantity" | "dueOn">

function newDraft(studio: Studio, actor: ReturnType<typeof by>, line: Line) {
  const lines = [{ ...line, note: "" }]
  return addOrder(studio, actor, { buyerId: null, state: "draft", note: "", lines })
}

function changed(studio: Studio, actor: ReturnType<typeof by>, lineId: number, { quantity, dueOn }: Line) {
  const order = ordersList(studio, ["draft"]).find((one) => one.lines.some((line) => line.lineId === lineId))
  if (!order) throw new Refusal("That draft is not there any more.", { status: 409 })
  const lines = order.lines.map((line) => (line.lineId === lineId ? { ...line, quantity, dueOn } : line))
  return changeOrder(studio, actor, order.orderId, { buyerId: order.buyerId, note: order.note, lines })
}
