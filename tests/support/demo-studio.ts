import { mkdtempSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import type { Express } from "express"
import { pino } from "pino"
import { Temporal } from "temporal-polyfill"
import { loadDemo } from "../../seed/demo.ts"
import { createApp } from "../../server/app.ts"
import { type House, openHouse } from "../../server/data/house.ts"
import { PairingDesk } from "../../server/devices/pairing.ts"
import { type Listening, listen } from "../http/listening.ts"

/** "Today" of the demo in these tests: a Tuesday at ten in the morning where its studio is. */
const NOW = Temporal.Instant.from("2026-12-01T16:00:00Z")

/** The demo studio on a day that stands still, in a folder of its own. */
export function demoHouse(): House {
  const house = emptyHouse()
  loadDemo(house.studio.file, NOW)
  return house
}

/** A studio on its first day. */
export function emptyHouse(): House {
  return openHouse(mkdtempSync(join(tmpdir(), "lotcup-studio-")), () => NOW)
}

/** As if phones could reach it too. */
export const REACHED = { url: "https://192.168.1.20:8443/", fingerprint: `${"AB:".repeat(31)}CD` }

/** The whole application, and how to ask it. Phones cannot reach it unless `reach` says how. */
export async function wholeApp(
  house: House,
  reach: typeof REACHED | null = null,
): Promise<{ app: Express; here: Listening }> {
  const made: Express[] = []
  const here = await listen((port) => {
    const network = { desk: new PairingDesk(), reach: () => reach }
    const app = createApp(house.studio, { port, logger: pino({ level: "silent" }), network, house })
    made.push(app)
    return app
  })
  return { app: made[0]!, here }
}
