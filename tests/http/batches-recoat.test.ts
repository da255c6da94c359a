import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress, scuffRecipe } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const FIRST = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, FIRST)
let clock = FIRST
const studio = { file, now: () => clock }
/** Hours after the demo's today. */
const at = (hours: number) => {
  clock = FIRST.add({ minutes: hours * 60 })
}

let here: Listening
let keys = 0
const key = () => `recoat-test-${++keys}`
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, tracingRoutes, historyRoutes])
})
afterAll(() => here.close())
beforeEach(() => at(0))

const post = (path: string, fields: Record<string, string | string[]>) =>
  here.post(path, { key: key(), ...fields })
const progress = (id: number) => batchProgress(studio, id)
const id = (name: string) =>
  String(file.firstText<{ id: number }>("SELECT id FROM supply WHERE name = ?", [name])!.id)
const actions = () => file.firstText<{ n: number }>("SELECT count(*) AS n FROM action")!.n
const used = (batch: number, supply: string) =>
  file.firstText<{ used: number }>(
    `SELECT coalesce(-sum(m.amount), 0) AS used FROM movement m JOIN coat c ON c.id = m.coat_id
     JOIN container k ON k.id = m.container_id JOIN supply s ON s.id = k.supply_id WHERE c.batch_id = ? AND s.name = ?`,
    [batch, supply],
  )!.used

/** Two cups with their seal coat on: the next is due 12 to 48 hours later. */
async function sealed(): Promise<number> {
  const { versionId } = designs(studio).find((design) => design.name === "Sea glass")!
  const answer = await post("/batches", { versionId: String(versionId), cups: "2" })
  const batch = Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
  for (const position of ["1", "2", "3", "4"]) await post(`/batches/${batch}/coat`, { position })
  return batch
}

async function withRecipe() {
  const answer = await post("/batches/scuff", {
    minutes: "6",
    "uses[0][supplyId]": id("Lint-free wipes"),
    "uses[0][amount]": "2",
    "uses[1][supplyId]": id("Alcohol 99 %"),
    "uses[1][amount]": "4 mL",
  })
  expect(answer.status).toBe(303)
}

describe("how cups are scuffed", () => {
  test("is kept: minutes and supplies a cup; undone, it is as before", async () => {
    const before = scuffRecipe(studio)
    await withRecipe()
    expect(scuffRecipe(studio)).toMatchObject({
      minutes: 6,
      uses: [
        { supply: { name: "Lint-free wipes" }, amount: 2 },
        { supply: { name: "Alcohol 99 %" }, amount: 4_000 },
      ],
    })
    expect((await here.get("/batches/scuff")).text).toContain('value="4 mL"')
    await post(`/history/${actions()}/undo`, { returnTo: "/" })
    expect(scuffRecipe(studio)).toEqual(before)
  })

  test.each([
    ["minutes below zero", { minutes: "-1" }, "Minutes a cup must be a whole number"],
    ["no amount", { "uses[0][supplyId]": "WIPES", "uses[0][amount]": "" }, "is missing"],
    ["half a wipe", { "uses[0][supplyId]": "WIPES", "uses[0][amount]": "0.5" }, "Pieces are counted whole"],
    [
      "a blank",
      { "uses[0][supplyId]": "BLANK", "uses[0][amount]": "1" },
      "Choose a supply that cups are wiped with.",
    ],
    ["nothing there is", { "uses[0][supplyId]": "99999", "uses[0][amount]": "1" }, "Choose a supply"],
    [
      "the same twice",
      {
        "uses[0][supplyId]": "WIPES",
        "uses[0][amount]": "1",
        "uses[1][supplyId]": "WIPES",
        "uses[1][amount]": "1",
      },
      "is there twice",
    ],
  ])("%s is refused, and what was kept stays", async (_what, fields, sentence) => {
    const before = [scuffRecipe(studio), actions()]
    const named = { WIPES: id("Lint-free wipes"), BLANK: id("Slim 20 oz blank") }
    const filled = Object.fromEntries(
      Object.entries(fields).map(([name, value]) => [name, named[value as keyof typeof named] ?? value]),
    )
    const answer = await post("/batches/scuff", { minutes: "5", ...filled })
    expect([answer.status, answer.text.includes(sentence)]).toEqual([422, true])
    expect([scuffRecipe(studio), actions()]).toEqual(before)
  })
})

