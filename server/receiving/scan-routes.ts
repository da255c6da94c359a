import type { Request, Response, Router } from "express"
import { z } from "zod"
import { act } from "../ledger/act.ts"
import { changed } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import { addCodeToPack, packById } from "../supplies/service.ts"
import { by } from "../web/device.ts"
import { chosen, count, id, idempotencyKey, orEmpty } from "../web/fields.ts"
import { formPage, readQuery } from "../web/forms.ts"
import { address } from "./address.ts"
import { type Delivery, deliveryById } from "./deliveries.ts"
import { deliveryPage, deliveryToScanInto } from "./delivery-page.ts"
import { inAddress, lookUp, type Scan, type ScanAnswer, scanFields } from "./scan.ts"

const ScanQuery = z.object({ ...scanFields, delivery: orEmpty(id) })
const CartonQuery = z.object({ ...scanFields, delivery: id })
const CartonForm = z.object({
  key: idempotencyKey,
  packId: chosen("Which of them is in it"),
  count: count(1000, "How many are in it", 2),
})

/** From a code to the page that goes on with it. */
export function scanRoutes(router: Router, studio: Studio): void {
  // The page's own script asks here what a scan means, and then fetches the page it is told.
  router.get("/receive/lookup", (req, res) => {
    const scan = readQuery(ScanQuery, req)
    const answer = lookUp(studio, scan)
    res.json({ kind: answer.kind, ...whereTo(answer, deliveryIn(studio, req), scan) })
  })
  // The same for a code that was typed where no script runs.
  router.get("/receive/scan", (req, res) => {
    const scan = readQuery(ScanQuery, req)
    const delivery = deliveryIn(studio, req)
    const { to, sentence } = whereTo(lookUp(studio, scan), delivery, scan)
    if (to !== null) return res.redirect(303, to)
    showAgain(res, scan.code, sentence ?? "", deliveryPage(studio, delivery))
  })
  router.get("/receive/which", (req, res) => {
    const scan = readQuery(ScanQuery, req)
    const model = whichModel(lookUp(studio, scan), deliveryIn(studio, req), scan)
    if (model === null) return res.redirect(303, address("/receive/scan", inAddress(scan)))
    res.page("receiving/which", model)
  })
  router.get("/receive/own", (req, res) => {
    const scan = readQuery(ScanQuery, req)
    const answer = lookUp(studio, scan)
    if (answer.kind !== "own" && answer.kind !== "place")
      return res.redirect(303, address("/receive/scan", inAddress(scan)))
    res.page("receiving/own", ownModel(answer, deliveryIn(studio, req)))
  })
  formPage(router, {
    path: "/receive/carton",
    view: "receiving/carton",
    show: (req) => cartonModel(studio, readQuery(CartonQuery, req)),
    form: CartonForm,
    save: (form, req, res) => {
      const { delivery, ...scan } = readQuery(CartonQuery, req)
      const code = cartonModel(studio, { ...scan, delivery }).code
      const { packId } = form
      act(studio, "set up", by(res, form.key), { code, packId, count: form.count }, (now) => {
        const { name } = packById(studio, packId)
        changed(now, "pack", packId, () => addCodeToPack(studio, packId, code, form.count))
        return { summary: `The code ${code} is now a carton of ${form.count} × ${name}`, answer: packId }
      })
      res.redirect(303, address("/receive/confirm", { delivery, pack: packId, ...inAddress(scan) }))
    },
  })
}

/** The delivery an address speaks of, or the one that is open. */
function deliveryIn(studio: Studio, req: Request): Delivery | null {
  const { delivery } = readQuery(z.object({ delivery: orEmpty(id) }), req)
  return delivery === null ? deliveryToScanInto(studio) : deliveryById(studio, delivery)
}

