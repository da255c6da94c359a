import type { Router } from "express"
import { z } from "zod"
import { sayDate } from "../domain/dates.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { suppliesList } from "../supplies/service.ts"
import { by } from "../web/device.ts"
import { idempotencyKey, oneOf, optionalText, orEmpty, text } from "../web/fields.ts"
import { type FormState, formPage, readQuery } from "../web/forms.ts"
import { OTHER_REASON, readReason, WASTE_REASONS } from "./reasons.ts"
import { MOST_THROWN_OUT, type ShelfFilter, shelf, throwOut } from "./service.ts"
import { leftOf, ShelfQuery } from "./shelf-page.ts"
import { counted, discardWordsOf } from "./words.ts"

/** Why a container past its day goes: not spilled, and not a test piece. */
const REASONS = [
  ...WASTE_REASONS.filter(({ kind }) => kind === "write-off").map(({ word }) => word),
  OTHER_REASON,
]

const codes = z.preprocess(
  (raw) => [raw ?? []].flat().filter((one) => one !== ""),
  z
    .array(text(60, "The code"))
    .min(1, "Tick what goes out first.")
    .max(MOST_THROWN_OUT, `At most ${MOST_THROWN_OUT} go out at once.`),
)
const ThrowOut = z.object({
  key: idempotencyKey,
  codes,
  why: orEmpty(oneOf(REASONS, "Why it goes")),
  reason: optionalText(300, "In words"),
})

/** What is past its day, looked through once and thrown out with one tap. */
export function throwOutRoutes(router: Router, studio: Studio): void {
  formPage(router, {
    path: "/shelf/throw-out",
    view: "shelf/throw-out",
    show: (req, state) => throwOutPage(studio, readQuery(ShelfQuery, req), state),
    form: ThrowOut,
    save: (input, _req, res) => {
      // what to mind is asked before it is gone
      const also = discardWordsOf(
        suppliesPast(studio, {}).filter((one) =>
          one.containers.some(({ code }) => input.codes.includes(code)),
        ),
      )
      const thrown = { codes: input.codes, ...readReason({ ...input, kind: null }) }
      const done = throwOut(studio, by(res, input.key), thrown)
      res.saved(`${done.summary}.`, { to: "/shelf?show=expired", undo: done.actionId, also })
    },
  })
}

function throwOutPage(studio: Studio, asked: ShelfFilter, state: FormState | null) {
  const { units } = settingsOf(studio)
  const today = todayOf(studio)
  const ticked = state === null ? null : new Set(state.values.codes)
  const supplies = suppliesPast(studio, asked)
  const count = supplies.reduce((n, one) => n + one.containers.length, 0)
  let room = MOST_THROWN_OUT
  const shown = supplies.flatMap(({ supply, containers, sheet }) => {
    const some = containers.slice(0, room)
    room -= some.length
    if (some.length === 0) return []
    return {
      supply,
      containers: some.map((one) => ({
        code: one.code,
        left: leftOf(one, sheet, units),
        wentOff: one.useBy === null ? "" : sayDate(one.useBy, today),
        held: one.held,
        // held: it may have to go back to its maker, so the person ticks it
        ticked: ticked?.has(one.code) ?? !one.held,
      })),
    }
  })
  return {
    title: "Throw out what is past its day",
    lead:
      count === 0
        ? "Nothing here is past its day."
        : `${counted(count, "container is", "containers are")} past the day to use ${count === 1 ? "it" : "them"} by. Untick what stays; all that is left in the others leaves the book together.`,
    back: { to: "/shelf?show=expired", label: "What has expired" },
    supplies: shown,
    more: count > MOST_THROWN_OUT ? count - MOST_THROWN_OUT : 0,
    someHeld: shown.some(({ containers }) => containers.some(({ held }) => held)),
    discard: discardWordsOf(supplies),
    problem: state?.problems.find(({ field }) => field?.startsWith("codes"))?.sentence ?? null,
    reasons: REASONS,
  }
}

/** Supplies with the containers of them that are past their day, and their hazards. */
function suppliesPast(studio: Studio, { search, kind }: ShelfFilter) {
  const hazards = new Map(suppliesList(studio).map((supply) => [supply.id, supply.hazards]))
  return shelf(studio, { search: search ?? "", kind: kind ?? null, show: "expired" }).supplies.map((one) => ({
    ...one,
    hazards: hazards.get(one.supplyId) ?? [],
    containers: one.lots.flatMap(({ containers }) => containers),
  }))
}
