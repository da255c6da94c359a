import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import type { Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
const versionOf = (name: string) => String(designs(studio).find((design) => design.name === name)!.versionId)

let here: Listening
let keys = 0
const key = () => `batches-test-${++keys}`
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, tracingRoutes])
})
afterAll(() => here.close())

async function start(name: string, cups: number): Promise<number> {
  const answer = await here.post("/batches", { key: key(), versionId: versionOf(name), cups: String(cups) })
  expect(answer.status).toBe(303)
  return Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
}
const progress = (id: number) => batchProgress(studio, id)

describe("a batch", () => {
  test("is coated layer by layer, and the same tap twice takes once", async () => {
    const id = await start("Sea glass", 2)
    const tap = { key: key(), position: "1" }
    const before = file.firstText<{ n: number }>("SELECT count(*) AS n FROM movement")!.n
    expect((await here.post(`/batches/${id}/coat`, tap)).status).toBe(303)
    const after = file.firstText<{ n: number }>("SELECT count(*) AS n FROM movement")!.n
    expect((await here.post(`/batches/${id}/coat`, tap)).status).toBe(303)
    expect(file.firstText<{ n: number }>("SELECT count(*) AS n FROM movement")!.n).toBe(after)
    expect(after).toBeGreaterThan(before)
    expect(progress(id).cups.map((cup) => cup.layersDone)).toEqual([1, 1])
    const page = await here.get(`/batches/${id}`)
    expect(page.text).toContain("Next: White base on 2 of 2 cups.")
    expect(keysIn(page.text).length).toBeGreaterThan(1)
  })

  test("is finished with one cup scrapped after layer 3, which took three layers only", async () => {
    const id = await start("Sea glass", 3)
    const [first] = progress(id).cups
    const answer = await here.post(`/batches/${id}/finish`, {
      key: key(),
      different: String(first!.id),
      outcome: "scrapped",
      afterLayer: "3",
    })
    expect(answer.status).toBe(303)
    expect(progress(id).cups.map((cup) => [cup.state, cup.layersDone])).toEqual([
      ["scrapped", 3],
      ["good", 6],
      ["good", 6],
    ])
  })

  test("has cups scrapped where they stand", async () => {
    const id = await start("Sea glass", 2)
    const [first] = progress(id).cups
    await here.post(`/batches/${id}/scrap`, { key: key(), cupId: String(first!.id) })
    expect(progress(id).cups.map((cup) => cup.state)).toEqual(["scrapped", "in work"])
  })
})

describe("when the shelf is short", () => {
  test("finishing says what is missing for how many cups, and goes on once the bottles held more", async () => {
    const id = await start("Sea glass", 40)
    const before = JSON.stringify(onHand(file, "UTC"))
    let fields: Record<string, string | string[]> = { key: key() }
    let answer = await here.post(`/batches/${id}/finish`, fields)
    expect(answer.status).toBe(409)
    expect(answer.text).toMatch(/The book says .+ missing for \d+ of 40 cups/)
    expect(JSON.stringify(onHand(file, "UTC"))).toBe(before)

    // says of every supply with a bottle left that its first bottle held as much more as is missing
    const lacks = [...answer.text.matchAll(/name="(heldMore\[\d+\])\[amount\]" value="(\d+)"/g)]
    expect(lacks.length).toBeGreaterThan(0)
    fields = { key: key() }
    for (const [, row, amount] of lacks) {
      const select = answer.text.slice(answer.text.indexOf(`name="${row}[containerId]"`))
      fields[`${row}[containerId]`] = /<option value="(\d+)"/.exec(select)![1]!
      fields[`${row}[amount]`] = amount!
    }
    answer = await here.post(`/batches/${id}/finish`, fields)
    expect(answer.status).toBe(303)
    expect(progress(id).cups.every((cup) => cup.state === "good")).toBe(true)
    expect(
      file.firstText<{ n: number }>(
        "SELECT count(*) AS n FROM movement WHERE kind = 'count' AND basis = 'estimated' AND action_id = (SELECT max(id) FROM action)",
      )!.n,
    ).toBe(lacks.length)
  })

  test("an address left over from a refusal leads back to the batch", async () => {
    const answer = await here.get("/batches/1/finish")
    expect([answer.status, answer.headers.location]).toEqual([302, "/batches/1"])
  })
})

describe("bad input gets a sentence and changes nothing", () => {
  const actions = () => file.firstText<{ n: number }>("SELECT count(*) AS n FROM action")!.n

  test.each([
    ["no cups", { cups: "0" }, "How many cups must be a whole number from 1 to 500."],
    ["absurdly many", { cups: "99999" }, "How many cups must be a whole number from 1 to 500."],
    ["no number", { cups: "<b>x</b>" }, "How many cups must be a whole number from 1 to 500."],
    ["no such design", { versionId: "99999" }, "There is no such"],
  ])("starting with %s", async (_what, wrong, sentence) => {
    const before = actions()
    const answer = await here.post("/batches", {
      key: key(),
      versionId: versionOf("Sea glass"),
      cups: "1",
      ...wrong,
    })
    expect(answer.status).toBeGreaterThanOrEqual(400)
    expect(answer.text).toContain(sentence)
    expect(answer.text).not.toContain("<b>x</b>")
    expect(actions()).toBe(before)
  })

  test("a layer out of turn, a cup of another batch, a key used for something else", async () => {
    const id = await start("Sea glass", 1)
    const before = actions()
    expect((await here.post(`/batches/${id}/coat`, { key: key(), position: "3" })).text).toContain(
      "comes later",
    )
    expect((await here.post(`/batches/${id}/scrap`, { key: key(), cupId: "1" })).text).toContain(
      "Choose the cups first.",
    )
    expect((await here.post(`/batches/${id}/finish`, { key: key(), different: "1" })).text).toContain(
      "not in work in this batch",
    )
    const used = file.firstText<{ key: string }>("SELECT key FROM action ORDER BY id DESC LIMIT 1")!.key
    const again = await here.post(`/batches/${id}/coat`, { key: used, position: "1" })
    expect([again.status, again.text.includes("already sent with other contents")]).toEqual([409, true])
    expect(actions()).toBe(before)
  })
})

describe("tracing", () => {
  test("a cup's page names its lots, a lot's page names the cup, both as CSV too", async () => {
    const serial = file.firstText<{ serial: string }>(
      "SELECT serial FROM cup WHERE state = 'sent' LIMIT 1",
    )!.serial
    const cup = await here.get(`/cups/${serial}`)
    const lot = /href="(\/lots\/\d+)"/.exec(cup.text)![1]!
    expect((await here.get(lot)).text).toContain(serial)
    const csv = await here.get(`${lot}/trace.csv`)
    expect([csv.headers["content-type"], csv.text.includes(serial)]).toEqual([
      "text/csv; charset=utf-8",
      true,
    ])
    expect((await here.get(`/cups/${serial}/trace.csv`)).text).toMatch(new RegExp(`\r\n${serial},1,`))
  })

  test.each(["/cups/T9999", "/cups/%3Cscript%3E", "/lots/999999", "/lots/x", "/cups/T9999/trace.csv"])(
    "%s is not there, and says so",
    async (path) => {
      const answer = await here.get(path)
      expect(answer.status).toBe(404)
      expect(answer.text).not.toContain("<script>")
    },
  )
})