describe("the next coat", () => {
  test("before the earliest recoat the page says when; in the window it says until when", async () => {
    const batch = await sealed()
    at(2)
    const early = (await here.get(`/batches/${batch}`)).text
    expect(early).toContain("Not before")
    at(20)
    const inTime = (await here.get(`/batches/${batch}`)).text
    expect(inTime).not.toContain("Not before")
    expect(inTime).toContain("at the latest")
    expect(inTime).not.toContain("Scuff and wipe 2 cups first")
    expect((await post(`/batches/${batch}/coat`, { position: "5" })).status).toBe(303)
  })

  test("past the latest recoat, scuffing is shown first and then taken and kept with the coat", async () => {
    await withRecipe()
    const batch = await sealed()
    at(49)
    const page = (await here.get(`/batches/${batch}`)).text
    expect(page).toContain("Past the latest recoat of Seal coat")
    expect(page).toContain("Scuff and wipe 2 cups first, 6 minutes each")
    expect(page).toContain("Alcohol 99 % to scuff and wipe 2 cups")

    const before = [used(batch, "Lint-free wipes"), used(batch, "Alcohol 99 %")]
    const unasked = await post(`/batches/${batch}/coat`, { position: "5" })
    expect([unasked.status, unasked.text.includes("is past its latest recoat on")]).toEqual([409, true])
    expect((await post(`/batches/${batch}/coat`, { position: "5", scuff: ["", "on"] })).status).toBe(303)
    expect([used(batch, "Lint-free wipes"), used(batch, "Alcohol 99 %")]).toEqual([
      before[0]! + 4,
      before[1]! + 8_000,
    ])
    const cup = (await here.get(`/cups/${progress(batch).cups[0]!.serial}`)).text
    expect(cup).toContain("Scuffed and wiped first")
    expect(cup).toContain("Alcohol 99 % to scuff and wipe 2 cups")
  })

  test("only the cups that are late are scuffed", async () => {
    await withRecipe()
    const batch = await sealed()
    const [first, second] = progress(batch).cups
    await post(`/batches/${batch}/strip`, { cupIds: String(second!.id), fromPosition: "4" })
    at(30)
    await post(`/batches/${batch}/coat`, { position: "4" })
    at(50)
    const wipes = used(batch, "Lint-free wipes")
    expect((await post(`/batches/${batch}/coat`, { position: "5", scuff: ["", "on"] })).status).toBe(303)
    expect(used(batch, "Lint-free wipes")).toBe(wipes + 2)
    expect((await here.get(`/cups/${first!.serial}`)).text).toContain("Scuffed and wiped first")
    expect((await here.get(`/cups/${second!.serial}`)).text).not.toContain("Scuffed and wiped first")
  })

  test("unticked, since it was on in time and is noted late, nothing more is taken", async () => {
    await withRecipe()
    const batch = await sealed()
    at(60)
    const wipes = used(batch, "Lint-free wipes")
    expect((await post(`/batches/${batch}/coat`, { position: "5", scuff: "" })).status).toBe(303)
    expect(used(batch, "Lint-free wipes")).toBe(wipes)
  })

  test("finishing everything asks the same, once", async () => {
    await withRecipe()
    const batch = await sealed()
    at(60)
    const wipes = used(batch, "Lint-free wipes")
    const unasked = await post(`/batches/${batch}/finish`, { good: "2" })
    expect([unasked.status, unasked.text.includes("Scuff and wipe 2 cups first")]).toEqual([409, true])
    expect((await post(`/batches/${batch}/finish`, { good: "2", scuff: ["", "on"] })).status).toBe(303)
    expect(used(batch, "Lint-free wipes")).toBe(wipes + 4)
    await post(`/history/${actions()}/undo`, { returnTo: "/" })
    expect(used(batch, "Lint-free wipes")).toBe(wipes)
  })
})
