import type { Router } from "express"
import { z } from "zod"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { count, idempotencyKey, text } from "../web/fields.ts"
import { formPage, formPost, idParam } from "../web/forms.ts"
import { addMaker, addSeller, changeMaker, changeSeller, makers, sellers } from "./service.ts"

const PLACE = "/setup/makers-and-sellers"

const MakerForm = z.object({ key: idempotencyKey, name: text(80, "Name") })
const SellerForm = z.object({
  key: idempotencyKey,
  name: text(80, "Name"),
  leadTimeDays: count(365, "Days from order to door", 0),
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
      save: (input, _req, res) => {
        addMaker(studio, input)
        res.saved(`${input.name} is added to the makers.`, { to: PLACE })
      },
    },
    both,
  )
  formPost(
    router,
    {
      path: "/setup/sellers",
      form: SellerForm,
      save: (input, _req, res) => {
        addSeller(studio, input)
        res.saved(`${input.name} is added to the sellers.`, { to: PLACE })
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
      changeMaker(studio, idParam(req), input)
      res.saved(`${input.name} is changed.`, { to: PLACE })
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
      }
    },
    form: SellerForm,
    save: (input, req, res) => {
      changeSeller(studio, idParam(req), input)
      res.saved(`${input.name} is changed.`, { to: PLACE })
    },
  })
}
