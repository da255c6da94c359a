import type { Response, Router } from "express"
import { z } from "zod"
import { parseMoney } from "../domain/money.ts"
import type { SellerTerms } from "../domain/pack-mix.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Done } from "../ledger/act.ts"
import { changed, made } from "../ledger/row-change.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { count, idempotencyKey, optionalText, orRefuse, text } from "../web/fields.ts"
import { formPage, formPost, idParam } from "../web/forms.ts"
import {
  addMaker,
  addSeller,
  changeMaker,
  changeSeller,
  makers,
  type SellerInput,
  sellers,
} from "./service.ts"
import { setUp } from "./set-up.ts"

const PLACE = "/setup/makers-and-sellers"

const MakerForm = z.object({ key: idempotencyKey, name: text(80, "Name") })
const SellerForm = z.object({
  key: idempotencyKey,
  name: text(80, "Name"),
  leadTimeDays: count(365, "Days from order to door", 0),
  minimum: optionalText(30, "Smallest order"),
  shipping: optionalText(30, "Shipping"),
  freeFrom: optionalText(30, "Free shipping from"),
})

/** Makers and sellers: both lists with a form under each, and a page to change one. */
export function peoplePages(router: Router, studio: Studio): void {
  const both = {
    view: "supplies/makers-and-sellers",
    show: () => ({
      title: "Makers and sellers",
      back: { to: "/setup", label: "Set up" },
      lead: "A maker fills the bottle and prints the lot number; a seller sends it to you.",
      makers: makers(studio),
      sellers: sellers(studio),
    }),
  }
  router.get(PLACE, (_req, res) => res.page(both.view, both.show()))

  formPost(
    router,
    {
      path: "/setup/makers",
      form: MakerForm,
      save: (input, req, res) => {
        const done = setUp(studio, { req, res }, input, (now) => ({
          answer: made(now, "maker", () => addMaker(studio, input)),
          summary: `${input.name} is added to the makers`,
        }))
        said(res, done)
      },
    },
    both,
  )
  formPost(
    router,
    {
      path: "/setup/sellers",
      form: SellerForm,
      save: (input, req, res) => {
        const done = setUp(studio, { req, res }, input, (now) => ({
          answer: made(now, "seller", () => addSeller(studio, toSeller(studio, input))),
          summary: `${input.name} is added to the sellers`,
        }))
        said(res, done)
      },
    },
    both,
  )

  formPage(router, {
    path: "/setup/makers/:id",
    view: "supplies/maker-or-seller",
    show: (req) => {
      const maker = makers(studio).find((one) => one.id === idParam(req))
      if (!maker) throw new Refusal("There is no such maker.", { status: 404 })
      return {
        title: maker.name,
        back: { to: PLACE, label: "Makers and sellers" },
        name: maker.name,
        leadTimeDays: null,
      }
    },
    form: MakerForm,
    save: (input, req, res) => {
      const id = idParam(req)
      const done = setUp(studio, { req, res }, input, (now) => {
        changed(now, "maker", id, () => changeMaker(studio, id, input))
        return { summary: `The maker ${input.name} is changed`, answer: id }
      })
      said(res, done)
    },
  })
  formPage(router, {
    path: "/setup/sellers/:id",
    view: "supplies/maker-or-seller",
    show: (req) => {
      const seller = sellers(studio).find((one) => one.id === idParam(req))
      if (!seller) throw new Refusal("There is no such seller.", { status: 404 })
      return {
        title: seller.name,
        back: { to: PLACE, label: "Makers and sellers" },
        name: seller.name,
        leadTimeDays: String(seller.leadTimeDays),
        ...termsText(seller),
        currency: settingsOf(studio).currency,
      }
    },
    form: SellerForm,
    save: (input, req, res) => {
      const id = idParam(req)
      const done = setUp(studio, { req, res }, input, (now) => {
        changed(now, "seller", id, () => changeSeller(studio, id, toSeller(studio, input)))
        return { summary: `The seller ${input.name} is changed`, answer: id }
      })
      said(res, done)
    },
  })
}

function toSeller(studio: Studio, input: z.output<typeof SellerForm>): SellerInput {
  const { currency } = settingsOf(studio)
  const money = (field: "minimum" | "shipping" | "freeFrom") =>
    input[field] === "" ? 0 : orRefuse(parseMoney(input[field], currency), field).micro
  return {
    name: input.name,
    leadTimeDays: input.leadTimeDays,
    // nothing is no rule
    minimumMicro: money("minimum") || null,
    shippingMicro: money("shipping"),
    freeFromMicro: money("freeFrom") || null,
  }
}

function termsText({ minimumMicro, shippingMicro, freeFromMicro }: SellerTerms) {
  const text = (micro: number | null) => (micro ? String(micro / 1e6) : "")
  return { minimum: text(minimumMicro), shipping: text(shippingMicro), freeFrom: text(freeFromMicro) }
}

function said(res: Response, { summary, actionId }: Done<number>): void {
  res.saved(`${summary}.`, { to: PLACE, undo: actionId })
}
