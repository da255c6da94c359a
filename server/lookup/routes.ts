import express, { type Request, type Router } from "express"
import { z } from "zod"
import { checkMix, HARDNESS } from "../batches/service.ts"
import { LEFT_OVER_CAUTIONS } from "../domain/hazards.ts"
import { sayRoom } from "../domain/room.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { by } from "../web/device.ts"
import { idempotencyKey, oneOf, optionalText, orEmpty } from "../web/fields.ts"
import { codeParam, formPost, readQuery } from "../web/forms.ts"
import { type BuyerFound, find, mixByCode } from "./service.ts"

const Query = z.object({
  code: z.string("Scan a code, or type one.").max(200, "That is too long for a code.").catch(""),
})

/** From a code, whatever it is on, to the page of the thing. */
export function lookupRoutes(studio: Studio): Router {
  const router = express.Router()

  router.get("/go", (req, res) => {
    const { code } = readQuery(Query, req)
    const found = find(studio, code)
    switch (found.kind) {
      case "page":
        return res.redirect(302, found.to)
      case "lots":
        return res.page("lookup/lots", {
          title: `Lot ${code.trim()}`,
          lead: `${found.lots.length} lots carry this number. Choose the one you mean.`,
          lots: found.lots,
          pairs: found.pairs,
          here: `/go?${new URLSearchParams({ code: code.trim() })}`,
        })
      case "buyers":
        return res.page("lookup/buyers", {
          title: found.buyers.length === 1 ? (found.buyers[0]?.name ?? "") : `Buyers with “${code.trim()}”`,
          lead: buyersInWords(found.buyers),
          back: { to: "/trace", label: "Trace" },
          buyers: found.buyers,
          isOne: found.buyers.length === 1,
        })
      case "pack":
        return res.page("lookup/pack", {
          title: found.pack,
          lead: "That code is printed on every pack of this kind, so it does not say which one you hold.",
          supplies: [...new Set(found.supplies)].map((supply) => ({
            supply,
            to: `/shelf?${new URLSearchParams({ search: supply })}`,
          })),
        })
      case "nothing":
        res.status(404)
        return res.page("lookup/nothing", {
          title: "Not found",
          lead: found.sentence,
          code: code.trim(),
          meant: found.meant ?? null,
        })
    }
  })

  mixRoutes(router, studio)
  return router
}

const Check = z.object({
  key: idempotencyKey,
  hardness: orEmpty(oneOf(HARDNESS, "How hard")),
  witness: optionalText(200, "Where a sample is kept"),
  note: optionalText(500, "Note"),
})

/** A mix, and how it is found the next day. */
function mixRoutes(router: Router, studio: Studio): void {
  const page = {
    view: "lookup/mix",
    show: (req: Request) => {
      const mix = mixByCode(studio, codeParam(req))
      const cups = mix.cups.length === 1 ? "1 cup" : `${mix.cups.length} cups`
      return {
        title: `Mix ${mix.code}`,
        lead: mix.undone
          ? "This mix was undone: it went onto no cup."
          : `${mix.resinSystem}, ${mix.layer}, on ${cups}.`,
        ...mix,
        back: { to: `/batches/${mix.batchId}`, label: "Its batch" },
        roomSaid: sayRoom(mix.room, settingsOf(studio).units),
        hardnesses: [
          { value: "hard", label: "Hard" },
          { value: "tacky", label: "Tacky" },
          { value: "soft", label: "Soft" },
        ],
        cautions: LEFT_OVER_CAUTIONS,
      }
    },
  }
  router.get("/mixes/:code", (req, res) => {
    res.page(page.view, page.show(req))
  })
  formPost(
    router,
    {
      path: "/mixes/:code/check",
      form: Check,
      save: ({ key, ...said }, req, res) => {
        const code = codeParam(req)
        const done = checkMix(studio, by(res, key), { code, ...said })
        res.saved(`${done.summary}.`, {
          to: `/mixes/${code}`,
          undo: done.actionId,
          also: done.answer.remarks,
        })
      },
    },
    page,
  )
}

function buyersInWords(buyers: readonly BuyerFound[]): string {
  const orders = buyers.reduce((sum, one) => sum + one.orders.length, 0)
  const cups = buyers.reduce((sum, one) => sum + one.orders.reduce((n, order) => n + order.cups.length, 0), 0)
  const said = `${orders} ${orders === 1 ? "order" : "orders"}, ${cups} ${cups === 1 ? "cup" : "cups"}.`
  return buyers.length === 1 ? said : `${buyers.length} buyers: ${said}`
}
