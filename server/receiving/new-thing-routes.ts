import type { Request, Router } from "express"
import { z } from "zod"
import { SUPPLY_KINDS } from "../domain/plan.ts"
import { studioCodeProblem } from "../domain/studio-code.ts"
import { fieldAmount, fieldUnit } from "../domain/units.ts"
import { act } from "../ledger/act.ts"
import { changed } from "../ledger/row-change.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import {
  addCodeToPack,
  makers,
  type PackInfo,
  packById,
  packs,
  printedCode,
  type Supply,
  suppliesList,
} from "../supplies/service.ts"
import { by } from "../web/device.ts"
import { checkbox, count, id, idempotencyKey, oneOf, optionalText, orEmpty, text } from "../web/fields.ts"
import { type FormState, formPost, readQuery } from "../web/forms.ts"
import { address } from "./address.ts"
import { dateField } from "./confirm-page.ts"
import { type Delivery, deliveryById } from "./deliveries.ts"
import { type LabelFacts, labelFacts } from "./label-facts.ts"
import { inAddress, keptForm, scanFieldsOrNone, scanIn } from "./scan.ts"
import { hasAll, packsCalled, pictureOf } from "./suggest.ts"
import { addDescribed, thingOf } from "./things.ts"

const NewQuery = scanFieldsOrNone.extend({
  delivery: id,
  q: optionalText(80, "What to look for"),
  // a supply that is known, but not how it is sold
  supply: orEmpty(id),
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
        const { scan, code, confirm } = asked(studio, req)
        const { packId } = form
        const { name } = packById(studio, packId)
        if (scan !== null && code !== null) {
          act(studio, "set up", by(res, form.key), { code, packId }, (now) => {
            changed(now, "pack", packId, () => addCodeToPack(studio, packId, code))
            return { summary: `The code ${code} is now one of ${name}`, answer: packId }
          })
        }
        res.redirect(303, confirm(packId))
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
        const { code, confirm } = asked(studio, req)
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
        res.redirect(303, confirm(done.answer))
      },
    },
    page,
  )
}

/** What the page was asked about: the code as it is kept, and where it goes on once the pack is known. */
function asked(studio: Studio, req: Request) {
  const query = readQuery(NewQuery, req)
  const scan = scanIn(query)
  const says = scan !== null && labelFacts(studio, scan, null) !== null
  return {
    ...query,
    scan,
    code: scan === null ? null : keptForm(scan),
    confirm: (pack: number) =>
      address("/receive/confirm", { delivery: query.delivery, pack, ...inAddress(says ? scan : null) }),
  }
}

function newModel(studio: Studio, req: Request, state: FormState | null) {
  const { delivery: deliveryId, q, scan, code, supply: chosenId } = asked(studio, req)
  const delivery = deliveryById(studio, deliveryId)
  const all = packs(studio)
  const found = q === "" ? likely(all, code, delivery) : packsCalled(all, q)
  const here = { delivery: delivery.id, ...inAddress(scan) }
  const facts = scan === null ? null : labelFacts(studio, scan, null)
  const shown = code === null && q === "" ? found : found.slice(0, MOST_SHOWN)
  const supplies = suppliesList(studio)
  const chosen = supplies.find((supply) => supply.id === chosenId)
  const unpacked = unpackedOf(supplies, all)
    .filter(({ name }) => hasAll(name, q))
    .slice(0, MOST_SHOWN)
  const isNothing = q !== "" && found.length === 0 && unpacked.length === 0
  return {
    title: code === null ? "Find it by name" : "What is it?",
    lead: leadFor(code),
    back: { to: address("/receive", { delivery: delivery.id }), label: "Delivery" },
    code: code === null ? null : printedCode(code),
    raw: inAddress(scan),
    delivery,
    q,
    facts: facts === null ? null : factWords(studio, facts),
    doubts: facts?.doubts ?? [],
    name: chosen?.name ?? (isNothing ? q : ""),
    holds: (facts === null ? "" : holdsField(studio, facts)) || (chosen ? lastHeld(studio, chosen) : ""),
    unpacked: unpacked.map(({ id, name, kind }) => ({ id, name, picture: `kind-${kind}` })),
    found: shown.map((pack) => ({ ...pack, ...pictureOf(pack, supplies) })),
    more: found.length - shown.length,
    anyKnown: supplies.length > 0,
    chosen: chosen !== undefined,
    knownAction: address("/receive/new/known", here),
    describeAction: address("/receive/new/described", here),
    describing: state?.form === "describe" || supplies.length === 0 || isNothing || chosen !== undefined,
    describingKit: ["name", "kind", "holds"].some(
      (part) => (state?.values[`second[${part}]`]?.[0] ?? "") !== "",
    ),
    kinds: kindChoices(),
    supplies: supplies.map((supply) => supply.name),
    makers: makers(studio).map((maker) => maker.name),
  }
}

