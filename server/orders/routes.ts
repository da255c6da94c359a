import express, { type Request, type Response, type Router } from "express"
import { z } from "zod"
import { curingRemark, MOST_CUPS, startBatch } from "../batches/service.ts"
import { latestVersionId } from "../designs/service.ts"
import { parseMoney } from "../domain/money.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import {
  chosen,
  count,
  id,
  idempotencyKey,
  isoDay,
  oneOf,
  optionalText,
  orEmpty,
  orRefuse,
  rows,
} from "../web/fields.ts"
import { type FormState, formPage, formPost, idParam } from "../web/forms.ts"
import { changePage, listPage, newPage, orderPage } from "./pages.ts"
import {
  addOrder,
  assignCups,
  changeOrder,
  freeCups,
  type LineState,
  type OrderInput,
  orderById,
  returnCups,
  sendCups,
  setOrderState,
} from "./service.ts"

const MOST_LINES = 30
const Line = z.object({
  lineId: orEmpty(id),
  designId: chosen("Design"),
  quantity: count(10_000, "How many"),
  dueOn: isoDay("Due"),
  note: optionalText(200, "Note"),
  price: optionalText(30, "Price of a cup"),
})
const OrderFields = {
  key: idempotencyKey,
  buyer: optionalText(80, "Buyer"),
  note: optionalText(500, "Note"),
  lines: rows(Line, { max: MOST_LINES, blankWhen: "designId" }),
}
const NewOrder = z.object({ ...OrderFields, state: oneOf(["planned", "draft"], "Promised or a question") })
const ChangedOrder = z.object(OrderFields)
const State = z.object({
  key: idempotencyKey,
  state: oneOf(["draft", "planned", "done", "cancelled"], "What it becomes"),
})
const cupIds = z.preprocess(
  (raw) => (raw === undefined ? [] : Array.isArray(raw) ? raw : [raw]),
  z.array(id).min(1, "Choose the cups first.").max(500, "That is more cups than one page shows."),
)
const Assign = z.object({ key: idempotencyKey, lineId: id, cupIds })
const OnIt = z.object({
  key: idempotencyKey,
  what: oneOf(["send", "send-held", "free", "return"], "What to do"),
  another: orEmpty(oneOf(["no", "yes"], "Make another")),
  cupIds,
})
const Start = z.object({ key: idempotencyKey, lineId: id, cups: count(MOST_CUPS, "How many cups") })

/** Orders: taken, changed, filled with cups, sent. */
export function ordersRoutes(studio: Studio): Router {
  const router = express.Router()

  router.get("/orders", (_req, res) => {
    res.page("orders/orders", listPage(studio))
  })
  formPage(router, {
    path: "/orders/new",
    view: "orders/edit",
    show: (_req, state) => newPage(studio, state),
    form: NewOrder,
    save: (input, _req, res) => {
      const done = addOrder(studio, by(res, input.key), { ...orderFrom(studio, input), state: input.state })
      res.saved(`${done.summary}.`, {
        to: `/orders/${done.answer.orderId}`,
        undo: done.actionId,
        undoTo: "/orders",
      })
    },
  })

  const page = {
    view: "orders/order",
    show: (req: Request, state: FormState | null) => orderPage(studio, idParam(req), state),
  }
  router.get("/orders/:id", (req, res) => {
    res.page(page.view, page.show(req, null))
  })
  formPage(router, {
    path: "/orders/:id/change",
    view: "orders/edit",
    show: (req, state) => changePage(studio, idParam(req), state),
    form: ChangedOrder,
    save: (input, req, res) => {
      saidAt(req, res, changeOrder(studio, by(res, input.key), idParam(req), orderFrom(studio, input)))
    },
  })
  formPost(router, {
    path: "/orders/:id/state",
    form: State,
    save: ({ key, state }, req, res) => {
      saidAt(req, res, setOrderState(studio, by(res, key), idParam(req), state))
    },
  })
  makingRoutes(router, studio, page)
  return router
}

type Page = { view: string; show: (req: Request, state: FormState | null) => ReturnType<typeof orderPage> }

/** Cups of an order: started for it, put on it, taken off, sent. */
function makingRoutes(router: Router, studio: Studio, page: Page): void {
  formPost(
    router,
    {
      path: "/orders/:id/start",
      form: Start,
      save: ({ key, lineId, cups }, req, res) => {
        const line = lineIn(studio, idParam(req), lineId)
        const versionId = latestVersionId(studio, line.designId)
        const input = { versionId, cups, note: "", orderLineId: lineId }
        const done = startBatch(studio, by(res, key), input)
        res.saved(`${done.summary}.`, { to: `/batches/${done.answer.batchId}`, undo: done.actionId })
      },
    },
    page,
  )
  formPost(
    router,
    {
      path: "/orders/:id/assign",
      form: Assign,
      save: ({ key, lineId, cupIds }, req, res) => {
        lineIn(studio, idParam(req), lineId)
        const done = assignCups(studio, by(res, key), { orderLineId: lineId, cupIds })
        saidAt(req, res, done)
      },
    },
    page,
  )
  formPost(
    router,
    {
      path: "/orders/:id/cups",
      form: OnIt,
      save: ({ key, what, another, cupIds }, req, res) => {
        orderById(studio, idParam(req))
        const who = by(res, key)
        switch (what) {
          case "send":
          case "send-held": {
            const done = sendCups(studio, who, cupIds, what === "send-held")
            return saidAt(req, res, done, curingRemark(studio, cupIds))
          }
          case "free":
            return saidAt(req, res, freeCups(studio, who, cupIds))
          case "return":
            return saidAt(req, res, returnCups(studio, who, cupIds, another === "yes"))
        }
      },
    },
    page,
  )
}

/** @throws {Refusal} 404: no such order, or the line is not in it */
function lineIn(studio: Studio, orderId: number, lineId: number): LineState {
  const line = orderById(studio, orderId).lines.find((one) => one.lineId === lineId)
  if (!line) throw new Refusal("That line is not in this order any more.", { status: 404 })
  return line
}

function orderFrom(studio: Studio, { buyer, note, lines }: z.output<typeof ChangedOrder>): OrderInput {
  const { currency } = settingsOf(studio)
  const priced = lines.map(({ price, ...line }, index) => ({
    ...line,
    priceMicro: price === "" ? null : orRefuse(parseMoney(price, currency), `lines[${index}][price]`).micro,
  }))
  return { buyerId: null, buyerName: buyer, note, lines: priced }
}

function saidAt(
  req: Request,
  res: Response,
  done: { summary: string; actionId: number },
  remark: string | null = null,
): void {
  const also = remark === null ? [] : [remark]
  res.saved(`${done.summary}.`, { to: `/orders/${idParam(req)}`, undo: done.actionId, also })
}
