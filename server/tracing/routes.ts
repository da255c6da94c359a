import express, { type Response, type Router } from "express"
import { z } from "zod"
import { photosOfCup, stillCuring } from "../batches/service.ts"
import { sayLayer } from "../domain/layers.ts"
import { readableWorking } from "../domain/readable-working.ts"
import { Refusal } from "../domain/refusal.ts"
import { sayRoom } from "../domain/room.ts"
import { sayOpenAge } from "../domain/side-by-side.ts"
import { formatAmount } from "../domain/units.ts"
import { knownCost } from "../domain/unpriced.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { photosOf } from "../receiving/service.ts"
import { pairOfLot } from "../shelf/service.ts"
import { by } from "../web/device.ts"
import { id, idempotencyKey, optionalText, text } from "../web/fields.ts"
import { codeParam, formPage, formPost, idParam } from "../web/forms.ts"
import { qrSvg } from "../web/qr.ts"
import { A_MINUTE_S, drills, finishDrill, lotToDrill, tracedOf } from "./drill.ts"
import { cupTraceJson, lotTraceJson, schemaText } from "./json.ts"
import { picturePage } from "./picture-page.ts"
import {
  type BuyerToTell,
  balanceOf,
  buyersOf,
  type CoatTrace,
  type CupTrace,
  complain,
  complaintsOf,
  cupTraceCsv,
  heldLotsOn,
  heldWords,
  type LotTrace,
  lotTraceCsv,
  recentLots,
  resinsIn,
  type SupplyBeside,
  sideBySide,
  sideBySideCsv,
  supplySideBySide,
  tellBuyer,
  traceCup,
  traceLot,
  whereNow,
} from "./service.ts"
import { EXPIRY_BASIS } from "./words.ts"

