import type { Request, Router } from "express"
import { z } from "zod"
import { SUPPLY_KINDS } from "../domain/plan.ts"
import { studioCodeProblem } from "../domain/studio-code.ts"
import { act } from "../ledger/act.ts"
import { changed } from "../ledger/row-change.ts"
import type { Studio } from "../ledger/studio.ts"
import { addCodeToPack, makers, type PackInfo, packById, packs, suppliesList } from "../supplies/service.ts"
import { by } from "../web/device.ts"
import {
  checkbox,
  count,
  id,
  idempotencyKey,
  oneOf,
  optionalText,
  orEmpty,
  scanned,
  text,
} from "../web/fields.ts"
import { type FormState, formPost, readQuery } from "../web/forms.ts"
import { address } from "./address.ts"
import { type Delivery, deliveryById } from "./deliveries.ts"
import { packsCalled } from "./suggest.ts"
import { addDescribed, thingOf } from "./things.ts"

const NewQuery = z.object({
  delivery: id,
  /** none when it is found by name */
  code: orEmpty(scanned(200, "The code")),
  q: optionalText(80, "What to look for"),
})
const KnownForm = z.object({ key: idempotencyKey, packId: id })
const kind = orEmpty(oneOf(SUPPLY_KINDS, "What sort of thing"))
const DescribeForm = z.object({
  key: idempotencyKey,
  name: text(80, "What it is"),
  kind,
  holds: text(40, "How much one holds"),
  sprayCan: checkbox,
  containerCount: count(1000, "How many are in the pack"),
  makerName: optionalText(80, "The maker's name"),
  second: z
    .object({
      name: optionalText(80, "The second thing's name"),
      kind,
      holds: optionalText(40, "How much the second one holds"),
    })
    .default({ name: "", kind: null, holds: "" }),
})

const MOST_SHOWN = 12

/** "What is it?": a code nobody knows, or a thing without one. Both come back to the delivery, ready to confirm. */
export function newThingRoutes(router: Router, studio: Studio): void {
  const page = {
    view: "receiving/new",
    show: (req: Request, state: FormState | null) => newModel(studio, req, state),
  }
  router.get("/receive/new", (req, res) => {
    res.page(page.view, page.show(req, null))
  })
  formPost(
    router,
    {
      path: "/receive/new/known",
      form: KnownForm,
      save: (form, req, res) => {
        const { delivery, code } = readQuery(NewQuery, req)
        const { packId } = form
        const { name } = packById(studio, packId)
        if (code !== null) {
          act(studio, "set up", by(res, form.key), { code, packId }, (now) => {
            changed(now, "pack", packId, () => addCodeToPack(studio, packId, code))
            return { summary: `The code ${code} is now one of ${name}`, answer: packId }
          })
        }
        res.redirect(303, address("/receive/confirm", { delivery, pack: packId }))
      },
    },
    page,
  )
  formPost(
    router,
    {
      path: "/receive/new/described",
      form: DescribeForm,
      save: (form, req, res) => {
        const { delivery, code } = readQuery(NewQuery, req)
        const { key, ...described } = form
        const done = act(studio, "set up", by(res, key), { code, ...described }, (now) => {
          const packId = addDescribed(studio, now, {
            code,
            makerName: form.makerName === "" ? null : form.makerName,
            first: thingOf(studio, form),
            second:
              form.second.name === "" ? null : thingOf(studio, { ...form.second, sprayCan: false }, "second"),
            containerCount: form.containerCount,
          })
          return { summary: `${packById(studio, packId).name} is added to the packs`, answer: packId }
        })
        res.redirect(303, address("/receive/confirm", { delivery, pack: done.answer }))
      },
    },
    page,
  )
}

function newModel(studio: Studio, req: Request, state: FormState | null) {
  const { delivery: deliveryId, code, q } = readQuery(NewQuery, req)
  const delivery = deliveryById(studio, deliveryId)
  const all = packs(studio)
  const found = q === "" ? likely(all, code, delivery) : packsCalled(all, q)
  const here = { delivery: delivery.id, code }
  return {
    title: code === null ? "Find it by name" : "What is it?",
    lead: leadFor(code),
    back: { to: address("/receive", { delivery: delivery.id }), label: "Delivery" },
    code,
    delivery,
    q,
    found: found.slice(0, MOST_SHOWN),
    more: Math.max(0, found.length - MOST_SHOWN),
    anyPacks: all.length > 0,
    knownAction: address("/receive/new/known", here),
    describeAction: address("/receive/new/described", here),
    describing: state?.form === "describe" || all.length === 0 || (q !== "" && found.length === 0),
    kinds: kindChoices(),
    supplies: suppliesList(studio).map((supply) => supply.name),
    makers: makers(studio).map((maker) => maker.name),
  }
}

function leadFor(code: string | null): string {
  if (code === null) return "Choose what came, or describe it if it is new."
  const doubt = studioCodeProblem(code)
  return `The code ${code} is not known yet.${doubt === null ? "" : ` ${doubt}`}`
}

/** Before anything is looked for: things this seller sells; with a code in hand, those without one come first. */
function likely(all: readonly PackInfo[], code: string | null, { sellerId }: Delivery): PackInfo[] {
  const rank = (pack: PackInfo) =>
    (code !== null && pack.codes.length === 0 ? 0 : 2) +
    (pack.offers.some((offer) => offer.sellerId === sellerId) ? 0 : 1)
  return all.toSorted((a, b) => rank(a) - rank(b))
}

const KIND_WORDS: Record<(typeof SUPPLY_KINDS)[number], string> = {
  resin: "Resin (part A)",
  hardener: "Hardener (part B)",
  paint: "Paint",
  glitter: "Glitter",
  pigment: "Pigment",
  vinyl: "Vinyl",
  solvent: "Solvent, cleaner",
  abrasive: "Sandpaper, abrasive",
  blank: "Blank cup",
  consumable: "Used up at work (gloves, wipes)",
  packaging: "Goes with the cup (lid, box)",
  other: "Something else",
}

/** What sort of thing a supply is, as a person chooses it. */
export function kindChoices(): { value: string; label: string }[] {
  return SUPPLY_KINDS.map((value) => ({ value, label: KIND_WORDS[value] }))
}
