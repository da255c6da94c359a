import express, { type Response, type Router } from "express"
import { z } from "zod"
import { plainMoney } from "../domain/money.ts"
import { fieldUnit, toUnit } from "../domain/units.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { csvOf } from "../web/csv.ts"
import { isoDay, orEmpty } from "../web/fields.ts"
import { idParam, readQuery } from "../web/forms.ts"
import { finishedCups } from "./cups.ts"
import { COLUMNS } from "./materials.ts"
import {
  account,
  designsPage,
  kindLabel,
  materialsPage,
  moneyPage,
  orderPage,
  ordersPage,
  ordersWithCups,
  shelfPage,
  shelfRows,
  wastePage,
} from "./pages.ts"
import { SpanQuery, spanOf } from "./span.ts"
import { losses } from "./waste.ts"
import { reasonOf } from "./waste-reasons.ts"

const DayQuery = z.object({ on: orEmpty(isoDay("Day")) })

/** What things cost and bring. All of it is read from the book; nothing here changes it. */
export function moneyRoutes(studio: Studio): Router {
  const router = express.Router()
  router.get("/money", (_req, res) => {
    res.page("money/money", moneyPage(studio, spanOf(studio, { from: null, to: null })))
  })
  router.get("/money/shelf", (req, res) => {
    res.page("money/shelf", shelfPage(studio, readQuery(DayQuery, req).on))
  })
  router.get("/money/materials", (req, res) => {
    res.page("money/materials", materialsPage(studio, spanOf(studio, readQuery(SpanQuery, req))))
  })
  router.get("/money/designs", (req, res) => {
    res.page("money/designs", designsPage(studio, spanOf(studio, readQuery(SpanQuery, req))))
  })
  router.get("/money/orders", (_req, res) => {
    res.page("money/orders", ordersPage(studio))
  })
  router.get("/money/orders/:id", (req, res) => {
    res.page("money/order", orderPage(studio, idParam(req)))
  })
  router.get("/money/waste", (req, res) => {
    res.page("money/waste", wastePage(studio, spanOf(studio, readQuery(SpanQuery, req))))
  })
  csvRoutes(router, studio)
  return router
}

/** The same as tables. Money in the studio's currency with a point, exact unless its page rounds. */
function csvRoutes(router: Router, studio: Studio): void {
  router.get("/money/shelf.csv", (req, res) => {
    const today = todayOf(studio)
    const on = readQuery(DayQuery, req).on ?? today
    const { units, currency } = settingsOf(studio)
    const rows = shelfRows(studio, on >= today ? null : on).map((row) => {
      const unit = fieldUnit(row.baseUnit, units)
      return {
        on,
        kind: kindLabel(row.kind),
        supply: row.supply,
        quantity: Number(toUnit(row.amount, unit).toFixed(4)),
        unit: row.baseUnit === "each" ? "pieces" : unit,
        cost: number(row.micro),
        currency,
      }
    })
    send(
      res,
      `shelf-${on}.csv`,
      csvOf(["on", "kind", "supply", "quantity", "unit", "cost", "currency"], rows),
    )
  })
  router.get("/money/materials.csv", (req, res) => {
    const span = spanOf(studio, readQuery(SpanQuery, req))
    const { kinds, total } = account(studio, span)
    const rows = [...kinds.map(({ kind, of }) => ({ name: kindLabel(kind), of })), { name: "All", of: total }]
    const names = COLUMNS.map((column) => column.replace(" ", "_"))
    send(
      res,
      `materials-${span.from}-${span.to}.csv`,
      csvOf(
        ["from", "to", "kind", ...names, "currency"],
        rows.map(({ name, of }) => ({
          from: span.from,
          to: span.to,
          kind: name,
          ...Object.fromEntries(COLUMNS.map((column, index) => [names[index], number(of[column])])),
          currency: settingsOf(studio).currency,
        })),
      ),
    )
  })
  router.get("/money/cups.csv", (req, res) => {
    const span = spanOf(studio, readQuery(SpanQuery, req))
    const rows = finishedCups(studio, span).map((cup) => ({
      cup: cup.serial,
      batch: cup.batchId,
      design: cup.design,
      version: cup.version,
      state: cup.state,
      finished_on: cup.finishedOn,
      order: cup.orderId ?? "",
      buyer: cup.buyer ?? "",
      materials: number(cup.materialsMicro),
      work_as_planned: number(cup.workMicro),
      price: cup.priceMicro === null ? "" : number(cup.priceMicro),
      price_from: cup.pricedBy ?? "none",
      currency: settingsOf(studio).currency,
    }))
    send(res, `cups-${span.from}-${span.to}.csv`, csvOf(CUP_COLUMNS, rows))
  })
  router.get("/money/orders.csv", (_req, res) => {
    const rows = ordersWithCups(studio).map((order) => ({
      order: order.orderId,
      buyer: order.buyer ?? "",
      finished_cups: order.cups,
      scrapped: order.scrapped,
      without_price: order.unpriced,
      price: number(order.priceMicro),
      materials: number(order.materialsMicro),
      work_as_planned: number(order.workMicro),
      left_over: number(order.leftMicro),
      currency: settingsOf(studio).currency,
    }))
    send(res, "orders-money.csv", csvOf(ORDER_COLUMNS, rows))
  })
  router.get("/money/waste.csv", (req, res) => {
    const span = spanOf(studio, readQuery(SpanQuery, req))
    const { units, currency } = settingsOf(studio)
    const rows = losses(studio.file, span.from, span.until ?? undefined).map((loss) => {
      const unit = fieldUnit(loss.baseUnit, units)
      return {
        on: loss.day,
        why: reasonOf(loss),
        reason_given: loss.reason,
        supply: loss.supply,
        container: loss.container,
        quantity: Number(toUnit(loss.amount, unit).toFixed(4)),
        unit: loss.baseUnit === "each" ? "pieces" : unit,
        cost: number(loss.micro),
        currency,
      }
    })
    send(res, `waste-${span.from}-${span.to}.csv`, csvOf(WASTE_COLUMNS, rows))
  })
}

const CUP_COLUMNS = [
  "cup",
  "batch",
  "design",
  "version",
  "state",
  "finished_on",
  "order",
  "buyer",
  "materials",
  "work_as_planned",
  "price",
  "price_from",
  "currency",
] as const
const ORDER_COLUMNS = [
  "order",
  "buyer",
  "finished_cups",
  "scrapped",
  "without_price",
  "price",
  "materials",
  "work_as_planned",
  "left_over",
  "currency",
] as const
const WASTE_COLUMNS = [
  "on",
  "why",
  "reason_given",
  "supply",
  "container",
  "quantity",
  "unit",
  "cost",
  "currency",
] as const

function number(micro: number): number {
  return Number(plainMoney(micro))
}

function send(res: Response, name: string, csv: string): void {
  res.attachment(name).type("text/csv").send(csv)
}
