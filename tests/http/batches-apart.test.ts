import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress, cupCosts, openBatches } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { forecast } from "../../server/forecast/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceCup } from "../../server/tracing/service.ts"
import { verify } from "../../server/verify/service.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

let now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }

let here: Listening
let keys = 0
const key = () => `apart-test-${++keys}`
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, tracingRoutes, historyRoutes])
})
afterAll(() => here.close())

async function start(cups: number, name = "Sea glass"): Promise<number> {
  const { versionId } = designs(studio).find((design) => design.name === name)!
  const answer = await here.post("/batches", { key: key(), versionId: String(versionId), cups: String(cups) })
  return Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
}
const post = (id: number, step: string, fields: Record<string, string | string[]>) =>
  here.post(`/batches/${id}/${step}`, { key: key(), ...fields })
const cupsOf = (id: number) => batchProgress(studio, id).cups
const ids = (id: number) => cupsOf(id).map((cup) => String(cup.id))
const serials = (id: number) => cupsOf(id).map((cup) => cup.serial)
const lastAction = () => file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
const undo = (actionId = lastAction()) =>
  here.post(`/history/${actionId}/undo`, { key: key(), returnTo: "/" })
async function split(id: number, cupIds: readonly string[]): Promise<number> {
  const answer = await post(id, "split", { cupIds: ["", ...cupIds] })
  expect(answer.status, answer.text).toBe(303)
  return Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
}
const used = (supply: string) =>
  file.firstText<{ used: number }>(
    `SELECT coalesce(-sum(m.amount), 0) AS used FROM movement m JOIN container k ON k.id = m.container_id
     JOIN supply s ON s.id = k.supply_id WHERE s.name = ?`,
    [supply],
  )!.used
/** What a cup's record says, but for the batch it is in. */
const recordOf = (serial: string) => {
  const { batchId: _batch, wentOn: _went, ...record } = traceCup(studio, serial)
  return record
}

