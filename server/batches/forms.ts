import { z } from "zod"
import {
  checkbox,
  chosen,
  count,
  id,
  idempotencyKey,
  oneOf,
  optionalText,
  orEmpty,
  rows,
  text,
} from "../web/fields.ts"
import { eachWeighed } from "./each-weighed-form.ts"
import { asPoured, cameFrom, poured, pouredBefore, weighed, weighedBefore } from "./measured-form.ts"
import { roomFields } from "./room.ts"
import { answers } from "./say.ts"
import { type Exception, MOST_CUPS } from "./service.ts"
import { CHOICE_TEXT } from "./substitutes.ts"

/** Checkboxes of one name; null when the form had none at all. */
const cupIds = z.preprocess(
  (raw) => (raw === undefined ? null : [raw].flat().filter((one) => one !== "")),
  z.array(id).max(MOST_CUPS).nullable(),
)
/** A tick box that was shown: ticked or not; undefined when it was not. Its hidden twin says that it was there. */
const scuff = z.preprocess(
  (raw) => (raw === undefined ? undefined : [raw].flat().includes("on")),
  z.boolean().optional(),
)
const happenedAt = orEmpty(text(40, "When"))

export const Start = z.object({
  key: idempotencyKey,
  versionId: id,
  cups: count(MOST_CUPS, "How many cups"),
  note: optionalText(200, "Note"),
})
export const Coat = z.object({
  key: idempotencyKey,
  position: id,
  cupIds,
  happenedAt,
  answers,
  poured,
  weighed,
  asPoured,
  scuff,
  /** one more coat of a layer that is on */
  again: checkbox,
  ...roomFields,
  /** kept before, by the page's script */
  photo: orEmpty(chosen("The photo")),
})
/** As `choiceText` writes it. */
export const Instead = z.object({
  key: idempotencyKey,
  insteadOf: z.string("Choose what is used.").regex(new RegExp(`^${CHOICE_TEXT}$`), "Choose what is used."),
})
export const Apart = z.object({ key: idempotencyKey, cupIds })
export const CupPhoto = z.object({ key: idempotencyKey, photo: chosen("The photo") })
export const Scrap = z.object({ key: idempotencyKey, cupId: id })

export const Measure = z.object({
  key: idempotencyKey,
  poured: pouredBefore,
  weighed: weighedBefore,
  from: cameFrom,
  each: eachWeighed,
  asPoured,
  heldMore: checkbox,
})
export const Strip = z.object({ key: idempotencyKey, cupIds, fromPosition: chosen("From which layer on") })

export const OUTCOMES = ["good", "second", "scrapped"] as const
/** How many are good; if not all, a line for each cup. */
export const Finish = z.object({
  key: idempotencyKey,
  good: orEmpty(count(MOST_CUPS, "How many good", 0)),
  outcomes: rows(
    z.object({
      cupId: id,
      outcome: oneOf(OUTCOMES, "What became of it"),
      afterLayer: orEmpty(count(100, "After which layer", 0)),
    }),
    { max: MOST_CUPS, blankWhen: "cupId", what: "cups" },
  ),
  scuff,
  happenedAt,
  answers,
})

/** How the cups came out that are not simply good; null while a scrapped one lacks the layer it got to. */
export function exceptionsOf(outcomes: z.output<typeof Finish>["outcomes"]): Exception[] | null {
  const exceptions: Exception[] = []
  for (const { cupId, outcome, afterLayer } of outcomes) {
    if (outcome === "second") exceptions.push({ cupId, outcome })
    if (outcome !== "scrapped") continue
    if (afterLayer === null) return null
    exceptions.push({ cupId, outcome, afterLayer })
  }
  return exceptions
}
