import type { Response, Router } from "express"
import { z } from "zod"
import { parseDate } from "../domain/dates.ts"
import { parseMoney } from "../domain/money.ts"
import { Refusal } from "../domain/refusal.ts"
import { fieldUnit, parseAmount } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type PackInfo, packById, setOffer } from "../supplies/service.ts"
import { by } from "../web/device.ts"
import {
  checkbox,
  count,
  id,
  idempotencyKey,
  oneOf,
  optionalText,
  orEmpty,
  orRefuse,
  rows,
} from "../web/fields.ts"
import { formPage, formPost, idParam, readQuery } from "../web/forms.ts"
import { address } from "./address.ts"
import { lotOfLine } from "./before.ts"
import { ConfirmQuery, confirmModel } from "./confirm-page.ts"
import { type Delivery, deliveryById } from "./deliveries.ts"
import { labelFacts } from "./label-facts.ts"
import type { LabelledLot } from "./lots.ts"
import { isKit, suppliesOf } from "./receive.ts"
import { scanIn } from "./scan.ts"
import { noteDamaged, type Received, receive, receiveAgain } from "./service.ts"
import { writeOn } from "./write-on.ts"

const label = {
  number: optionalText(80, "The lot number"),
  none: checkbox,
  expires: optionalText(40, "The expiry date"),
  made: optionalText(40, "The made-on date"),
}
const LEFT = { "3/4": 750_000, "1/2": 500_000, "1/4": 250_000 } as const
const ConfirmForm = z.object({
  key: idempotencyKey,
  count: count(1000, "How many came"),
  price: optionalText(30, "The price of one"),
  /** one label for both halves of a kit, or one each */
  lotsAre: oneOf(["one", "each"]).default("each"),
  shared: z.object(label).optional(),
  lots: rows(z.object({ supplyId: id, ...label }), { max: 50, blankWhen: "supplyId", what: "lots" }),
  /** a line before, whose lot this one has too */
  asBefore: orEmpty(id),
  came: oneOf(["whole", "damaged", "leaked"], "How it came").default("whole"),
  left: oneOf(["3/4", "1/2", "1/4"], "How much is left").default("1/2"),
  insteadOf: orEmpty(id),
  gross: optionalText(30, "What the scale reads"),
  photo: orEmpty(id),
})
type Confirmed = z.output<typeof ConfirmForm>
type Label = z.output<z.ZodObject<typeof label>>
const AgainForm = z.object({ key: idempotencyKey, count: count(1000, "How many more") })

/** The panel that confirms one thing of a delivery, and the button that takes the same in again. */
export function confirmRoutes(router: Router, studio: Studio): void {
  formPage(router, {
    path: "/receive/confirm",
    view: "receiving/confirm",
    show: (req, state) => confirmModel(studio, req, state),
    form: ConfirmForm,
    save: (form, req, res) => {
      const query = readQuery(ConfirmQuery, req)
      const { delivery: deliveryId, pack: packId } = query
      const to = address("/receive", { delivery: deliveryId })
      const actor = by(res, form.key)
      if (form.came === "damaged") {
        const done = noteDamaged(studio, actor, { deliveryId, packId, count: form.count })
        res.saved(`${done.summary}.`, {
          to,
          undo: done.actionId,
          also: ["What was ordered of it is still owed."],
        })
        return
      }
      const pack = packById(studio, packId)
      const delivery = deliveryById(studio, deliveryId)
      const scan = scanIn(query)
      const { currency } = settingsOf(studio)
      const priceMicro = form.price === "" ? 0 : orRefuse(parseMoney(form.price, currency), "price").micro
      const shared = form.lotsAre === "one" && isKit(pack)
      const done = inSharedFields(shared, () =>
        receive(studio, actor, {
          deliveryId,
          packId,
          count: form.count,
          priceMicro,
          lots: lotsOf(studio, pack, form, shared),
          serial: scan === null ? null : (labelFacts(studio, scan, pack)?.serial ?? null),
          insteadOf: form.insteadOf,
          leftPpm: form.came === "leaked" ? LEFT[form.left] : null,
          grossMg: scaleReading(studio, form.gross),
          photoIds: form.photo === null ? [] : [form.photo],
        }),
      )
      if (form.price !== "") keepFirstOffer(studio, pack, delivery, priceMicro)
      said(studio, res, done, to)
    },
  })

  formPost(router, {
    path: "/receive/lines/:id/again",
    form: AgainForm,
    save: (form, req, res) => {
      const done = receiveAgain(studio, by(res, form.key), { lineId: idParam(req), count: form.count })
      said(studio, res, done, address("/receive", { delivery: done.answer.deliveryId }))
    },
  })
}

function said(
  studio: Studio,
  res: Response,
  done: { summary: string; actionId: number; answer: Received },
  to: string,
): void {
  const { containers, over } = done.answer
  const more =
    over === 0 ? [] : [over === 1 ? "One more than was ordered." : `${over} more than were ordered.`]
  res.saved(`${done.summary}.`, { to, undo: done.actionId, also: [...more, writeOn(studio, containers)] })
}

/** The seller's price list learns what was paid, as long as it says nothing of this pack. */
function keepFirstOffer(studio: Studio, pack: PackInfo, { sellerId }: Delivery, priceMicro: number): void {
  if (sellerId === null || pack.offers.some((offer) => offer.sellerId === sellerId)) return
  setOffer(studio, pack.id, { sellerId, priceMicro })
}

function scaleReading(studio: Studio, typed: string): number | null {
  if (typed === "") return null
  return orRefuse(parseAmount(typed, "mg", fieldUnit("mg", settingsOf(studio).units)), "gross").amount
}

function lotsOf(studio: Studio, pack: PackInfo, form: Confirmed, shared: boolean): LabelledLot[] {
  if (form.asBefore !== null) {
    const before = lotOfLine(studio, form.asBefore)
    if (before === null) throw new Refusal("That lot is not in the book any more. Put the lot number.")
    const { number, madeOn, expiresOn } = before
    return suppliesOf(pack).map((supplyId) => ({ supplyId, number, madeOn, expiresOn }))
  }
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
