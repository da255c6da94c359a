import type { Router } from "express"
import { z } from "zod"
import { parseDate, sayDate } from "../domain/dates.ts"
import { parseMoney } from "../domain/money.ts"
import { SUPPLY_KINDS } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { fieldUnit, parseAmount } from "../domain/units.ts"
import type { Actor } from "../ledger/act.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { addMaker, makers, suppliesList, supplyById } from "../supplies/service.ts"
import { by } from "../web/device.ts"
import {
  checkbox,
  count,
  idempotencyKey,
  isoDay,
  oneOf,
  optionalText,
  orEmpty,
  orRefuse,
  text,
} from "../web/fields.ts"
import { formPage } from "../web/forms.ts"
import { address } from "./address.ts"
import { deliveryLines, openingDeliveries } from "./deliveries.ts"
import { kindChoices } from "./new-thing-routes.ts"
import { type OpeningInput, receiveOpening } from "./service.ts"
import { keepSupply, type Thing, thingOf } from "./things.ts"
import { writeOn } from "./write-on.ts"

const HOW_FULL = ["full", "3/4", "1/2", "1/4", "amount"] as const
const OpeningForm = z.object({
  key: idempotencyKey,
  name: text(80, "What it is"),
  kind: orEmpty(oneOf(SUPPLY_KINDS, "What sort of thing")),
  holds: text(40, "How much a full one holds"),
  sprayCan: checkbox,
  howFull: oneOf(HOW_FULL, "How full it is"),
  amount: optionalText(40, "How much is in it"),
  opened: oneOf(["yes", "no"], "Whether it is open"),
  count: count(200, "How many like this"),
  lotNumber: optionalText(80, "The lot number"),
  expires: optionalText(40, "The expiry date"),
  openedOn: orEmpty(isoDay("The day it was opened")),
  makerName: optionalText(80, "The maker's name"),
  price: optionalText(30, "What a full one cost"),
})
type Opening = z.output<typeof OpeningForm>

/** The first day: what is on the shelf today, and the page that offers it. */
export function openingRoutes(router: Router, studio: Studio): void {
  router.get("/", (_req, res) => {
    res.redirect(302, suppliesList(studio).length === 0 ? "/welcome" : "/receive")
  })
  router.get("/welcome", (_req, res) => {
    res.page("receiving/welcome", {
      title: "Welcome to Lotcup",
      lead: "It keeps count of what is in every bottle, says what runs short before a big order, and finds the cups a lot went into.",
      begun: suppliesList(studio).length > 0,
    })
  })
  formPage(router, {
    path: "/receive/opening",
    view: "receiving/opening",
    show: () => openingModel(studio),
    form: OpeningForm,
    save: (form, _req, res) => {
      const done = studio.file.transaction(() => keep(studio, by(res, form.key), form))
      res.saved(`${done.summary}.`, {
        to: "/receive/opening",
        undo: done.actionId,
        also: [writeOn(studio, done.answer.containers)],
      })
    },
  })
}

function keep(studio: Studio, actor: Actor, form: Opening) {
  const thing = thingOf(studio, form)
  const supplyId = keepSupply(studio, thing)
  const amount = amountLeft(studio, form, thing, supplyId)
  const input: OpeningInput = {
    supplyId,
    makerId: makerOf(studio, form.makerName),
    lotNumber: form.lotNumber === "" ? null : form.lotNumber,
    fullAmount: thing.holds,
    amount,
    // what is part-used has been opened, whatever was tapped
    opened: form.opened === "yes" || (amount < thing.holds && thing.baseUnit !== "each"),
    expiresOn: form.expires === "" ? null : orRefuse(parseDate(form.expires), "expires").date,
    openedOn: form.openedOn,
    count: form.count,
    priceMicro:
      form.price === "" ? 0 : orRefuse(parseMoney(form.price, settingsOf(studio).currency), "price").micro,
  }
  try {
    return receiveOpening(studio, actor, input)
  } catch (error) {
    // the ledger speaks of the day as it keeps it; the sentence stands beside the field of the page
    if (!(error instanceof Refusal) || error.field !== "expiresOn") throw error
    throw new Refusal(error.message, { field: "expires", status: error.status })
  }
}

function amountLeft(studio: Studio, form: Opening, thing: Thing, supplyId: number): number {
  const part = (quarters: number) => {
    const amount = Math.round((thing.holds * quarters) / 4)
    if (amount > 0) return amount
    throw new Refusal("That leaves less than one. Count what is there.", { field: "howFull" })
  }
  switch (form.howFull) {
    case "full":
      return thing.holds
    case "3/4":
      return part(3)
    case "1/2":
      return part(2)
    case "1/4":
      return part(1)
    case "amount": {
      const { densityMgPerMl } = supplyById(studio, supplyId)
      const unit = fieldUnit(thing.baseUnit, settingsOf(studio).units)
      return orRefuse(parseAmount(form.amount, thing.baseUnit, unit, densityMgPerMl), "amount").amount
    }
  }
}

function makerOf(studio: Studio, name: string): number | null {
  if (name === "") return null
  const known = makers(studio).find((maker) => maker.name.toLowerCase() === name.toLowerCase())
  return known?.id ?? addMaker(studio, { name })
}

function openingModel(studio: Studio) {
  const today = todayOf(studio)
  const days = openingDeliveries(studio).map((delivery) => ({
    ...delivery,
    lines: deliveryLines(studio, delivery.id),
  }))
  const labelled = days.filter(({ lines }) => lines.some((line) => !line.undone))
  return {
    title: "What is on the shelf today",
    lead: "Take one thing after the other: what it is, how full it is, save, next. A lot number can be put in, and need not be known.",
    back: { to: "/receive", label: "Receive" },
    kinds: kindChoices(),
    supplies: suppliesList(studio).map((supply) => supply.name),
    makers: makers(studio).map((maker) => maker.name),
    today,
    currency: settingsOf(studio).currency,
    lines: days.flatMap(({ lines }) => lines),
    labels: labelled.map(({ id, receivedOn }) => ({
      to: address("/labels", { delivery: id }),
      label: labelled.length === 1 ? "Print labels" : `Print labels of ${sayDate(receivedOn, today)}`,
    })),
    here: "/receive/opening",
  }
}
