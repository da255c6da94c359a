import sharp from "sharp"
import request from "supertest"
import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceCup } from "../../server/tracing/service.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

let now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }

let here: Listening
let keys = 0
const key = () => `room-test-${++keys}`
beforeAll(async () => {
  // a day on which nothing was said of the room yet
  now = now.add({ hours: 48 })
  here = await listenWith(studio, [batchesRoutes, tracingRoutes, historyRoutes, receivingRoutes])
})
afterAll(() => here.close())

async function start(cups: number): Promise<number> {
  const { versionId } = designs(studio).find((design) => design.name === "Sea glass")!
  const answer = await here.post("/batches", { key: key(), versionId: String(versionId), cups: String(cups) })
  return Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
}
const post = (id: number, step: string, fields: Record<string, string | string[]>) =>
  here.post(`/batches/${id}/${step}`, { key: key(), ...fields })
const serialOf = (id: number) => batchProgress(studio, id).cups[0]!.serial
const lastAction = () => file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
const fieldOf = (page: string, name: string) =>
  new RegExp(`name="${name}"[^>]*value="([^"]*)"`).exec(page)?.[1]

describe("the room that a coat was put on in", () => {
  test("may stay empty, and is no part of the coat then", async () => {
    const id = await start(1)
    expect(fieldOf((await here.get(`/batches/${id}`)).text, "roomTemperature")).toBe("")
    await post(id, "coat", { position: "1", roomTemperature: "", roomHumidity: "" })
    expect(traceCup(studio, serialOf(id)).layers[0]!.coats[0]!.room).toBeNull()
    expect((await here.get(`/cups/${serialOf(id)}`)).text).not.toContain("in a room of")
  })

  test("is asked once a day, stands with the coat, on the cup's page, in its CSV and JSON; an undone one is not proposed", async () => {
    const id = await start(1)
    await post(id, "coat", { position: "1", roomTemperature: "26", roomHumidity: "48 %" })
    const page = (await here.get(`/batches/${id}`)).text
    expect([fieldOf(page, "roomTemperature"), fieldOf(page, "roomHumidity")]).toEqual(["26", "48"])
    expect(page).toContain("The room: 26 °C, 48 % humidity")
    expect(page.slice(page.indexOf("layer-list"))).toMatch(/Scuff and wipe[\s\S]*26 °C, 48 % humidity/)
    const cup = `/cups/${serialOf(id)}`
    expect((await here.get(cup)).text).toContain("in a room of 26 °C, 48 % humidity")
    const [header = "", line = ""] = (await here.get(`${cup}/trace.csv`)).text.split("\r\n")
    const at = header.split(",").indexOf("room_celsius")
    expect(line.split(",").slice(at, at + 2)).toEqual(["26", "48"])
    expect((await here.get(`${cup}/trace.json`)).body.layers[0].coats[0].room).toEqual({
      celsiusTenths: 260,
      humidityPercent: 48,
    })
    await here.post(`/history/${lastAction()}/undo`, { key: key(), returnTo: "/" })
    expect(fieldOf((await here.get(`/batches/${id}`)).text, "roomTemperature")).toBe("")
  })

  test("tomorrow it is asked anew", async () => {
    const id = await start(1)
    await post(id, "coat", { position: "1", roomTemperature: "21", roomHumidity: "" })
    now = now.add({ hours: 24 })
    expect(fieldOf((await here.get(`/batches/${id}`)).text, "roomTemperature")).toBe("")
  })

  test("that cannot be is refused in one sentence, keeps what was typed and takes nothing", async () => {
    const id = await start(1)
    const before = lastAction()
    for (const [fields, sentence] of [
      [{ roomTemperature: "220", roomHumidity: "40" }, "between 5 and 40 °C"],
      [{ roomTemperature: "22", roomHumidity: "140" }, "Humidity is a number from 1 to 100 %"],
    ] as const) {
      const answer = await post(id, "coat", { position: "1", ...fields })
      expect([answer.status, answer.text.includes(sentence)], sentence).toEqual([422, true])
      expect(fieldOf(answer.text, "roomTemperature")).toBe(fields.roomTemperature)
    }
    expect(lastAction()).toBe(before)
  })

  test("a warm room shortens the pot life on the card, and what is finished is what the card says", async () => {
    const id = await start(6)
    const potLife = async () =>
      [...(await here.get(`/batches/${id}/mix-card`)).text.matchAll(/data-minutes="(\d+)"/g)].map((found) =>
        Number(found[1]),
      )
    const plain = await potLife()
    await post(id, "coat", { position: "1", roomTemperature: "33", roomHumidity: "" })
    const card = (await here.get(`/batches/${id}/mix-card`)).text
    const warm = await potLife()
    expect(card).toContain("Worked out for the room as you last said it today: 33 °C")
    expect(Math.max(...warm)).toBeLessThan(Math.min(...plain))
    // 20 minutes at most, 5 to mix, 5 a cup: more mixes than in a cool room
    expect(warm.length).toBeGreaterThan(plain.length)
    const figures = [...card.matchAll(/class="pour-figure" value="(\d+)" data-supply="(\d+)"/g)]
    const onCard = new Map<string, number>()
    for (const [, amount, supply] of figures.map((found) => [...found]))
      onCard.set(String(supply), (onCard.get(String(supply)) ?? 0) + Number(amount))
    await post(id, "finish", { good: "6" })
    let compared = 0
    for (const [supplyId, amount] of onCard) {
      const taken = file.firstText<{ n: number }>(
        `SELECT -sum(m.amount) AS n FROM movement m JOIN container c ON c.id = m.container_id
         JOIN coat k ON k.id = m.coat_id WHERE m.action_id = ? AND c.supply_id = ? AND EXISTS (SELECT 1 FROM mix x WHERE x.coat_id = k.id)`,
        [lastAction(), Number(supplyId)],
      )!.n
      if (taken === null) continue
      compared += 1
      expect(taken, `supply ${supplyId}`).toBe(amount)
    }
    expect(compared).toBeGreaterThan(1)
  })

  test("too warm for even one cup's mix, the page says so; a coat that was done all the same is written down", async () => {
    file.runText("UPDATE resin_system SET pot_life_min = 12 WHERE name = 'Tumble Clear'")
    const id = await start(1)
    for (const position of ["1", "2", "3"])
      await post(id, "coat", { position, roomTemperature: "38", roomHumidity: "" })
    const page = await here.get(`/batches/${id}`)
    expect(page.status).toBe(200)
    expect(page.text).toContain("Work in a cooler room")
    const done = await post(id, "coat", { position: "4", roomTemperature: "38", roomHumidity: "" })
    expect(done.status, done.text).toBe(303)
    expect(batchProgress(studio, id).cups[0]!.layersDone).toBe(4)
    const { code } = file.firstText<{ code: string }>("SELECT code FROM mix ORDER BY id DESC LIMIT 1")!
    expect((await here.get(`/batches/${id}`)).text).toContain(`href="/mixes/${code}"`)
  })
})

