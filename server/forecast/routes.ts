import express, { type Request, type Router } from "express"
import { z } from "zod"
import { designs } from "../designs/service.ts"
import { sayDate } from "../domain/dates.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { addOrder } from "../orders/service.ts"
import { count, id, idempotencyKey, isoDay, oneOf } from "../web/fields.ts"
import { type FormState, formPost, readForm } from "../web/forms.ts"
import { type AnswerLine, type ForecastAnswer, forecast, type WhatIf, whatIf } from "./service.ts"

const Draft = z.object({
  designId: id,
  quantity: count(500, "How many cups"),
  dueOn: isoDay("Due date"),
})
const Keep = Draft.extend({ key: idempotencyKey, state: oneOf(["draft", "planned"], "Draft or planned") })

/** What runs short of the planned orders, and what one more order would change. */
export function forecastRoutes(studio: Studio): Router {
  const router = express.Router()
  router.get("/forecast", (_req, res) => {
    res.page("forecast/forecast", page(studio, null, null))
  })
  // Asking keeps nothing, but it is a form all the same: what was typed stays when it cannot be read.
  formPost(
    router,
    {
      path: "/forecast",
      form: Draft,
      save: (draft, _req, res) => {
        if (draft.dueOn < todayOf(studio)) {
          throw new Refusal("That day is past. Put the day by which the buyer wants the cups.", {
            field: "dueOn",
          })
        }
        res.page("forecast/forecast", page(studio, whatIf(studio, [draft]), draft))
      },
    },
    {
      view: "forecast/forecast",
      show: (_req: Request, _state: FormState | null) => page(studio, null, null),
    },
  )
  router.post("/forecast/keep", (req, res) => {
    const { key: _key, state, ...line } = readForm(Keep, req.body)
    addOrder(studio, { buyerId: null, state, note: "", lines: [{ ...line, note: "" }] })
    res.saved(`Kept as a ${state} order.`, { to: "/forecast" })
  })
  return router
}

function page(studio: Studio, ask: WhatIf | null, draft: z.output<typeof Draft> | null) {
  const now = ask?.without ?? forecast(studio)
  return {
    title: "What runs short",
    lead: sentence(now),
    lines: now.lines.map((line) => ({ ...line, says: lineSays(line, now) })),
    shortfalls: now.shortfalls,
    turners: turnersSay(now),
    unused: now.unused,
    designs: designs(studio).map((design) => ({ value: design.designId, label: design.name })),
    asked:
      ask && draft
        ? {
            draft,
            says: ask.asked.map((line) => lineSays(line, ask.with)).join(" "),
            adds: ask.adds,
            costMicro: ask.costMicro,
            takesFrom: ask.takesFrom,
            turners: turnersSay(ask.with),
          }
        : null,
  }
}

/** The answer in words: "Enough for 31 of 40 cups; hardener stops you on Tue 8 Dec." */
function sentence(answer: ForecastAnswer): string {
  const cups = answer.lines.reduce((sum, line) => sum + line.cups, 0)
  const covered = answer.lines.reduce((sum, line) => sum + line.covered, 0)
  if (cups === 0) return "No planned order is open, so nothing can run short."
  const first = answer.shortfalls[0]
  if (!first) return `Enough for all ${cups} cups that are planned.`
  return `Enough for ${covered} of ${cups} cups; ${first.supply} stops you on ${sayDate(first.firstOn, answer.today)}.`
}

function lineSays(line: AnswerLine, answer: ForecastAnswer): string {
  if (line.problem !== null) return line.problem
  const until =
    line.startBy === null
      ? ""
      : ` Start by ${sayDate(line.startBy, answer.today)}${line.late ? ", which is past: it will be late" : ""}.`
  if (line.covered === line.cups) return `Enough for all ${line.cups}.${until}`
  const stop = answer.shortfalls.find((short) => short.supplyId === line.stops?.supplyId)
  return `Enough for ${line.covered} of ${line.cups}; ${stop?.supply ?? "something"} stops you on ${sayDate(line.stops?.on ?? answer.today, answer.today)}.${until}`
}

function turnersSay({ turners, today }: ForecastAnswer): string {
  const hours = (minutes: number) => Math.round(minutes / 60)
  if (turners.tooMuch === null) {
    return turners.neededMin === 0
      ? "Nothing is waiting for a turner."
      : `The ${turners.places} turner places can do it, as far as this rough check sees: ${hours(turners.neededMin)} place-hours are needed.`
  }
  const { readyOn, neededMin, placesMin } = turners.tooMuch
  return `The turners cannot do it: by ${sayDate(readyOn, today)} ${hours(neededMin)} place-hours are needed and ${hours(placesMin)} are there.`
}
