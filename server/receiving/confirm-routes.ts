import type { Request, Router } from "express"
import { z } from "zod"
import { parseDate } from "../domain/dates.ts"
import { cautionsFor, isHazard } from "../domain/hazards.ts"
import { parseMoney } from "../domain/money.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type PackInfo, packById, setOffer } from "../supplies/service.ts"
import {
  checkbox,
  count,
  id,
  idempotencyKey,
  oneOf,
  optionalText,
  orRefuse,
  rows,
  text,
} from "../web/fields.ts"
import { type FormState, formPage, readQuery } from "../web/forms.ts"
import { address } from "./address.ts"
import { type Delivery, deliveryById } from "./deliveries.ts"
import type { LabelledLot } from "./lots.ts"
import { awaited, isKit, suppliesOf } from "./receive.ts"
import { receive } from "./service.ts"
import { hazardsOf, likelyPrice, likelyUnnumbered, priceField } from "./suggest.ts"

const ConfirmQuery = z.object({ delivery: id, pack: id })

const label = {
  number: optionalText(80, "The lot number"),
  none: checkbox,
  expires: optionalText(40, "The expiry date"),
  made: optionalText(40, "The made-on date"),
}
const ConfirmForm = z.object({
  key: idempotencyKey,
  count: count(1000, "How many came"),
  price: text(30, "The price of one"),
  /** one label for both halves of a kit, or one each */
  lotsAre: oneOf(["one", "each"]).default("each"),
  shared: z.object(label).optional(),
  lots: rows(z.object({ supplyId: id, ...label }), { max: 50, blankWhen: "supplyId", what: "lots" }),
})
type Label = z.output<z.ZodObject<typeof label>>

/** The panel that confirms one thing of a delivery. */
export function confirmRoutes(router: Router, studio: Studio): void {
  formPage(router, {
    path: "/receive/confirm",
    view: "receiving/confirm",
    show: (req, state) => confirmModel(studio, req, state),
    form: ConfirmForm,
    save: (form, req, res) => {
      const { delivery: deliveryId, pack: packId } = readQuery(ConfirmQuery, req)
      const pack = packById(studio, packId)
      const delivery = deliveryById(studio, deliveryId)
      const price = orRefuse(parseMoney(form.price, settingsOf(studio).currency), "price")
      const shared = form.lotsAre === "one" && isKit(pack)
      const done = inSharedFields(shared, () =>
        receive(
          studio,
          { device: "this computer", key: form.key },
          {
            deliveryId,
            packId,
            count: form.count,
            priceMicro: price.micro,
            lots: lotsOf(pack, form, shared),
          },
        ),
      )
      keepFirstOffer(studio, pack, delivery, price.micro)
      res.saved(`${done.summary}.`, {
        to: address("/receive", { delivery: deliveryId }),
        undo: done.actionId,
        also: [writeOn(done.answer.containers)],
      })
    },
  })
}

/** The seller's price list learns what was paid, as long as it says nothing of this pack. */
function keepFirstOffer(studio: Studio, pack: PackInfo, { sellerId }: Delivery, priceMicro: number): void {
  if (sellerId === null || pack.offers.some((offer) => offer.sellerId === sellerId)) return
  setOffer(studio, pack.id, { sellerId, priceMicro })
}

function writeOn(containers: readonly { code: string; supply: string }[]): string {
  const codes = containers.map((one) => one.code)
  const [first, second] = codes
  if (second === undefined) return `Write ${first} on it.`
  if (codes.length <= 6) return `Write on them: ${codes.join(", ")}.`
  return `Write on them: ${codes.slice(0, 5).join(", ")} and ${codes.length - 5} more; all are in the list.`
}

function lotsOf(pack: PackInfo, form: z.output<typeof ConfirmForm>, shared: boolean): LabelledLot[] {
  if (shared) {
    if (form.shared === undefined)
      throw new Refusal("Put the lot number, or tick “none printed”.", { field: "shared[number]" })
    const one = readLabel(form.shared, "shared")
    return suppliesOf(pack).map((supplyId) => ({ supplyId, ...one }))
  }
  return form.lots.map((lot, index) => ({ supplyId: lot.supplyId, ...readLabel(lot, `lots[${index}]`) }))
}

/** A number that is written counts, whatever is ticked beside it. */
function readLabel(lot: Label, field: string): Omit<LabelledLot, "supplyId"> {
  if (lot.number === "" && !lot.none)
    throw new Refusal("Put the lot number, or tick “none printed”.", { field: `${field}[number]` })
  const date = (text: string, part: string, monthMeans: "first day" | "last day") =>
    text === "" ? null : orRefuse(parseDate(text, monthMeans), `${field}[${part}]`).date
  return {
    number: lot.number === "" ? null : lot.number,
    expiresOn: date(lot.expires, "expires", "last day"),
    // of a month alone the earlier day is the careful one
    madeOn: date(lot.made, "made", "first day"),
  }
}

/** The service names the fields of its input; the sentence stands beside those of the page. */
function inSharedFields<T>(shared: boolean, work: () => T): T {
  try {
    return work()
  } catch (error) {
    if (!(error instanceof Refusal) || error.field === undefined) throw error
    const field = error.field.replace("[expiresOn]", "[expires]").replace("[madeOn]", "[made]")
    throw new Refusal(error.message, {
      field: shared ? field.replace(/^lots\[\d+\]/, "shared") : field,
      status: error.status,
    })
  }
}

function confirmModel(studio: Studio, req: Request, state: FormState | null) {
  const query = readQuery(ConfirmQuery, req)
  const delivery = deliveryById(studio, query.delivery)
  const pack = packById(studio, query.pack)
  const coming = awaited(studio, pack.id)
  const lots = suppliesOf(pack).map((supplyId) => {
    const content = pack.contents.find((one) => one.supplyId === supplyId)!
    return { supplyId, supply: content.supply, none: likelyUnnumbered(studio, pack.id, content) }
  })
  const kit = isKit(pack)
  return {
    title: pack.name,
    lead: pack.maker === null ? undefined : `Made by ${pack.maker}.`,
    back: { to: address("/receive", { delivery: delivery.id }), label: "Delivery" },
    action: address("/receive/confirm", { delivery: delivery.id, pack: pack.id }),
    contents: pack.contents,
    coming,
    count: coming?.missing ?? 1,
    price: priceField(likelyPrice(studio, pack, delivery.sellerId)),
    currency: settingsOf(studio).currency,
    isKit: kit,
    sameWords: lots.length === 2 ? "The same on both" : "The same on all",
    lotsAre: state?.values.lotsAre?.[0] ?? "one",
    sharedNone: lots.every((lot) => lot.none),
    lots,
    cautions: storeCautions(studio, pack),
  }
}

/** Only for what carries a hazard: a box of lids needs no warning. */
function storeCautions(studio: Studio, pack: PackInfo): readonly string[] {
  const hazards = hazardsOf(studio, pack).filter(isHazard)
  if (hazards.length === 0) return []
  const burns = hazards.includes("aerosol") || hazards.includes("flammable-liquid")
  const store = burns
    ? ["Store it cool, upright and locked away from heaters, sun, sparks and curing ovens."]
    : []
  return [...store, ...cautionsFor(hazards)]
}