describe("a photo", () => {
  const picture = (colour: string) =>
    sharp({ create: { width: 60, height: 40, channels: 3, background: colour } })
      .withExif({ IFD3: { GPSLatitudeRef: "N", GPSLatitude: "51/1 30/1 0/1" } })
      .jpeg()
      .toBuffer()
  const keep = async (body: Buffer) => {
    const answer = await request(here.url)
      .post("/receive/photos")
      .set("Origin", here.url)
      .set("Sec-Fetch-Site", "same-origin")
      .set("Content-Type", "image/jpeg")
      .send(body)
    return String(answer.body.photoId)
  }

  test("of a coat stands on the page of each of its cups once, without where it was taken; undone with the coat", async () => {
    const id = await start(2)
    const photo = await keep(await picture("#486"))
    expect((await post(id, "coat", { position: "1", photo })).status).toBe(303)
    for (const { serial } of batchProgress(studio, id).cups) {
      const page = (await here.get(`/cups/${serial}`)).text
      expect(page.split(`<img src="/photos/${photo}"`)).toHaveLength(2)
    }
    const kept = await here.get(`/photos/${photo}`)
    expect((await sharp(kept.body as Buffer).metadata()).exif).toBeUndefined()
    await here.post(`/history/${lastAction()}/undo`, { key: key(), returnTo: "/" })
    expect((await here.get(`/cups/${serialOf(id)}`)).text).not.toContain(`<img src="/photos/${photo}"`)
  })

  test("of a cup is kept with it alone, and stays when old ones are thrown away", async () => {
    const id = await start(2)
    const [one, other] = batchProgress(studio, id).cups.map((cup) => cup.serial)
    const photo = await keep(await picture("#a53"))
    const sent = await here.post(`/cups/${one}/photo`, { key: key(), photo })
    expect(sent.status, sent.text).toBe(303)
    now = now.add({ hours: 100 })
    await keep(await picture("#111"))
    expect((await here.get(`/cups/${one}`)).text).toContain(`/photos/${photo}`)
    expect((await here.get(`/photos/${photo}`)).status).toBe(200)
    expect((await here.get(`/cups/${other}`)).text).not.toContain(`/photos/${photo}`)
  })

  test("that is not there any more is asked for again, and the coat is not written", async () => {
    const id = await start(1)
    const answer = await post(id, "coat", { position: "1", photo: "987654" })
    expect([answer.status, answer.text.includes("Take it again")]).toEqual([422, true])
    expect(batchProgress(studio, id).cups[0]!.layersDone).toBe(0)
    expect((await here.post("/cups/T0000/photo", { key: key(), photo: "1" })).status).toBe(404)
  })
})
