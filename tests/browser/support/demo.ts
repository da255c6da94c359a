import { pino } from "pino"
import { Temporal } from "temporal-polyfill"
import { openStudioFile } from "../../../db/migrate.ts"
import { loadDemo } from "../../../seed/demo.ts"
import { createApp } from "../../../server/app.ts"
import type { Studio } from "../../../server/ledger/studio.ts"
import { type Listening, listen } from "../../http/listening.ts"

/** "Today" of the demo in these tests: a Tuesday at ten in the morning where its studio is. */
const NOW = Temporal.Instant.from("2026-12-01T16:00:00Z")

/** The whole application over the demo studio, in memory, on a day that stands still. */
export async function demoHere(): Promise<{ here: Listening; studio: Studio }> {
  const file = openStudioFile(":memory:")
  loadDemo(file, NOW)
  const studio: Studio = { file, now: () => NOW }
  return { studio, here: await appHere(studio) }
}

/** The whole application over a studio. */
export function appHere(studio: Studio): Promise<Listening> {
  return listen((port) => createApp(studio, { port, logger: pino({ level: "silent" }) }))
}