/** Which lot went into which cup, both ways, as a page and as CSV. */
export function tracingRoutes(studio: Studio): Router {
  const router = express.Router()
  router.get("/trace", (_req, res) => {
    res.page("tracing/trace", {
      title: "Trace",
      lead: "Scan or type what you have: a cup's serial, a bottle's code, a lot number, a buyer, an order. Or choose a lot.",
      supplies: bySupply(recentLots(studio)),
      canDrill: lotToDrill(studio) !== null,
      drills: drills(studio).map((one) => ({
        ...one,
        seconds: Math.round(one.seconds),
        tracedPercent: percent(one.cups === 0 ? 1 : one.traced / one.cups),
        accountedPercent: percent(one.accounted),
      })),
    })
  })
  for (const of of ["cup", "lot"] as const) {
    router.get(`/trace/${of}.schema.json`, (_req, res) => {
      res.type("application/schema+json").send(schemaText(of))
    })
  }
  router.get("/trace/drill", (_req, res) => {
    const lotId = lotToDrill(studio)
    if (lotId === null)
      throw new Refusal("No resin went onto a cup yet, so there is no lot to trace.", { status: 404 })
    res.redirect(302, `/lots/${lotId}/drill`)
  })
  formPage(router, {
    path: "/lots/:id/drill",
    view: "tracing/drill",
    show: (req) => drillPage(studio, idParam(req)),
    form: z.object({ key: idempotencyKey, startedAt: text(40, "When the clock started") }),
    save: (input, req, res) => {
      const lotId = idParam(req)
      const done = finishDrill(studio, by(res, input.key), { lotId, startedAt: input.startedAt })
      const { seconds } = done.answer
      const how =
        seconds < A_MINUTE_S ? "That is under a minute." : "The aim is under a minute: try another lot."
      res.saved(`${done.summary}. ${how}`, { to: "/trace", undo: done.actionId })
    },
  })
  router.get("/trace/supplies/:id", (req, res) => {
    res.page("tracing/side-by-side", besidePage(supplySideBySide(studio, idParam(req))))
  })
  router.get("/trace/supplies/:id/counts.csv", (req, res) => {
    const counts = supplySideBySide(studio, idParam(req))
    sendCsv(res, `supply-${counts.supplyId}-side-by-side.csv`, sideBySideCsv(counts))
  })
  router.get("/trace/:kind/:ref", (req, res) => {
    res.page("tracing/picture", picturePage(studio, codeParam(req, "kind"), codeParam(req, "ref")))
  })
  router.get("/cups/:serial", (req, res) => {
    const trace = traceCup(studio, codeParam(req, "serial"))
    const ownId = cupId(studio, trace.serial)
    const { units } = settingsOf(studio)
    const readable = (coat: CoatTrace) => ({
      ...coat,
      roomSaid: coat.room && sayRoom(coat.room, units),
      workings: coat.workings.map((working) => readableWorking(working, units)),
    })
    res.page("tracing/cup", {
      title: `Cup ${trace.serial}`,
      lead: `${trace.design}, version ${trace.version}; ${trace.state}.`,
      back: { to: `/batches/${trace.batchId}`, label: "Its batch" },
      complaints: complaintsOf(studio, trace.serial),
      history: `/history/of/cup/${ownId}`,
      curedAt: isFinished(trace) ? stillCuring(studio, [ownId]).get(ownId) : null,
      resins: resinsIn(studio, trace),
      heldLots: (heldLotsOn(studio, [ownId]).get(ownId) ?? []).map((lot) => ({
        to: `/lots/${lot.lotId}`,
        says: heldWords(lot),
      })),
      photos: photosOfCup(studio, trace.serial),
      materials: knownCost(
        trace.costMicro,
        trace.layers.flatMap(({ coats }) =>
          coats.flatMap(({ uses }) => uses.flatMap((use) => (use.priced ? [] : use.supply))),
        ),
      ),
      trace: {
        ...trace,
        layers: trace.layers.map((layer) => ({
          ...layer,
          said: sayLayer(layer),
          coats: layer.coats.map(readable),
        })),
      },
    })
  })
  formPost(router, {
    path: "/cups/:serial/complaint",
    form: z.object({ key: idempotencyKey, what: text(500, "What the buyer saw") }),
    save: (input, req, res) => {
      const serial = codeParam(req, "serial")
      const done = complain(studio, by(res, input.key), { serial, what: input.what })
      res.saved("The complaint is written down with the cup.", { to: `/cups/${serial}`, undo: done.actionId })
    },
  })
  router.get("/cups/:serial/card", (req, res) => {
    const trace = traceCup(studio, codeParam(req, "serial"))
    res.page("tracing/card", {
      title: `Card for cup ${trace.serial}`,
      lead: "Prints on a card of 74 × 105 mm (A7). Nothing on it tells who bought the cup.",
      back: { to: `/cups/${trace.serial}`, label: `Cup ${trace.serial}` },
      serial: trace.serial,
      design: trace.design,
      studio: settingsOf(studio).name,
    })
  })
  router.get("/cups/:serial/code.svg", (req, res) => {
    const { serial } = traceCup(studio, codeParam(req, "serial"))
    res.setHeader("Cache-Control", "private, max-age=86400")
    res.type("image/svg+xml").send(qrSvg(serial, { border: 2, scale: 2 }))
  })
  router.get("/cups/:serial/trace.json", (req, res) => {
    const trace = traceCup(studio, codeParam(req, "serial"))
    res.json(cupTraceJson(trace, photosOfCup(studio, trace.serial)))
  })
  router.get("/cups/:serial/trace.csv", (req, res) => {
    const trace = traceCup(studio, codeParam(req, "serial"))
    sendCsv(res, `cup-${trace.serial}.csv`, cupTraceCsv(trace, settingsOf(studio)))
  })
  router.get("/lots/:id", (req, res) => {
    const trace = traceLot(studio, idParam(req))
    const buyers = buyersOf(studio, trace)
    const balance = balanceOf(studio, trace)
    res.page("tracing/lot", {
      title: `${trace.supply}, lot ${trace.number ?? "without a number"}`,
      lead: leadOfLot(trace, buyers),
      back: { to: "/trace", label: "Trace" },
      here: `/lots/${trace.lotId}`,
      photos: photosOf(studio, [trace.lotId]),
      trace: {
        ...trace,
        containers: trace.containers.map((one) => ({
          ...one,
          earlier: one.useBy !== null && (trace.expiresOn === null || one.useBy < trace.expiresOn),
        })),
      },
      expiryWhy: EXPIRY_BASIS[trace.expiryBasis],
      pair: pairOfLot(studio, trace.lotId),
      groups: whereNow(trace.cups),
      buyers,
      balance: { ...balance, missing: Math.abs(balance.unexplained), found: balance.unexplained < 0 },
      compared: sideBySide(studio, trace),
    })
  })
  formPost(router, {
    path: "/lots/:id/told",
    form: z.object({ key: idempotencyKey, orderId: id, how: optionalText(200) }),
    save: (input, req, res) => {
      const lotId = idParam(req)
      const done = tellBuyer(studio, by(res, input.key), { lotId, orderId: input.orderId, how: input.how })
      res.saved(`${done.summary}.`, { to: `/lots/${lotId}`, undo: done.actionId })
    },
  })
  router.get("/lots/:id/trace.json", (req, res) => {
    const trace = traceLot(studio, idParam(req))
    res.json(lotTraceJson(trace, balanceOf(studio, trace), sideBySide(studio, trace)))
  })
  router.get("/lots/:id/trace.csv", (req, res) => {
    const trace = traceLot(studio, idParam(req))
    sendCsv(res, `lot-${trace.lotId}.csv`, lotTraceCsv(trace))
  })
  return router
}