/** Where a scan leads, or the sentence to show in its place. */
function whereTo(
  answer: ScanAnswer,
  delivery: Delivery | null,
  scan: Scan,
): { to: string | null; sentence: string | null } {
  if (answer.kind === "bad") return { to: null, sentence: answer.sentence }
  if (answer.kind === "own") return { to: address("/receive/own", { code: answer.code }), sentence: null }
  if (answer.kind === "place") return { to: address("/receive/own", { code: scan.code }), sentence: null }
  if (delivery === null || delivery.closed)
    return { to: null, sentence: "Begin a delivery first, then scan what is in it." }
  const here = { delivery: delivery.id }
  const to = (path: string, query: Record<string, string | number | null>) => ({
    to: address(path, { ...here, ...query }),
    sentence: null,
  })
  switch (answer.kind) {
    case "pack":
      return to("/receive/confirm", { pack: answer.pack.id, ...(answer.saysMore ? inAddress(scan) : {}) })
    case "packs":
    case "ask":
      return to("/receive/which", inAddress(scan))
    case "carton":
      return to("/receive/carton", inAddress(scan))
    case "unknown":
      return to("/receive/new", inAddress(scan))
  }
}

function showAgain(
  res: Response,
  code: string,
  sentence: string,
  model: ReturnType<typeof deliveryPage>,
): void {
  res.status(422)
  res.page("receiving/receive", model, {
    form: "scan",
    problems: [{ field: "code", sentence }],
    values: { code: [code] },
    typed: {},
  })
}

function whichModel(answer: ScanAnswer, delivery: Delivery | null, scan: Scan) {
  if (delivery === null) return null
  const here = { delivery: delivery.id }
  const frame = { back: { to: address("/receive", here), label: "Delivery" } }
  if (answer.kind === "packs") {
    return {
      ...frame,
      title: "Which of these is it?",
      lead: `The code ${answer.shown} is on more than one pack.`,
      choices: answer.packs.map((pack) => ({
        to: address("/receive/confirm", {
          ...here,
          pack: pack.id,
          ...(answer.saysMore ? inAddress(scan) : {}),
        }),
        label: pack.name,
        also: pack.maker,
      })),
    }
  }
  if (answer.kind === "ask") {
    return {
      ...frame,
      title: "Which code is it?",
      lead: answer.question,
      choices: answer.choices.map((choice) => ({
        to: address("/receive/scan", { ...here, code: choice.gtin14 }),
        label: choice.says,
        also: null,
      })),
    }
  }
  return null
}

const OWN = { container: "a container", cup: "a cup", mix: "a mix" } as const

function ownModel(answer: Extract<ScanAnswer, { kind: "own" | "place" }>, delivery: Delivery | null) {
  const back = { to: address("/receive", { delivery: delivery?.id ?? null }), label: "Delivery" }
  if (answer.kind === "place") {
    return {
      title: answer.place,
      lead: "This is one of your shelves.",
      back,
      to: address("/shelf/place", { name: answer.place }),
      label: `Go to ${answer.place}`,
    }
  }
  const what = OWN[answer.of]
  return {
    title: answer.code,
    lead:
      answer.name === null
        ? `This would be ${what} of yours, but none has this code. Look at it again.`
        : `This is ${what} of yours: ${answer.name}. It is in the book already.`,
    back,
    to: answer.name === null ? null : address("/go", { code: answer.code }),
    label: `Go to ${answer.code}`,
  }
}

/** The first carton of its kind: its number says what is in it and not how many. */
function cartonModel(studio: Studio, query: z.output<typeof CartonQuery>) {
  const { delivery: deliveryId, ...scan } = query
  const delivery = deliveryById(studio, deliveryId)
  const answer = lookUp(studio, scan)
  const packs =
    answer.kind === "carton" || answer.kind === "packs"
      ? answer.packs
      : answer.kind === "pack"
        ? [answer.pack]
        : []
  const code = "shown" in answer ? answer.code : scan.code
  const [first] = packs
  const name = packs.length === 1 ? first?.name : "one of these"
  return {
    title: "A carton",
    lead: `By its number it is a carton of ${name}. How many are in it? From then on its code says so.`,
    back: { to: address("/receive", { delivery: delivery.id }), label: "Delivery" },
    action: address("/receive/carton", { delivery: delivery.id, ...inAddress(scan) }),
    code,
    packs,
    only: packs.length === 1 ? (first?.id ?? null) : null,
    otherwise: address("/receive/new", { delivery: delivery.id, ...inAddress(scan) }),
  }
}
