import express, { type Response, type Router } from "express"
import { readableWorking } from "../domain/readable-working.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { codeParam, idParam } from "../web/forms.ts"
import { type CoatTrace, cupTraceCsv, lotTraceCsv, recentLots, traceCup, traceLot } from "./service.ts"

/** Which lot went into which cup, both ways, as a page and as CSV. */
export function tracingRoutes(studio: Studio): Router {
  const router = express.Router()
  router.get("/trace", (_req, res) => {
    res.page("tracing/trace", {
      title: "Trace",
      lead: "Scan or type a cup's serial or a bottle's code, or choose a lot.",
      lots: recentLots(studio),
    })
  })
  router.get("/cups/:serial", (req, res) => {
    const trace = traceCup(studio, codeParam(req, "serial"))
    const { units } = settingsOf(studio)
    const readable = (coat: CoatTrace) => ({
      ...coat,
      workings: coat.workings.map((working) => readableWorking(working, units)),
    })
    res.page("tracing/cup", {
      title: `Cup ${trace.serial}`,
      lead: `${trace.design}, version ${trace.version}; ${trace.state}.`,
      back: { to: `/batches/${trace.batchId}`, label: "Its batch" },
      trace: {
        ...trace,
        layers: trace.layers.map((layer) => ({ ...layer, coats: layer.coats.map(readable) })),
      },
    })
  })
  router.get("/cups/:serial/trace.csv", (req, res) => {
    const trace = traceCup(studio, codeParam(req, "serial"))
    sendCsv(res, `cup-${trace.serial}.csv`, cupTraceCsv(trace))
  })
  router.get("/lots/:id", (req, res) => {
    const trace = traceLot(studio, idParam(req))
    const buyers = new Set(trace.cups.map((cup) => cup.buyer).filter((buyer) => buyer !== null))
    const sent = trace.cups.filter((cup) => cup.state === "sent").length
    res.page("tracing/lot", {
      title: `${trace.supply}, lot ${trace.number ?? "without a number"}`,
      lead:
        trace.cups.length === 0
          ? "No cup has anything of this lot."
          : `In ${trace.cups.length} ${trace.cups.length === 1 ? "cup" : "cups"}; ${sent} sent, to ${buyers.size} ${buyers.size === 1 ? "buyer" : "buyers"}.`,
      back: { to: "/trace", label: "Trace" },
      here: `/lots/${trace.lotId}`,
      trace,
    })
  })
  router.get("/lots/:id/trace.csv", (req, res) => {
    const trace = traceLot(studio, idParam(req))
    sendCsv(res, `lot-${trace.lotId}.csv`, lotTraceCsv(trace))
  })
  return router
}

function sendCsv(res: Response, name: string, body: string): void {
  res.attachment(name).type("text/csv").send(body)
}
