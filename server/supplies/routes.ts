import express, { type Router } from "express"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { blankPages } from "./blank-pages.ts"
import { packPages } from "./pack-pages.ts"
import { peoplePages } from "./people-pages.ts"
import { planningPage } from "./planning-page.ts"
import { resinPages } from "./resin-pages.ts"
import { makers, packs, resinSystems, sellers, suppliesList } from "./service.ts"
import { settingsPages } from "./settings-pages.ts"
import { supplyPages } from "./supply-pages.ts"
import { howMany } from "./words.ts"

/** Set up: what the studio buys and works with, and how it works. */
export function suppliesRoutes(studio: Studio): Router {
  const router = express.Router()
  router.get("/setup", (_req, res) => res.page("supplies/setup", overview(studio)))
  supplyPages(router, studio)
  packPages(router, studio)
  peoplePages(router, studio)
  resinPages(router, studio)
  blankPages(router, studio)
  settingsPages(router, studio)
  planningPage(router, studio)
  return router
}

function overview(studio: Studio) {
  const supplies = suppliesList(studio)
  const blankCount = supplies.filter((supply) => supply.kind === "blank").length
  const { units, currency, timeZone, turners, turnerPlaces } = settingsOf(studio)
  return {
    title: "Set up",
    lead:
      supplies.length === 0
        ? "Nothing is set up yet. Begin with who makes and sells what you use, then your supplies."
        : "What the studio buys and works with, and how it works.",
    places: [
      {
        to: "/setup/supplies",
        label: "Supplies",
        about: "resin parts, paints, glitters, gloves, boxes",
        count: howMany(supplies.length, "supply", "supplies"),
      },
      {
        to: "/setup/packs",
        label: "Packs and their codes",
        about: "how they are sold, and what you scan",
        count: howMany(packs(studio).length, "pack", "packs"),
      },
      {
        to: "/setup/makers-and-sellers",
        label: "Makers and sellers",
        about: "whose lots they are, and how long they take",
        count: `${howMany(makers(studio).length, "maker", "makers")}, ${howMany(sellers(studio).length, "seller", "sellers")}`,
      },
      {
        to: "/setup/resin-systems",
        label: "Resin systems",
        about: "part A and B, ratio, pot life, cure",
        count: howMany(resinSystems(studio).length, "system", "systems"),
      },
      {
        to: "/setup/blanks",
        label: "Blanks",
        about: "uncoated cups and their shape",
        count: howMany(blankCount, "blank", "blanks"),
      },
      {
        to: "/setup/studio",
        label: "The studio",
        about: "name, units, money, measuring",
        count: `${units === "us" ? "US units" : "metric"}, ${currency}, ${timeZone}`,
      },
      {
        to: "/setup/planning",
        label: "Working days and turners",
        about: "hours, days off, places to turn, shipping, how sure the shelf must be",
        count: `${howMany(turners * turnerPlaces, "cup turns", "cups turn")} at once`,
      },
      {
        to: "/setup/bring-in",
        label: "Bring in from a table",
        about: "makers and sellers, supplies, packs and what is on the shelf, from CSV",
        count: "",
      },
      {
        to: "/setup/copies",
        label: "Copies of your data",
        about: "made each night, taken away, put back",
        count: "",
      },
      {
        to: "/setup/phones",
        label: "Phones",
        about: "use Lotcup at the bench, with the phone's camera",
        count: "",
      },
    ],
  }
}
