import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress, cupCosts } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceCup } from "../../server/tracing/service.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }

let here: Listening
let keys = 0
const key = () => `rework-test-${++keys}`
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, tracingRoutes, historyRoutes])
})
afterAll(() => here.close())

async function start(cups: number): Promise<number> {
  const { versionId } = designs(studio).find((design) => design.name === "Sea glass")!
  const answer = await here.post("/batches", { key: key(), versionId: String(versionId), cups: String(cups) })
  return Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
}
const progress = (id: number) => batchProgress(studio, id)
const states = (id: number) => progress(id).cups.map((cup) => [cup.state, cup.layersDone])
const post = (id: number, step: string, fields: Record<string, string | string[]>) =>
  here.post(`/batches/${id}/${step}`, { key: key(), ...fields })
const used = (id: number, supply: string) =>
  file.firstText<{ used: number }>(
    `SELECT coalesce(-sum(m.amount), 0) AS used FROM movement m JOIN coat c ON c.id = m.coat_id
     JOIN container k ON k.id = m.container_id JOIN supply s ON s.id = k.supply_id WHERE c.batch_id = ? AND s.name = ?`,
    [id, supply],
  )!.used
const lastAction = () => file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id

describe("once a batch", () => {
  test("gloves are used once for a layer, however many goes it takes", async () => {
    const id = await start(3)
    const [first, second, third] = progress(id).cups.map((cup) => String(cup.id))
    await post(id, "coat", { position: "1", cupIds: first! })
    expect([used(id, "Nitrile gloves"), used(id, "Lint-free wipes")]).toEqual([2, 1])
    await post(id, "coat", { position: "1", cupIds: [second!, third!] })
    expect([used(id, "Nitrile gloves"), used(id, "Lint-free wipes")]).toEqual([2, 3])
  })

  test("an undone go does not count: the next one takes them", async () => {
    const id = await start(1)
    await post(id, "coat", { position: "1" })
    await here.post(`/history/${lastAction()}/undo`, { key: key(), returnTo: "/" })
    await post(id, "coat", { position: "1" })
    expect(used(id, "Nitrile gloves")).toBe(2)
  })
})

describe("strip and coat again", () => {
  test("a cup is taken back to the layer before, coated again on its serial, and its record shows both", async () => {
    const id = await start(2)
    for (const position of ["1", "2", "3"]) await post(id, "coat", { position })
    const [cup] = progress(id).cups
    const costBefore = cupCosts(file, id).get(cup!.id)!
    const stripped = await post(id, "strip", { cupIds: String(cup!.id), fromPosition: "2" })
    expect(stripped.status).toBe(303)
    expect(states(id)).toEqual([
      ["in work", 1],
      ["in work", 3],
    ])
    expect(progress(id).next).toMatchObject({ layer: { position: 2 }, cups: [{ serial: cup!.serial }] })
    expect(progress(id).doneAt.get(2)).toMatchObject({ cups: 1 })

    await post(id, "coat", { position: "2" })
    expect(states(id)).toEqual([
      ["in work", 2],
      ["in work", 3],
    ])
    const coats = traceCup(studio, cup!.serial).layers[1]!.coats
    expect(coats.map((coat) => coat.strippedAt !== null)).toEqual([true, false])
    expect(cupCosts(file, id).get(cup!.id)!).toBeGreaterThan(costBefore)
    const page = (await here.get(`/cups/${cup!.serial}`)).text
    expect(page.match(/Stripped off again/g)).toHaveLength(2)
  })

  test("a finished second is in work again, and finishes with the layers that came off", async () => {
    const id = await start(1)
    await post(id, "finish", { good: "1" })
    const [cup] = progress(id).cups
    const primer = used(id, "White primer")
    await post(id, "strip", { cupIds: String(cup!.id), fromPosition: "5" })
    expect(states(id)).toEqual([["in work", 4]])
    await post(id, "finish", { good: "1" })
    expect(states(id)).toEqual([["good", 6]])
    expect([used(id, "White primer"), used(id, "Slim 20 oz blank"), used(id, "Gift boxes")]).toEqual([
      primer,
      1,
      2,
    ])
  })

  test("stripped bare it keeps its blank", async () => {
    const id = await start(1)
    await post(id, "coat", { position: "1" })
    await post(id, "strip", { cupIds: String(progress(id).cups[0]!.id), fromPosition: "1" })
    expect(states(id)).toEqual([["in work", 0]])
    const page = await here.get(`/batches/${id}`)
    expect(page.text.slice(0, page.text.indexOf("later layers"))).not.toContain("Slim 20 oz blank")
    await post(id, "coat", { position: "1" })
    expect([used(id, "Slim 20 oz blank"), used(id, "Lint-free wipes")]).toEqual([1, 2])
  })

  test("undone, the layers are on it again; not while it was coated since", async () => {
    const id = await start(1)
    for (const position of ["1", "2"]) await post(id, "coat", { position })
    const coated = lastAction()
    await post(id, "strip", { cupIds: String(progress(id).cups[0]!.id), fromPosition: "2" })
    const strip = lastAction()
    const early = await here.post(`/history/${coated}/undo`, { key: key(), returnTo: "/" })
    expect([early.status, early.text.includes("stripped or coated again after it")]).toEqual([409, true])
    await post(id, "coat", { position: "2" })
    const again = lastAction()
    expect((await here.post(`/history/${strip}/undo`, { key: key(), returnTo: "/" })).status).toBe(409)
    await here.post(`/history/${again}/undo`, { key: key(), returnTo: "/" })
    expect((await here.post(`/history/${strip}/undo`, { key: key(), returnTo: "/" })).status).toBe(303)
    expect(states(id)).toEqual([["in work", 2]])
  })

  test.each([
    ["no cup", { fromPosition: "1" }, "Choose the cups to strip first."],
    ["no layer", { cupIds: "CUP" }, "From which layer on: choose one."],
    ["a layer it does not have", { cupIds: "CUP", fromPosition: "3" }, "does not have Colours on it"],
    ["a layer there is not", { cupIds: "CUP", fromPosition: "99" }, "This design has no such layer."],
    ["a cup of another batch", { cupIds: "1", fromPosition: "1" }, "Choose the cups to strip first."],
    ["something else", { cupIds: "'; DROP TABLE cup; --", fromPosition: "1" }, "choose one"],
  ])("%s is refused with a sentence and changes nothing", async (_what, fields, sentence) => {
    const id = await start(1)
    await post(id, "coat", { position: "1" })
    const before = [lastAction(), states(id)]
    const cup = String(progress(id).cups[0]!.id)
    const filled = Object.fromEntries(
      Object.entries(fields).map(([name, value]) => [name, value === "CUP" ? cup : value]),
    )
    const answer = await post(id, "strip", filled)
    expect(answer.status).toBeGreaterThanOrEqual(400)
    expect(answer.text).toContain(sentence)
    expect([lastAction(), states(id)]).toEqual(before)
  })

  test("a sent or scrapped cup is not stripped", async () => {
    const sent = file.firstText<{ id: number; batch_id: number }>(
      "SELECT id, batch_id FROM cup WHERE state = 'sent' LIMIT 1",
    )!
    const answer = await post(sent.batch_id, "strip", { cupIds: String(sent.id), fromPosition: "1" })
    expect([answer.status, answer.text.includes("is sent: it is not taken back.")]).toEqual([409, true])
  })
})