describe("some cups go on as a batch of their own", () => {
  test("with all that is on them: layers, costs, lots, the day they were started; undone, they are back", async () => {
    const id = await start(4)
    for (const position of ["1", "2"]) await post(id, "coat", { position })
    const all = serials(id)
    const before = { costs: cupCosts(file, id), records: all.map(recordOf) }
    now = now.add({ hours: 48 })
    const other = await split(id, ids(id).slice(0, 2))
    expect([serials(id), serials(other)]).toEqual([all.slice(2), all.slice(0, 2)])
    expect(batchProgress(studio, other)).toMatchObject({
      next: { layer: { position: 3 }, cups: [{ layersDone: 2 }, { layersDone: 2 }] },
    })
    expect(new Map([...cupCosts(file, other), ...cupCosts(file, id)])).toEqual(before.costs)
    expect(all.map(recordOf)).toEqual(before.records)
    const page = (await here.get(`/cups/${all[0]}`)).text
    expect(page).toContain(`in <a href="/batches/${other}">batch ${other}</a>`)
    expect((await here.get(`/batches/${other}`)).text).toContain(`came from <a href="/batches/${id}">`)
    expect((await here.get(`/batches/${id}`)).text).toContain(`went on in <a href="/batches/${other}">`)
    expect((await here.get(`/batches/${other}/measured/2`)).status).toBe(200)

    await undo()
    expect([serials(id), serials(other)]).toEqual([all, []])
    expect((await here.get(`/batches/${other}`)).text).toContain("No cup is in this batch any more.")
    expect(openBatches(studio).map((one) => one.id)).not.toContain(other)
    expect(verify(file)).toEqual([])
  })

  test("their next coats are their own, and then the split is undone only after those", async () => {
    const id = await start(2)
    await post(id, "coat", { position: "1" })
    const coated = lastAction()
    const other = await split(id, ids(id).slice(0, 1))
    const apart = lastAction()
    await post(other, "coat", { position: "2" })
    const layers = (batch: number) => cupsOf(batch).map((cup) => cup.layersDone)
    expect([layers(id), layers(other)]).toEqual([[1], [2]])
    const refused = await undo(apart)
    expect([refused.status, refused.text.includes("White base")]).toEqual([409, true])
    expect((await undo(coated)).status).toBe(409)
    await undo()
    expect((await undo(apart)).status).toBe(303)
    expect((await undo(coated)).status).toBe(303)
    expect(cupsOf(id).map((cup) => cup.layersDone)).toEqual([0, 0])
  })

  test("what is used once a batch was used for the layers they have, and is used once more for each after them", async () => {
    const id = await start(3)
    const gloves = used("Nitrile gloves")
    await post(id, "coat", { position: "1", cupIds: ids(id)[0]! })
    expect(used("Nitrile gloves") - gloves).toBe(2)
    // the one that has the layer goes; for the others its gloves are used up all the same
    const other = await split(id, ids(id).slice(0, 1))
    await post(id, "coat", { position: "1" })
    expect(used("Nitrile gloves") - gloves).toBe(2)
    expect(batchProgress(studio, other).begun).toEqual(new Set([1]))
  })

  test("planning counts each cup once, whatever batch it is in", async () => {
    const id = await start(6)
    await post(id, "coat", { position: "1" })
    const lacks = () =>
      forecast(studio).shortfalls.map(({ supplyId, missing, firstOn }) => ({ supplyId, missing, firstOn }))
    const lines = () =>
      forecast(studio).lines.map(({ covered, made, quantity }) => ({ covered, made, quantity }))
    const before = { lacks: lacks(), lines: lines() }
    const other = await split(id, ids(id).slice(0, 1))
    const onlyOncePerBatch = new Set(
      file
        .allText<{ id: number }>("SELECT DISTINCT supply_id AS id FROM layer_use WHERE how = 'per-batch'")
        .map((row) => row.id),
    )
    const same = (list: ReturnType<typeof lacks>) =>
      list.filter(({ supplyId }) => !onlyOncePerBatch.has(supplyId))
    expect(lines()).toEqual(before.lines)
    expect(same(lacks())).toEqual(same(before.lacks))
    await post(id, "join", { cupIds: ["", ...ids(other)] })
    expect({ lacks: lacks(), lines: lines() }).toEqual(before)
  })

  test("that cannot be is refused in a sentence, and nothing is changed", async () => {
    const id = await start(2)
    const before = lastAction()
    const [one, two] = ids(id)
    for (const [cupIds, sentence] of [
      [[""], "Choose the cups first."],
      [["", one!, two!], "Leave at least one cup in this batch"],
      [["", "999999"], "not in work in this batch any more"],
    ] as const) {
      const answer = await post(id, "split", { cupIds: [...cupIds] })
      expect([answer.status >= 400, answer.text.includes(sentence)], sentence).toEqual([true, true])
    }
    expect(lastAction()).toBe(before)
  })
})

describe("cups of another batch join", () => {
  test("one, and then all that are left; the empty batch says where they went, and the last coat is one", async () => {
    const [here1, other] = [await start(2), await start(2)]
    for (const id of [here1, other]) await post(id, "coat", { position: "1" })
    const [first, second] = ids(other)
    const joinPage = (await here.get(`/batches/${here1}/apart`)).text
    expect(joinPage).toContain(`Of batch ${other}`)
    await post(here1, "join", { cupIds: ["", first!] })
    expect([ids(here1).length, ids(other)]).toEqual([3, [second]])
    await post(here1, "join", { cupIds: ["", second!] })
    expect((await here.get(`/batches/${other}`)).text).toContain("No cup is in this batch any more.")
    await post(here1, "coat", { position: "2" })
    expect(cupsOf(here1).map((cup) => cup.layersDone)).toEqual([2, 2, 2, 2])
    expect(
      file.firstText<{ n: number }>(
        "SELECT count(*) AS n FROM coat_cup WHERE coat_id = (SELECT max(id) FROM coat)",
      )!.n,
    ).toBe(4)
    expect(traceCup(studio, serials(here1).at(-1)!).wentOn).toMatchObject([
      { fromBatchId: other, toBatchId: here1 },
    ])
    expect(verify(file)).toEqual([])
  })

  test("not with more layers on, not of another design, not when scrapped", async () => {
    const id = await start(1)
    const [further, foreign, gone] = [await start(1), await start(1, "Copper dusk"), await start(1)]
    await post(further, "coat", { position: "1" })
    await post(gone, "scrap", { cupId: ids(gone)[0]! })
    for (const other of [further, foreign, gone]) {
      const answer = await post(id, "join", { cupIds: ["", ids(other)[0]!] })
      expect([answer.status, answer.text.includes("cannot go on in this batch")]).toEqual([409, true])
    }
    expect((await here.get(`/batches/${id}/apart`)).text).not.toContain(`Of batch ${further}`)
  })
})

