import express, { type Router } from "express"
import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { count, id, optionalText, orEmpty, text } from "../web/fields.ts"
import { readQuery } from "../web/forms.ts"
import { type Label, pagesOf, SYMBOLS } from "./drawing.ts"
import { FORMAT_NAMES, FORMATS, perPage } from "./formats.ts"
import { isFirstDay, isMix, labelsOfCodes, labelsOfDelivery, labelsOfPlaces } from "./labels.ts"

const LabelsQuery = z.object({
  /** which ones: codes with commas between, all of a delivery, a shelf, or all shelves */
  codes: optionalText(4000, "The codes"),
  delivery: orEmpty(id),
  place: orEmpty(text(40, "The shelf")),
  format: z.enum(FORMAT_NAMES).catch("29x90"),
  symbol: z.enum(SYMBOLS).catch("qr"),
  start: count(100, "The first label", 1).catch(1),
})
type Query = z.output<typeof LabelsQuery>

/** Labels at their true size, from the browser's own print window. */
export function labelsRoutes(studio: Studio): Router {
  const router = express.Router()
  router.get("/labels", (req, res) => {
    const query = readQuery(LabelsQuery, req)
    const { labels, title, back } = asked(studio, query)
    const format = FORMATS[query.format]
    const start = Math.min(query.start, perPage(format))
    const pages = labels.length === 0 ? [] : pagesOf(labels, format, { start, symbol: query.symbol })
    res.page("labels/labels", {
      title,
      lead:
        labels.length === 0
          ? "There is nothing to print a label for."
          : `${labels.length === 1 ? "One label" : `${labels.length} labels`}, ${pages.length === 1 ? "one page" : `${pages.length} pages`}.`,
      back,
      query,
      start,
      isSheet: perPage(format) > 1,
      perPage: perPage(format),
      paper: `${format.page.width} × ${format.page.height} mm`,
      formats: FORMAT_NAMES.map((value) => ({ value, label: FORMATS[value].name })),
      symbols: [
        { value: "qr", label: "QR" },
        { value: "datamatrix", label: "DataMatrix" },
      ],
      style: `/labels/${query.format}.css`,
      pages,
    })
  })
  // the size of the paper cannot stand in the page itself, and differs by format
  router.get("/labels/:format.css", (req, res) => {
    const name = FORMAT_NAMES.find((one) => one === req.params.format)
    if (name === undefined) throw new Refusal("There is no such label.", { status: 404 })
    const { width, height } = FORMATS[name].page
    res.setHeader("Cache-Control", "private, max-age=3600")
    res.type("css").send(`@page { size: ${width}mm ${height}mm; margin: 0; }\n`)
  })
  return router
}

function asked(
  studio: Studio,
  query: Query,
): { labels: Label[]; title: string; back: { to: string; label: string } } {
  if (query.codes !== "") {
    const codes = query.codes.split(",").map((code) => code.trim().toUpperCase())
    const [first = "", ...more] = codes
    const room = isMix(first) ? "mixes" : "containers"
    const back =
      more.length === 0
        ? { to: `/${room}/${encodeURIComponent(first)}`, label: first }
        : { to: "/shelf", label: "Shelf" }
    return { labels: labelsOfCodes(studio, codes.filter(Boolean)), title: "Labels", back }
  }
  if (query.delivery !== null) {
    const labels = labelsOfDelivery(studio, query.delivery)
    if (isFirstDay(studio, query.delivery)) {
      const back = { to: "/receive/opening", label: "What is on the shelf today" }
      return { labels, title: "Labels of what was on the shelf", back }
    }
    const back = { to: `/receive?delivery=${query.delivery}`, label: "Delivery" }
    return { labels, title: "Labels of a delivery", back }
  }
  const back = { to: "/shelf", label: "Shelf" }
  return { labels: labelsOfPlaces(studio, query.place), title: "Labels for shelves", back }
}
