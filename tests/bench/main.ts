import { mkdtempSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { finishing } from "./finish.ts"
import { forecasting } from "./forecast.ts"
import { type Line, said } from "./measure.ts"
import { reading } from "./reading.ts"
import { scheduling } from "./schedule.ts"
import { spreadsheet } from "./spreadsheet.ts"
import { starting } from "./start.ts"
import { tracing } from "./trace.ts"
import { changingOnPage } from "./what-if.ts"

/** One file a measure; each gets a folder that is removed afterwards. A text is a line that is no measure of ours. */
const MEASURES: Readonly<Record<string, (folder: string) => Promise<(Line | string)[]>>> = {
  finish: finishing,
  forecast: forecasting,
  trace: tracing,
  reading,
  schedule: scheduling,
  spreadsheet,
  start: starting,
  "what-if": changingOnPage,
}

// `npm run bench -- finish` runs only what is named
const named = process.argv.slice(2)
const unknown = named.find((name) => !(name in MEASURES))
if (unknown !== undefined) {
  console.error(`There is no measure ${unknown}; there are ${Object.keys(MEASURES).join(", ")}.`)
  process.exit(1)
}

for (const [name, measure] of Object.entries(MEASURES)) {
  if (named.length > 0 && !named.includes(name)) continue
  const folder = mkdtempSync(join(tmpdir(), "lotcup-bench-"))
  try {
    for (const line of await measure(folder)) console.log(typeof line === "string" ? line : said(line))
  } finally {
    rmSync(folder, { recursive: true, force: true })
  }
}