describe("one more coat of the same layer", () => {
  test("takes the layer's supplies again, stands beside the first on the cup's page, and no blank is used twice", async () => {
    const id = await start(2)
    for (const position of ["1", "2"]) await post(id, "coat", { position })
    const [white, blanks] = [
      used("White primer"),
      file.firstText<{ n: number }>(
        "SELECT sum(amount) AS n FROM movement WHERE kind = 'use' AND container_id IN (SELECT c.id FROM container c JOIN blank b ON b.supply_id = c.supply_id)",
      )!.n,
    ]
    const [one] = ids(id)
    const done = await post(id, "coat", { position: "2", again: "on", cupIds: ["", one!] })
    expect(done.status, done.text).toBe(303)
    expect(cupsOf(id).map((cup) => cup.layersDone)).toEqual([2, 2])
    const again = used("White primer") - white
    const [twice, once] = serials(id).map((serial) => traceCup(studio, serial).layers[1]!.coats.length)
    expect([twice, once]).toEqual([2, 1])
    // the design's own amount a cup
    expect(again).toBe(9_000)
    expect((await post(id, "coat", { position: "3" })).status).toBe(303)
    // the first layer is not on top any more
    const late = await post(id, "coat", { position: "1", again: "on", cupIds: ["", one!] })
    expect([late.status, late.text.includes("does not have Scuff and wipe on top")]).toEqual([409, true])
    const after = file.firstText<{ n: number }>(
      "SELECT sum(amount) AS n FROM movement WHERE kind = 'use' AND container_id IN (SELECT c.id FROM container c JOIN blank b ON b.supply_id = c.supply_id)",
    )!.n
    expect(after).toBe(blanks)
    expect(verify(file)).toEqual([])
  })

  test("past the layer's latest recoat it asks to scuff first; undone, only the first coat is left", async () => {
    const id = await start(1)
    for (const position of ["1", "2", "3", "4"]) await post(id, "coat", { position })
    now = now.add({ hours: 24 * 5 })
    const asked = await post(id, "coat", { position: "4", again: "on", _form: "again" })
    expect([asked.status, asked.text.includes("scuff and wipe first")]).toEqual([409, true])
    expect((await here.get(`/batches/${id}`)).text).toContain('id="f-again-scuff-on"')
    const done = await post(id, "coat", { position: "4", again: "on", scuff: ["", "on"] })
    expect(done.status, done.text).toBe(303)
    expect(traceCup(studio, serials(id)[0]!).layers[3]!.coats.length).toBeGreaterThan(1)
    await undo()
    expect(cupsOf(id).map((cup) => cup.layersDone)).toEqual([4])
  })

  test("when the last layer is on, the page asks how many are good", async () => {
    const id = await start(1, "Plain name cup")
    const layers = batchProgress(studio, id).plan.layers.length
    for (let position = 1; position <= layers; position++)
      await post(id, "coat", { position: String(position) })
    const page = (await here.get(`/batches/${id}`)).text
    expect(page).toContain("Every layer is on.")
    expect(page).toContain("Finish the batch")
    expect((await post(id, "finish", { good: "1" })).status).toBe(303)
    expect(cupsOf(id)[0]!.state).toBe("good")
  })
})
