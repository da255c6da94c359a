import { fileURLToPath } from "node:url"
import { pino } from "pino"
import { afterEach, beforeAll, beforeEach, expect } from "vitest"
import { type StudioSettings, settingsOf, todayOf } from "../../server/ledger/studio.ts"
import { suppliesRoutes } from "../../server/supplies/routes.ts"
import type { SupplyInput } from "../../server/supplies/service.ts"
import { type Assets, bundleAssets } from "../../server/web/assets.ts"
import { createShell } from "../../server/web/shell.ts"
import { findViewRoots } from "../../server/web/views.ts"
import { type TestStudio, testStudio } from "../support/studio.ts"
import { type Listening, listen } from "./listening.ts"

export const KEY = "0f9c1d52-3a57-4c5f-9b57-3f3a0b7a6c11"
/** The key of another form. */
export const OTHER_KEY = "5b0d7c1e-8a43-4f0b-9a55-1d2f6e3c4b77"
export const SCRIPT = `"><script>alert(1)</script>`
export const SCRIPT_AS_TEXT = "&quot;&gt;&lt;script&gt;alert(1)&lt;/script&gt;"

/** The pages under Set up over an empty studio, new before each test. */
export let studio: TestStudio
export let here: Listening

let assets: Assets

/** To be called once in a test file. */
export function withSetupPages() {
  beforeAll(() => {
    assets = bundleAssets()
  })
  beforeEach(() => start())
  afterEach(() => here.close())
}

/** Begins again with other settings. */
export async function startAgain(settings: Partial<StudioSettings>) {
  await here.close()
  await start(settings)
}

async function start(settings: Partial<StudioSettings> = {}) {
  studio = testStudio(settings)
  here = await listen((port) =>
    createShell({
      routers: [{ router: suppliesRoutes(studio) }],
      navigation: [{ to: "/setup", label: "Set up", icon: "setup" }],
      port,
      logger: pino({ level: "silent" }),
      viewRoots: findViewRoots(fileURLToPath(new URL("../../server/", import.meta.url))),
      assets,
      helpersContext: () => {
        const { name, units, currency, timeZone, isDemo } = settingsOf(studio)
        return { studioName: name, units, currency, timeZone, isDemo, today: todayOf(studio) }
      },
    }),
  )
}

/** A supply that says no more than it must. */
export const thing = (name: string, over: Partial<SupplyInput> = {}): SupplyInput => ({
  name,
  kind: "paint",
  baseUnit: "mg",
  densityMgPerMl: null,
  shelfLife: null,
  openLife: null,
  leadTimeDays: null,
  minimumAmount: 0,
  hazards: [],
  colour: null,
  note: "",
  ...over,
})

/** What a refused form answers: 422, the sentence on the page. */
export async function refused(path: string, fields: Record<string, string | string[]>, sentence: string) {
  const answer = await here.post(path, fields)
  expect({ status: answer.status, said: answer.text.includes(sentence) }).toEqual({ status: 422, said: true })
  return answer
}
