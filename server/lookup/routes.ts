import express, { type Router } from "express"
import { z } from "zod"
import type { Studio } from "../ledger/studio.ts"
import { codeParam, readQuery } from "../web/forms.ts"
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
        return res.page("lookup/nothing", { title: "Not found", lead: found.sentence, code: code.trim() })
    }
  })

  router.get("/mixes/:code", (req, res) => {
    const mix = mixByCode(studio, codeParam(req))
    const cups = mix.cups.length === 1 ? "1 cup" : `${mix.cups.length} cups`
    res.page("lookup/mix", {
      title: `Mix ${mix.code}`,
      lead: mix.undone
        ? "This mix was undone: it went onto no cup."
        : `${mix.resinSystem}, ${mix.layer}, on ${cups}.`,
      ...mix,
    })
  })
  return router
}

function buyersInWords(buyers: readonly BuyerFound[]): string {
  const orders = buyers.reduce((sum, one) => sum + one.orders.length, 0)
  const cups = buyers.reduce((sum, one) => sum + one.orders.reduce((n, order) => n + order.cups.length, 0), 0)
  const said = `${orders} ${orders === 1 ? "order" : "orders"}, ${cups} ${cups === 1 ? "cup" : "cups"}.`
  return buyers.length === 1 ? said : `${buyers.length} buyers: ${said}`
}
