import type { Request, Router } from "express"
import { z } from "zod"
import { parseMoney } from "../domain/money.ts"
import { Refusal } from "../domain/refusal.ts"
import { fieldUnit, parseAmount, type UnitSystem } from "../domain/units.ts"
import { changed, made } from "../ledger/row-change.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { chosen, count, idempotencyKey, optionalText, orEmpty, orRefuse, rows, text } from "../web/fields.ts"
import { type FormState, formPage, idParam, rowsTyped } from "../web/forms.ts"
import { checkCode } from "./codes.ts"
import { amountText, filledLines, typedAmount, typedText } from "./entry.ts"
import {
  addPack,
  changePack,
  makers,
  type PackInfo,
  type PackInput,
  packById,
  packs,
  sellers,
  suppliesList,
} from "./service.ts"
import { setUp } from "./set-up.ts"
import { howMany } from "./words.ts"

const MOST_CONTENTS = 20
const MOST_CODES = 20
const SPARE_CONTENTS = 2
const SPARE_CODES = 2

const PackForm = z.object({
  key: idempotencyKey,
  name: text(120, "Name"),
  makerId: orEmpty(chosen("Maker")),
  contents: rows(
    z.object({
      supplyId: chosen("Supply"),
      amount: typedAmount("Amount"),
      containerCount: count(1000, "How many containers"),
    }),
    { max: MOST_CONTENTS, blankWhen: "supplyId", what: "supplies in one pack" },
  ),
  codes: rows(z.object({ code: text(200, "Code") }), { max: MOST_CODES, blankWhen: "code", what: "codes" }),
  prices: rows(
    z.object({
      sellerId: chosen("Seller"),
      price: text(30, "Price"),
      from1: orEmpty(count(10_000, "From how many packs", 2)),
      price1: optionalText(30, "Price"),
      from2: orEmpty(count(10_000, "From how many packs", 2)),
      price2: optionalText(30, "Price"),
    }),
    { max: 200, blankWhen: "price", what: "prices" },
  ),
})

/** Packs: all of them, a new one, and one that is changed. */
export function packPages(router: Router, studio: Studio): void {
  router.get("/setup/packs", (_req, res) => {
    const all = packs(studio)
    res.page("supplies/packs", {
      title: "Packs and their codes",
      back: { to: "/setup", label: "Set up" },
      lead: "A pack is how something is sold. Its code is what you scan.",
      packs: all.map((pack) => ({
        id: pack.id,
        name: pack.name,
        about: [pack.maker ?? "", howMany(pack.codes.length, "code", "codes")].filter(Boolean).join(" · "),
      })),
      hasSupplies: suppliesList(studio).length > 0,
    })
  })

  formPage(router, {
    path: "/setup/packs/new",
    view: "supplies/pack",
    show: (req, state) => ({ title: "A new pack", ...packModel(studio, null, state, asked(req)) }),
    form: PackForm,
    save: (input, req, res) => {
      const done = setUp(studio, { req, res }, input, (now) => ({
        answer: made(now, "pack", () => addPack(studio, toPack(studio, input, req.body, []))),
        summary: `${input.name} is added to the packs`,
      }))
      res.saved(`${done.summary}.${input.codes.length > 0 ? " Its code can be scanned now." : ""}`, {
        to: "/setup/packs",
        undo: done.actionId,
      })
    },
  })

  formPage(router, {
    path: "/setup/packs/:id",
    view: "supplies/pack",
    show: (req, state) => {
      const pack = packById(studio, idParam(req))
      return { title: pack.name, ...packModel(studio, pack, state, {}) }
    },
    form: PackForm,
    save: (input, req, res) => {
      const id = idParam(req)
      const done = setUp(studio, { req, res }, input, (now) => {
        const pack = toPack(studio, input, req.body, packById(studio, id).codes)
        changed(now, "pack", id, () => changePack(studio, id, pack))
        return { summary: `The pack ${input.name} is changed`, answer: id }
      })
      res.saved(`${done.summary}. What was received keeps its amounts.`, {
        to: "/setup/packs",
        undo: done.actionId,
      })
    },
  })
}

/** A page may ask for a pack of a certain supply, or for a code that was scanned. */
function asked(req: Request): { supplyId?: string; code?: string } {
  const { supply, code } = req.query
  return {
    ...(typeof supply === "string" && /^\d{1,15}$/.test(supply) ? { supplyId: supply } : {}),
    ...(typeof code === "string" ? { code: code.slice(0, 200) } : {}),
  }
}

