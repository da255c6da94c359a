import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

/** A Tuesday; the studio's clock is UTC. */
const FIRST = Temporal.Instant.from("2026-12-01T18:00:00Z")
let clock = FIRST
/** Hours after the seal coat. */
const at = (hours: number) => {
  clock = FIRST.add({ minutes: Math.round(hours * 60) })
}

const file = openStudioFile(":memory:")
loadDemo(file, FIRST)
const studio = { file, now: () => clock }

let here: Listening
let keys = 0
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes])
})
afterAll(() => here.close())
beforeEach(() => at(0))

const post = (path: string, fields: Record<string, string>) =>
  here.post(path, { key: `early-test-${++keys}`, ...fields })
const progress = (id: number) => batchProgress(studio, id)

/** Two cups with a day between their layers; the seal coat is on, the next is due 12 to 48 hours later. */
async function sealed(): Promise<number> {
  at(-72)
  const { versionId } = designs(studio).find((design) => design.name === "Sea glass")!
  const answer = await post("/batches", { versionId: String(versionId), cups: "2" })
  const batch = Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
  for (const position of [1, 2, 3, 4]) {
    at(24 * (position - 4))
    const answer = await post(`/batches/${batch}/coat`, { position: String(position), scuff: "" })
    expect(answer.status, answer.text).toBe(303)
  }
  return batch
}

describe("a coat before the layer under it allows the next", () => {
  const sentence = "Seal coat should have had 12 h before the next coat: look it over."
  const said = async (path: string, fields: Record<string, string>) => {
    const answer = await post(path, fields).set("Accept", "application/json")
    expect(answer.status, answer.text).toBe(200)
    return answer.body.also as string[]
  }
  /** a layer's line in the layers' list */
  const layerLine = async (batch: number, position: number) =>
    (await here.get(`/batches/${batch}`)).text
      .split("<li")
      .find((line) => line.includes(`<span>${position}. `))!

  test("is let pass, with a word in the notice and a mark in the layers' list", async () => {
    const batch = await sealed()
    at(11.9)
    expect(await said(`/batches/${batch}/coat`, { position: "5" })).toContain(sentence)
    expect(progress(batch).doneAt.get(5)).toMatchObject({ cups: 2, early: 2 })
    expect(await layerLine(batch, 5)).toContain(">early<")
    expect(await layerLine(batch, 4)).not.toContain(">early<")
  })

  test("at its earliest nothing is said", async () => {
    const batch = await sealed()
    at(12)
    expect(await said(`/batches/${batch}/coat`, { position: "5" })).not.toContain(sentence)
    expect(progress(batch).doneAt.get(5)).toMatchObject({ early: 0 })
  })

  test("the same when everything is finished at once, which says before that all layers get one time", async () => {
    const batch = await sealed()
    at(2)
    for (const page of [`/batches/${batch}`, `/batches/${batch}/finish`])
      expect((await here.get(page)).text).toMatch(/all (layers still to do )?get the same time: now/i)
    expect(await said(`/batches/${batch}/finish`, { good: "2" })).toContain(sentence)
    const done = progress(batch).doneAt
    // those written down together say nothing of the time between them
    expect([done.get(5)!.early, done.get(6)!.early]).toEqual([2, 0])
  })

  test("finished with the time that it was, nothing is said", async () => {
    const batch = await sealed()
    at(30)
    // 14 hours after the seal coat, on the studio's clock
    const fields = { good: "2", happenedAt: "2026-12-02T08:00" }
    expect(await said(`/batches/${batch}/finish`, fields)).not.toContain(sentence)
    expect(progress(batch).doneAt.get(5)).toMatchObject({ at: "2026-12-02T08:00:00.000Z", early: 0 })
  })

  test("one more coat of a layer is early over itself, and both its times stay in the list", async () => {
    const batch = await sealed()
    at(0.5)
    expect(await said(`/batches/${batch}/coat`, { position: "4", again: "on" })).toContain(sentence)
    const line = await layerLine(batch, 4)
    expect(line).toContain("2 coats: Tue 1 Dec, 18:00, 18:30")
    expect(line).toContain(">early<")
  })

  test("one more coat on some cups says on how many", async () => {
    const batch = await sealed()
    at(14)
    const [first] = progress(batch).cups
    await post(`/batches/${batch}/coat`, { position: "4", again: "on", cupIds: String(first!.id) })
    expect(await layerLine(batch, 4)).toContain("2 coats on 1 of 2 cups: Tue 1 Dec, 18:00, Wed 2 Dec, 08:00")
    expect(progress(batch).doneAt.get(4)).toMatchObject({ cups: 2, cupsWithAll: 1, early: 0 })
  })
})
