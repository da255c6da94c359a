import { fileURLToPath } from "node:url"
import express, { type Express, type Router } from "express"
import type { Logger } from "pino"
import { FileProblem } from "../db/problems.ts"
import { batchesRoutes } from "./batches/routes.ts"
import { bringingInRoutes } from "./bringing-in/routes.ts"
import { countingRoutes } from "./counting/routes.ts"
import { type House, houseInMemory } from "./data/house.ts"
import { copiesRoutes } from "./data/routes.ts"
import { designsRoutes } from "./designs/routes.ts"
import { onlyPaired } from "./devices/guard.ts"
import { PairingDesk } from "./devices/pairing.ts"
import { type Network, onlyAtTheComputer, pairRoutes, phonesRoutes } from "./devices/routes.ts"
import { Refusal } from "./domain/refusal.ts"
import { forecastRoutes } from "./forecast/routes.ts"
import { historyRoutes } from "./history/routes.ts"
import { labelsRoutes } from "./labels/routes.ts"
import { sheetsOf } from "./ledger/sheets.ts"
import { type Studio, settingsOf, todayOf } from "./ledger/studio.ts"
import { lookupRoutes } from "./lookup/routes.ts"
import { moneyRoutes } from "./money/routes.ts"
import { ordersRoutes } from "./orders/routes.ts"
import { purchasingRoutes } from "./purchasing/routes.ts"
import { receivingRoutes } from "./receiving/routes.ts"
import { shelfRoutes } from "./shelf/routes.ts"
import { lowCounter } from "./shelf/service.ts"
import { suppliesRoutes } from "./supplies/routes.ts"
import { tracingRoutes } from "./tracing/routes.ts"
import { type Assets, bundleAssets } from "./web/assets.ts"
import type { Reached } from "./web/guards.ts"
import { createShell, type ShellOptions } from "./web/shell.ts"
import { findViewRoots, type NavigationItem } from "./web/views.ts"

const NAVIGATION: readonly NavigationItem[] = [
  { to: "/receive", label: "Receive", icon: "receive" },
  { to: "/shelf", label: "Shelf", icon: "shelf", showsLow: true },
  { to: "/batches", label: "Batches", icon: "batches" },
  { to: "/forecast", label: "Short", icon: "warning" },
  { to: "/orders", label: "Orders", icon: "orders" },
  { to: "/shopping", label: "Shopping", icon: "buy" },
  { to: "/trace", label: "Trace", icon: "trace" },
  { to: "/counting", label: "Count", icon: "check" },
  { to: "/designs", label: "Designs", icon: "designs" },
  { to: "/money", label: "Money", icon: "money" },
  { to: "/setup", label: "Set up", icon: "setup" },
  { to: "/history", label: "History", icon: "history" },
]

/** What only the computer does; a phone is told so. */
const COMPUTER_ONLY = ["/setup/phones", "/setup/copies", "/setup/bring-in"]

interface AppParts {
  port: () => number
  logger: Logger
  assets?: Assets
  network?: Network
  /** where the studio's file lives, for copies; none over a file in memory */
  house?: House
}

/**
 * Puts the rooms together into one application over one studio, for this computer.
 *
 * @param parts.network the second listener, where one may run
 */
export function createApp(studio: Studio, parts: AppParts): Express {
  const network = parts.network ?? { desk: new PairingDesk(), reach: () => null }
  return createShell({
    ...shellOf(studio, parts),
    routers: [
      { router: phonesRoutes(studio, network) },
      { router: copiesRoutes(parts.house ?? houseInMemory(studio)) },
      { router: bringingInRoutes(studio) },
      ...rooms(studio),
    ],
  })
}

/** The same for paired phones on the local network: daily work, but nothing that only the computer does. */
export function createPhoneApp(
  studio: Studio,
  parts: AppParts & { reached: () => Reached; network: Network },
): Express {
  return createShell({
    ...shellOf(studio, parts),
    reached: parts.reached,
    door: onlyPaired(studio),
    routers: [
      { router: pairRoutes(studio, parts.network.desk) },
      { router: onlyAtTheComputer(COMPUTER_ONLY) },
      ...rooms(studio),
    ],
  })
}

function rooms(studio: Studio): { router: Router }[] {
  return [
    homeRoutes,
    receivingRoutes,
    shelfRoutes,
    countingRoutes,
    labelsRoutes,
    historyRoutes,
    lookupRoutes,
    batchesRoutes,
    tracingRoutes,
    designsRoutes,
    forecastRoutes,
    ordersRoutes,
    purchasingRoutes,
    moneyRoutes,
    suppliesRoutes,
  ].map((routes) => ({ router: routes(studio) }))
}

function shellOf(studio: Studio, parts: AppParts): Omit<ShellOptions, "routers"> {
  const lowCount = lowCounter(studio)
  return {
    navigation: NAVIGATION,
    port: parts.port,
    logger: parts.logger,
    viewRoots: findViewRoots(fileURLToPath(new URL(".", import.meta.url))),
    assets: parts.assets ?? bundleAssets(),
    helpersContext: () => {
      const { name, units, currency, timeZone, isDemo } = settingsOf(studio)
      return {
        studioName: name,
        units,
        currency,
        timeZone,
        isDemo,
        today: todayOf(studio),
        sheets: sheetsOf(studio),
        lowCount: lowCount(),
      }
    },
    busy: () => studio.file.busy(),
    explain: (error) =>
      error instanceof FileProblem ? new Refusal(error.message, { status: 503, cause: error }) : undefined,
  }
}

/** The first page: the shelf; in a studio that has nothing yet, how to begin. */
function homeRoutes(studio: Studio): Router {
  const router = express.Router()
  router.get("/", (_req, res) => {
    const isEmpty = studio.file.firstText("SELECT 1 FROM supply LIMIT 1") === undefined
    res.redirect(302, isEmpty ? "/welcome" : "/shelf")
  })
  return router
}