/** @param known codes that stand on the pack already: they were read once, so they are not judged again */
function toPack(
  studio: Studio,
  input: z.output<typeof PackForm>,
  body: { contents?: unknown; codes?: unknown; prices?: unknown },
  known: readonly string[],
): PackInput {
  const { units, currency } = settingsOf(studio)
  const supplies = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
  const contentLines = filledLines(body.contents, "supplyId")
  const codeLines = filledLines(body.codes, "code")
  const priceLines = filledLines(body.prices, "price")
  return {
    name: input.name,
    makerId: input.makerId,
    contents: input.contents.map((line, index) => {
      const place = `contents[${contentLines[index]}]`
      const supply = supplies.get(line.supplyId)
      if (!supply)
        throw new Refusal("That supply is not there: choose one from the list.", {
          field: `${place}[supplyId]`,
        })
      const bare = fieldUnit(supply.baseUnit, units)
      const read = parseAmount(line.amount, supply.baseUnit, bare, supply.densityMgPerMl)
      const { amount } = orRefuse(read, `${place}[amount]`)
      return { supplyId: supply.id, amount, containerCount: line.containerCount }
    }),
    codes: input.codes.map(({ code }, index) =>
      known.includes(code) ? code : orRefuse(checkCode(code), `codes[${codeLines[index]}][code]`).code,
    ),
    offers: input.prices.map(({ sellerId, price, ...more }, index) => {
      const place = `prices[${priceLines[index]}]`
      const money = (typed: string, field: string) =>
        orRefuse(parseMoney(typed, currency), `${place}[${field}]`).micro
      return {
        sellerId,
        priceMicro: money(price, "price"),
        breaks: ([1, 2] as const).flatMap((nth) => {
          const fromCount = more[`from${nth}`]
          const typed = more[`price${nth}`]
          if (fromCount === null && typed === "") return []
          if (fromCount === null) {
            throw new Refusal("From how many packs does that price hold?", { field: `${place}[from${nth}]` })
          }
          return [{ fromCount, priceMicro: money(typed, `price${nth}`) }]
        }),
      }
    }),
  }
}

function packModel(
  studio: Studio,
  pack: PackInfo | null,
  state: FormState | null,
  asked: { supplyId?: string; code?: string },
) {
  const { units, currency } = settingsOf(studio)
  const saved =
    pack === null ? [firstContent(asked.supplyId)] : pack.contents.map((one) => content(one, units))
  const typedContents = rowsTyped(state, "contents")?.map((row) => ({
    supplyId: typedText(row, "supplyId"),
    amount: typedText(row, "amount"),
    containerCount: typedText(row, "containerCount"),
  }))
  const contents = typedContents ?? [
    ...saved,
    ...Array.from({ length: SPARE_CONTENTS }, () => firstContent()),
  ]
  const kept = pack?.codes ?? (asked.code === undefined ? [] : [asked.code])
  const codes = rowsTyped(state, "codes")?.map((row) => typedText(row, "code")) ?? [
    ...kept,
    ...Array.from({ length: SPARE_CODES }, () => ""),
  ]
  const shownContents = Math.max(1, contents.filter((row) => row.supplyId !== "").length)
  const shownCodes = Math.max(1, codes.filter((code) => code !== "").length)
  return {
    back: { to: "/setup/packs", label: "Packs and their codes" },
    name: pack?.name ?? "",
    makerId: pack?.makerId ?? "",
    makers: makers(studio),
    supplies: suppliesList(studio),
    contents: contents
      .slice(0, MOST_CONTENTS)
      .map((row, index) => ({ ...row, index, spare: index >= shownContents })),
    codes: codes.slice(0, MOST_CODES).map((code, index) => ({ code, index, spare: index >= shownCodes })),
    prices: sellers(studio).map((seller, index) => {
      const offer = pack?.offers.find((one) => one.sellerId === seller.id)
      return {
        index,
        sellerId: seller.id,
        seller: seller.name,
        price: offer ? String(offer.priceMicro / 1e6) : "",
        breaks: [1, 2].map((nth) => {
          const one = offer?.breaks[nth - 1]
          return {
            nth,
            from: one ? String(one.fromCount) : "",
            price: one ? String(one.priceMicro / 1e6) : "",
          }
        }),
      }
    }),
    priceCount: howMany(pack?.offers.length ?? 0, "price", "prices"),
    currency,
    amountExample: units === "us" ? "16 fl oz, 12 oz or 24" : "473 mL, 340 g or 24",
    unfolded: state !== null,
  }
}

function firstContent(supplyId = "") {
  return { supplyId, amount: "", containerCount: "1" }
}

function content(one: PackInfo["contents"][number], units: UnitSystem) {
  return {
    supplyId: String(one.supplyId),
    amount: amountText(one.amount, one.baseUnit, units),
    containerCount: String(one.containerCount),
  }
}
