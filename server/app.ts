import { fileURLToPath } from "node:url"
import express, { type Express, type Router } from "express"
import type { Logger } from "pino"
import { FileProblem } from "../db/problems.ts"
import { batchesRoutes } from "./batches/routes.ts"
import { designsRoutes } from "./designs/routes.ts"
import { Refusal } from "./domain/refusal.ts"
import { forecastRoutes } from "./forecast/routes.ts"
import { historyRoutes } from "./history/routes.ts"
import { type Studio, settingsOf, todayOf } from "./ledger/studio.ts"
import { lookupRoutes } from "./lookup/routes.ts"
import { ordersRoutes } from "./orders/routes.ts"
import { purchasingRoutes } from "./purchasing/routes.ts"
import { receivingRoutes } from "./receiving/routes.ts"
import { shelfRoutes } from "./shelf/routes.ts"
import { lowSupplies } from "./shelf/service.ts"
import { suppliesRoutes } from "./supplies/routes.ts"
import { tracingRoutes } from "./tracing/routes.ts"
import { type Assets, bundleAssets } from "./web/assets.ts"
import { createShell } from "./web/shell.ts"
import { findViewRoots, type NavigationItem } from "./web/views.ts"

const NAVIGATION: readonly NavigationItem[] = [
  { to: "/receive", label: "Receive", icon: "receive" },
  { to: "/shelf", label: "Shelf", icon: "shelf", showsLow: true },
  { to: "/batches", label: "Batches", icon: "batches" },
  { to: "/forecast", label: "Short", icon: "warning" },
  { to: "/orders", label: "Orders", icon: "orders" },
  { to: "/shopping", label: "Shopping", icon: "buy" },
  { to: "/trace", label: "Trace", icon: "trace" },
  { to: "/designs", label: "Designs", icon: "designs" },
  { to: "/setup", label: "Set up", icon: "setup" },
  { to: "/history", label: "History", icon: "history" },
]

/** Puts the rooms together into one application over one studio. */
export function createApp(
  studio: Studio,
  parts: { port: () => number; logger: Logger; assets?: Assets },
): Express {
  return createShell({
    routers: [
      homeRoutes,
      receivingRoutes,
      shelfRoutes,
      historyRoutes,
      lookupRoutes,
      batchesRoutes,
      tracingRoutes,
      designsRoutes,
      forecastRoutes,
      ordersRoutes,
      purchasingRoutes,
      suppliesRoutes,
    ].map((routes) => ({ router: routes(studio) })),
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
        lowCount: lowSupplies(studio).length,
      }
    },
    explain: (error) =>
      error instanceof FileProblem ? new Refusal(error.message, { status: 503, cause: error }) : undefined,
  })
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
