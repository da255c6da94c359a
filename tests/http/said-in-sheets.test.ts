import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { saySheets } from "../../server/domain/pieces.ts"
import { forecastRoutes } from "../../server/forecast/routes.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { moneyRoutes } from "../../server/money/routes.ts"
import { addOrder } from "../../server/orders/service.ts"
import { purchasingRoutes } from "../../server/purchasing/routes.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { countContainer, writeOff } from "../../server/shelf/service.ts"
import { someone } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

/*
 * "Black vinyl sheet" of the demo comes in sheets of 12 × 12 in, 304.8 mm: 92,903 mm². For one cup "Plain name cup" a
 * strip of 67 mm is cut off: 0.22 of a sheet.
 */
const SHEET = { widthUm: 304_800, heightUm: 304_800 }
const SHEET_MM2 = 92_903
const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
const { designId, versionId } = designs(studio).find((design) => design.name === "Plain name cup")!

let here: Listening
let keys = 0
const key = () => `sheets-test-${++keys}`
const vinyl = () => onHand(file, "America/Chicago").filter((one) => one.supply === "Black vinyl sheet")
const { supplyId } = vinyl()[0]!
const inAll = () => vinyl().reduce((sum, one) => sum + one.amountLeft, 0)
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, forecastRoutes, moneyRoutes, purchasingRoutes, shelfRoutes])
  const [pack, ...others] = vinyl()
  countContainer(studio, someone(), {
    code: pack!.code,
    amount: Math.round(2.5 * SHEET_MM2),
    basis: "counted",
  })
  for (const { code } of others) countContainer(studio, someone(), { code, amount: 0, basis: "counted" })
})
afterAll(() => here.close())

const says = async (path: string) => words((await here.get(path)).text)
const words = (html: string) => html.replace(/<[^>]+>/g, " ").replace(/\s+/g, " ")

test("two and a half sheets are said as that on the shelf and where they are worth money", async () => {
  expect(await says("/shelf")).toContain("2.5 sheets")
  expect(await says("/money/shelf")).toMatch(/Black vinyl sheet 2\.5 sheets \$/)
})

test("what forty cups lack is said in sheets: what runs short, the supply's days, the shopping list", async () => {
  const lines = [{ designId, quantity: 40, dueOn: "2026-12-28", note: "" }]
  addOrder(studio, someone(), { buyerId: null, state: "planned", note: "", lines })
  expect(await says("/forecast")).toMatch(
    /Black vinyl sheet (?:some of it used every week whatever is made )?\w+ \d+ \w+ [\d.]+ sheets/,
  )
  const days = await says(`/forecast/supplies/${supplyId}`)
  expect(days).toMatch(/Runs short on [^:]+: [\d.]+ sheets missing in all/)
  expect(days).toMatch(/Left that evening .* 0\.4 sheets/)
  expect(days.replace(/Why this much.*/, "")).not.toContain("cm²")
  const list = await says("/shopping")
  expect(list).toMatch(/Black vinyl sheet : [\d.]+ sheets missing from/)
  expect(list).toMatch(/packs? holds? \d+ sheets/)
})

test("a batch says what it takes and what is left in sheets, and what it lacks is answered in sheets", async () => {
  const started = await here.post("/batches", { key: key(), versionId: String(versionId), cups: "1" })
  const id = Number(/\/batches\/(\d+)/.exec(started.headers.location ?? "")![1])
  const { layers } = batchProgress(studio, id).plan
  const vinylAt = layers.find((layer) => layer.name === "Cut vinyl")!
  for (const { position } of layers.filter((layer) => layer.position < vinylAt.position))
    await here.post(`/batches/${id}/coat`, { key: key(), position: String(position) })
  expect(await says(`/batches/${id}`)).toMatch(/Black vinyl sheet 0\.2 sheets .* 2\.5 sheets left/)

  const [pack] = vinyl()
  countContainer(studio, someone(), {
    code: pack!.code,
    amount: Math.round(0.1 * SHEET_MM2),
    basis: "counted",
  })
  const short = await here.post(`/batches/${id}/coat`, { key: key(), position: String(vinylAt.position) })
  expect(short.status).toBe(409)
  expect(words(short.text)).toContain("0.1 sheets of Black vinyl sheet are missing")
  expect(words(short.text)).toContain("held more: the book says 0.1 sheets")
  // 67 of 304.8 mm less a tenth is 0.1198…: what is filled in is enough
  expect(short.text).toMatch(/name="answers\[0\]\[amount\]"[^>]* value="0\.12"/)
  const answered = await here.post(`/batches/${id}/coat`, {
    key: key(),
    position: String(vinylAt.position),
    "answers[0][say]": `more:${pack!.containerId}`,
    "answers[0][amount]": "1",
  })
  expect([answered.status, answered.headers.location]).toEqual([303, `/batches/${id}`])
  // a tenth and one, less the strip
  expect(saySheets(inAll(), SHEET)).toBe("0.9 sheets")
})

test("what was thrown away is said in sheets", async () => {
  const [pack] = vinyl()
  writeOff(studio, someone(), { code: pack!.code, amount: null, kind: "write-off", reason: "damaged" })
  expect(await says("/money/waste")).toMatch(/Black vinyl sheet .* 0\.9 sheets \$/)
})
