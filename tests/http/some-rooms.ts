import { fileURLToPath } from "node:url"
import type { Router } from "express"
import { pino } from "pino"
import { sheetsOf } from "../../server/ledger/sheets.ts"
import { type Studio, settingsOf, todayOf } from "../../server/ledger/studio.ts"
import { bundleAssets } from "../../server/web/assets.ts"
import { createShell } from "../../server/web/shell.ts"
import { findViewRoots } from "../../server/web/views.ts"
import { type Listening, listen } from "./listening.ts"

/** The shell with some rooms alone, over a studio for tests. */
export function listenWith(
  studio: Studio,
  rooms: readonly ((studio: Studio) => Router)[],
): Promise<Listening> {
  const assets = bundleAssets()
  return listen((port) =>
    createShell({
      routers: rooms.map((routes) => ({ router: routes(studio) })),
      navigation: [
        { to: "/receive", label: "Receive", icon: "receive" },
        { to: "/shelf", label: "Shelf", icon: "shelf", showsLow: true },
        { to: "/history", label: "History", icon: "history" },
      ],
      port,
      logger: pino({ level: "silent" }),
      viewRoots: findViewRoots(fileURLToPath(new URL("../../server/", import.meta.url))),
      assets,
      helpersContext: () => {
        const { name, units, currency, timeZone, isDemo } = settingsOf(studio)
        const [today, sheets] = [todayOf(studio), sheetsOf(studio)]
        return { studioName: name, units, currency, timeZone, isDemo, today, sheets }
      },
    }),
  )
}

/** The keys of the forms on a page, in the order of the page. */
export function keysIn(html: string): string[] {
  return [...html.matchAll(/name="key" value="([^"]+)"/g)].map((found) => found[1]!)
}