function leadFor(code: string | null): string {
  if (code === null) return "Choose what came, or describe it if it is new."
  const doubt = studioCodeProblem(code)
  return `The code ${printedCode(code)} is not known yet.${doubt === null ? "" : ` ${doubt}`}`
}

/** All that the code says, to read while it is described. */
function factWords(studio: Studio, facts: LabelFacts): { what: string; says: string }[] {
  const holds = holdsField(studio, facts)
  return [
    ...(facts.packs > 1 ? [{ what: "In a carton", says: String(facts.packs) }] : []),
    ...(holds === "" ? [] : [{ what: "Holds", says: holds }]),
    ...(facts.lot === null ? [] : [{ what: "Lot", says: facts.lot }]),
    ...(facts.expiresOn === null ? [] : [{ what: "Expires", says: dateField(facts.expiresOn) }]),
    ...(facts.madeOn === null ? [] : [{ what: "Made on", says: dateField(facts.madeOn) }]),
    ...(facts.serial === null ? [] : [{ what: "Serial", says: facts.serial }]),
    ...facts.partNumbers.map((says) => ({ what: "Part number", says })),
  ]
}

/** What one holds as the code says it, in the studio's units: "400 mL", "20 pcs". */
function holdsField(studio: Studio, facts: LabelFacts): string {
  const [content] = facts.contents
  if (content) {
    const unit = fieldUnit(content.baseUnit, settingsOf(studio).units)
    return `${fieldAmount(content.amount, unit)} ${unit}`
  }
  return facts.pieces === null ? "" : `${facts.pieces} pcs`
}

/**
 * Before anything is looked for: without a code in hand, things that have none come first, those that this seller
 * sells before others.
 */
function likely(all: readonly PackInfo[], code: string | null, { sellerId }: Delivery): PackInfo[] {
  const rank = (pack: PackInfo) =>
    (pack.codes.length === 0 ? 0 : 2) + (pack.offers.some((offer) => offer.sellerId === sellerId) ? 0 : 1)
  const ranked = all.toSorted((a, b) => rank(a) - rank(b))
  const uncoded = ranked.filter((pack) => pack.codes.length === 0)
  return code === null && uncoded.length > 0 ? uncoded : ranked
}

/** Supplies that are known, as from what was on the shelf on the first day, but of which no pack is. */
function unpackedOf(supplies: readonly Supply[], all: readonly PackInfo[]): Supply[] {
  const packed = new Set(all.flatMap((pack) => pack.contents.map(({ supplyId }) => supplyId)))
  return supplies.filter(({ id }) => !packed.has(id))
}

/** What a full one of it held the last time, as a field has it; "" if there was none. */
function lastHeld(studio: Studio, { id, baseUnit }: Supply): string {
  const last = studio.file.firstText<{ full: number }>(
    "SELECT full_amount AS full FROM container WHERE supply_id = ? ORDER BY id DESC LIMIT 1",
    [id],
  )
  if (!last) return ""
  const unit = fieldUnit(baseUnit, settingsOf(studio).units)
  return `${fieldAmount(last.full, unit)} ${unit}`
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
