import { randomUUID } from "node:crypto"
import { mkdtempSync, readFileSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { pino } from "pino"
import request from "supertest"
import { afterAll, beforeAll, expect, test } from "vitest"
import { createApp } from "../../server/app.ts"
import { type House, openHouse } from "../../server/data/house.ts"
import { act } from "../../server/ledger/act.ts"
import { someone } from "../support/studio.ts"
import { type Listening, listen } from "./listening.ts"
import { keysIn } from "./some-rooms.ts"

const folder = mkdtempSync(join(tmpdir(), "lotcup-copies-"))
let house: House
let here: Listening

beforeAll(async () => {
  house = openHouse(folder)
  const { studio } = house
  here = await listen((port) => createApp(studio, { port, logger: pino({ level: "silent" }), house }))
})
afterAll(async () => {
  await here.close()
  house.close()
  rmSync(folder, { recursive: true, force: true })
})

const note = (what: string) =>
  act(house.studio, "note", someone(), { what }, () => ({ summary: what, answer: what }))
const upload = (body: Buffer | string, type = "application/octet-stream") =>
  request(here.url)
    .post("/setup/copies/upload")
    .set("Origin", here.url)
    .set("Sec-Fetch-Site", "same-origin")
    .set("Accept", "application/json")
    .set("Content-Type", type)
    .send(body)

test("a copy is made, taken away, and put back after asking once more", async () => {
  note("a bottle came")
  const [key = ""] = keysIn((await here.get("/setup/copies").expect(200)).text)
  await here.post("/setup/copies", { key }).expect(303)
  const { text } = await here.get("/setup/copies").expect(200)
  const name = /\/setup\/copies\/([^/"]+)\/file/.exec(text)?.[1] ?? ""
  const away = await here.get(`/setup/copies/${name}/file`).buffer(true).expect(200)
  expect(Number(away.headers["content-length"])).toBe(readFileSync(house.pathOf(name)).length)

  note("a slip")
  const [sure = ""] = keysIn((await here.get(`/setup/copies/${name}/put-back`).expect(200)).text)
  await here.post(`/setup/copies/${name}/put-back`, { key: sure }).expect(303)
  const { text: history } = await here.get("/history").expect(200)
  expect(history).toContain("a bottle came")
  expect(history).not.toContain("a slip")
})

test("two copies of one minute are told apart by their seconds", async () => {
  const { madeAt } = await house.makeCopy("asked")
  const { text } = await here.get("/setup/copies").expect(200)
  const seconds = madeAt.slice(17, 19)
  expect(text).toMatch(
    new RegExp(`<th scope="row">\\w{3} \\d+ \\w{3}(?: \\d{4})?, \\d\\d:\\d\\d:${seconds}</th>`),
  )
})

test("a copy brought from elsewhere is put back, and the pages go on with it", async () => {
  const { name } = await house.makeCopy("asked")
  note("after the copy")
  await upload(readFileSync(house.pathOf(name))).expect(200)
  expect((await here.get("/history").expect(200)).text).not.toContain("after the copy")
})

test.each([
  ["a text", Buffer.from("hello")],
  ["nothing", Buffer.alloc(0)],
  ["noise", Buffer.from(Array.from({ length: 5000 }, (_, n) => (n * 31) % 251))],
])("%s is refused with a sentence, and the book stays", async (_what, body) => {
  note("still here")
  const answer = await upload(body)
  expect(answer.status).toBe(422)
  expect(answer.body.sentence).toMatch(/no copy of a studio/)
  expect((await here.get("/history")).text).toContain("still here")
})

test("all tables go out as one archive, and come back in from it", async () => {
  note("in the tables")
  const out = await here.get("/setup/copies/tables.zip").responseType("blob").expect(200)
  expect(out.headers["content-disposition"]).toContain("lotcup-tables.zip")
  note("not in the tables")
  await upload(out.body).expect(200)
  const { text } = await here.get("/history")
  expect(text).toContain("in the tables")
  expect(text).not.toContain("not in the tables")
  await here.get("/setup/copies/tables.zip?for=spreadsheet").expect(200)
  await here.get("/setup/copies/tables.zip?for=elsewhere").expect(400)
})

test("what is not sent as a file is refused", async () => {
  expect((await upload("a=b", "application/x-www-form-urlencoded")).status).toBe(415)
})

test.each(["..%2f..%2fetc%2fpasswd", "studio.db", "lotcup-2026-12-01T000000000Z-nightly.db", "x"])(
  "no other file is handed out: %s",
  async (name) => {
    await here.get(`/setup/copies/${name}/file`).expect(404)
    await here.get(`/setup/copies/${name}/put-back`).expect(404)
    await here.post(`/setup/copies/${name}/put-back`, { key: randomUUID() }).expect(404)
  },
)