function isFinished({ state }: CupTrace): boolean {
  return state !== "in work" && state !== "scrapped"
}

function cupId({ file }: Studio, serial: string): number {
  return file.firstText<{ id: number }>("SELECT id FROM cup WHERE serial = ?", [serial])!.id
}

/** Lots under their supply, as the supplies come. */
function bySupply(lots: ReturnType<typeof recentLots>) {
  const supplies = new Map<
    number,
    Pick<(typeof lots)[number], "supplyId" | "supply" | "ofSupply"> & { lots: typeof lots }
  >()
  for (const lot of lots) {
    const { supplyId, supply, ofSupply } = lot
    const known = supplies.get(supplyId)?.lots ?? []
    supplies.set(supplyId, { supplyId, supply, ofSupply, lots: [...known, lot] })
  }
  return [...supplies.values()].map((one) => ({ ...one, older: one.ofSupply - one.lots.length }))
}

/** Of more lots than this, the page shows the latest; the CSV has all. */
const LOTS_SHOWN = 100

function besidePage(counts: SupplyBeside) {
  const { any, lots, ages, ageNotKnown } = counts
  const cups = ({ bad, all }: { bad: number; all: number }) => `${bad} of ${all}`
  return {
    title: `${counts.supply}: side by side`,
    lead:
      any.withIt.all === 0
        ? "No finished or scrapped cup has any of it yet."
        : `Scrapped or complained of: ${cups(any.withIt)} cups with it, against ${cups(any.others)} without it.`,
    back: { to: "/trace", label: "Trace" },
    supplyId: counts.supplyId,
    filled: any.withIt.all > 0,
    any: [{ name: counts.supply, ...any }],
    lots: lots.slice(0, LOTS_SHOWN).map((lot) => ({
      ...lot,
      name: lot.number === null ? "no number" : `Lot ${lot.number}`,
      to: `/lots/${lot.lotId}`,
    })),
    olderLots: Math.max(0, lots.length - LOTS_SHOWN),
    ages: ages?.map((one) => ({ ...one, name: `Open ${sayOpenAge(one.age)}` })) ?? null,
    ageNotKnown: ageNotKnown.all,
  }
}

/** To a tenth of a percent, and never 100 while something is missing. */
function percent(share: number): number {
  return Math.floor(share * 1000) / 10
}

function drillPage(studio: Studio, lotId: number) {
  const trace = traceLot(studio, lotId)
  const { units } = settingsOf(studio)
  const traced = tracedOf(studio, trace)
  const { lost, balance, cups } = traced
  const missing = formatAmount(Math.abs(balance.unexplained), balance.baseUnit, units)
  return {
    title: "Trace this lot in under a minute",
    lead: `${trace.supply}, lot ${trace.number ?? "without a number"}.`,
    back: { to: "/trace", label: "Trace" },
    lotId,
    startedAt: studio.now().toString(),
    traced,
    tracedPercent: percent(cups === 0 ? 1 : traced.traced / cups),
    accountedPercent: percent(traced.accounted),
    reasons: [
      ...(lost.length === 0
        ? []
        : [
            `${lost.length === 1 ? "One cup was" : `${lost.length} cups were`} sent without a buyer's name, so nobody can be written to: ${lost.map((cup) => cup.serial).join(", ")}. Put the name on the order.`,
          ]),
      ...(balance.unexplained === 0
        ? []
        : [
            `${missing} ${balance.unexplained > 0 ? "are missing" : "too much were found"} by counts. What was spilled or given away can still be said on the bottle's page.`,
          ]),
    ],
    groups: whereNow(trace.cups),
  }
}

function leadOfLot({ cups }: LotTrace, buyers: readonly BuyerToTell[]): string {
  if (cups.length === 0) return "No cup has anything of this lot."
  const where = whereNow(cups).map((group) => `${group.cups.length} ${group.where.toLowerCase()}`)
  return `In ${cups.length} ${cups.length === 1 ? "cup" : "cups"}: ${where.join(", ")}.${toTell(buyers)}`
}

function toTell(buyers: readonly BuyerToTell[]): string {
  if (buyers.length === 0) return ""
  const left = buyers.filter((buyer) => buyer.told === null).length
  if (left === 0) return " All told."
  const orders = left === 1 ? "One order" : `${left} orders`
  return left === buyers.length
    ? ` ${orders} to write to.`
    : ` ${orders} left to write to, of ${buyers.length}.`
}

function sendCsv(res: Response, name: string, body: string): void {
  res.attachment(name).type("text/csv").send(body)
}
