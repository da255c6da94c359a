import express, { type Router } from "express"
import { z } from "zod"
import { smallestCoin } from "../domain/money.ts"
import { SUPPLY_KINDS } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { roundParts } from "../domain/rounding.ts"
import { saidAmounts } from "../domain/said-amounts.ts"
import { parseStudioCode } from "../domain/studio-code.ts"
import { fieldUnit, formatAmount } from "../domain/units.ts"
import { weightMg } from "../domain/weighing.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { containerByCode, countFields, KINDS, LEVELS, placesOf, readCount } from "../shelf/service.ts"
import { by } from "../web/device.ts"
import { checkbox, idempotencyKey, oneOf, optionalText, orEmpty, text } from "../web/fields.ts"
import { codeParam, formPage, formPost, idParam } from "../web/forms.ts"
import {
  countLine,
  endStocktake,
  type Stocktake,
  startStocktake,
  stocktake,
  stocktakes,
  whatOf,
} from "./service.ts"
import { LATELY_DAYS, worthCounting } from "./worth.ts"

const StartForm = z.object({
  key: idempotencyKey,
  kind: orEmpty(oneOf(SUPPLY_KINDS, "Kind")),
  place: optionalText(40, "Place"),
  blind: checkbox,
})
const LineForm = z.object({ key: idempotencyKey, ...countFields })
const EndForm = z.object({ key: idempotencyKey, how: oneOf(["accepted", "dropped"], "What to do") })

/** Counting the shelf: scan, then weigh, look or count; review; accept. */
export function countingRoutes(studio: Studio): Router {
  const router = express.Router()
  formPage(router, {
    path: "/counting",
    view: "counting/counting",
    show: () => {
      const all = stocktakes(studio)
      return {
        title: "Count",
        lead: "Count what stands there, look at the differences, then accept them.",
        open: all.filter((one) => one.ended === null).map(named),
        past: all.filter((one) => one.ended !== null).map(named),
        kinds: KINDS,
        places: placesOf(studio).map((one) => one.place),
        worth: worthCounting(studio),
        latelyDays: LATELY_DAYS,
      }
    },
    form: StartForm,
    save: (input, _req, res) => {
      const done = startStocktake(studio, by(res, input.key), {
        kind: input.kind,
        place: input.place === "" ? null : input.place,
        blind: input.blind,
      })
      res.saved(`${done.summary}.`, {
        to: `/counting/${done.answer.id}`,
        undo: done.actionId,
        undoTo: "/counting",
      })
    },
  })
  router.get("/counting/:id", (req, res) => {
    res.page("counting/count", countPage(studio, idParam(req)))
  })
  formPost(
    router,
    {
      path: "/counting/:id/find",
      form: z.object({ code: text(60, "The code") }),
      save: (input, req, res) => {
        const parsed = parseStudioCode(input.code)
        if (parsed?.kind !== "container")
          throw new Refusal("That is no code of a container. Scan the studio's own label on it.", {
            field: "code",
          })
        const { code } = containerByCode(studio, parsed.code)
        res.redirect(303, `/counting/${idParam(req)}/containers/${code}`)
      },
    },
    { view: "counting/count", show: (req) => countPage(studio, idParam(req)) },
  )
  formPage(router, {
    path: "/counting/:id/containers/:code",
    view: "counting/line",
    show: (req) => linePage(studio, idParam(req), codeParam(req)),
    form: LineForm,
    save: (input, req, res) => {
      const id = idParam(req)
      const container = containerByCode(studio, codeParam(req))
      const found = { code: container.code, ...readCount(studio, container, input) }
      const done = countLine(studio, by(res, input.key), { stocktakeId: id, ...found })
      res.saved(`${container.supply} is counted. Scan the next one.`, {
        to: `/counting/${id}`,
        undo: done.actionId,
      })
    },
  })
  formPost(router, {
    path: "/counting/:id/end",
    form: EndForm,
    save: (input, req, res) => {
      const id = idParam(req)
      const done = endStocktake(studio, by(res, input.key), { stocktakeId: id, how: input.how })
      res.saved(`${done.summary}.`, { to: `/counting/${id}`, undo: done.actionId })
    },
  })
  return router
}

function countPage(studio: Studio, id: number) {
  const count = stocktake(studio, id)
  const counted = count.lines.filter((line) => line.counted !== null)
  const different = counted.filter((line) => line.counted?.difference.amount !== 0)
  // to the smallest coin, so that what is missing in all is what its lines add up to
  const money = roundParts(
    different.map((line) => line.counted?.difference.costMicro ?? 0),
    smallestCoin(settingsOf(studio).currency),
  )
  return {
    title: `Count of ${whatOf(count)}`,
    lead: leadOf(count, counted.length, different.length),
    back: { to: "/counting", label: "Count" },
    count,
    goesOn: count.ended === null,
    /** counted again while it goes on; afterwards a container's own page says what became of it */
    linesAt: count.ended === null ? `/counting/${count.id}/containers` : "/containers",
    lostMicro: 0 - money.reduce((sum, micro) => sum + micro, 0),
    different: different.map((line, index) => ({
      ...line,
      costMicro: money[index] ?? 0,
      more: (line.counted?.difference.amount ?? 0) > 0,
      by: Math.abs(line.counted?.difference.amount ?? 0),
    })),
    // the next to count first; what is counted stays below
    todo: count.lines.filter((line) => line.counted === null),
    done: counted,
  }
}

function leadOf(count: ReturnType<typeof stocktake>, counted: number, different: number): string {
  if (count.ended !== null) return `This count was ${count.ended}.`
  const { length } = count.lines
  if (length > 0) return `${counted} of ${length} counted${counted > 0 ? `, ${different} different` : ""}.`
  const what = count.kind === null ? "nothing" : `no ${count.kind}`
  return `By the book ${what} stands ${count.place === null ? "on the shelf" : `at ${count.place}`}. Scan what you find, or drop this count.`
}

function linePage(studio: Studio, id: number, code: string) {
  const count = stocktake(studio, id)
  const container = containerByCode(studio, code)
  const { units } = settingsOf(studio)
  const said = saidAmounts(container, units)
  return {
    title: container.supply,
    lead: [
      container.code,
      container.lotNumber === null ? "" : `lot ${container.lotNumber}`,
      container.place ?? "",
    ]
      .filter(Boolean)
      .join(", "),
    back: { to: `/counting/${count.id}`, label: "The count" },
    container,
    blind: count.blind,
    asks: said.asks,
    unit: said.unit,
    hint: said.hint,
    bookSays: said.say(container.amountLeft),
    levels:
      said.asks !== null
        ? []
        : LEVELS.map(({ value, label, share }) => ({
            value,
            label,
            is: said.say(Math.round(container.fullAmount * share)),
          })),
    isWeighed: weightMg(container.fullAmount, container.baseUnit, container.densityMgPerMl) !== null,
    scaleUnit: fieldUnit("mg", units),
    emptyWeight: container.emptyMg === null ? null : formatAmount(container.emptyMg, "mg", units),
  }
}

function named(count: Stocktake) {
  return { ...count, what: whatOf(count) }
}
