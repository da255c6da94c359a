import { afterAll, beforeAll, expect, test } from "vitest"
import { historyRoutes } from "../../server/history/routes.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { containerByCode, countContainer, openContainer } from "../../server/shelf/service.ts"
import { addOne, receiveSome } from "../support/shelf-fixtures.ts"
import { someone, TODAY, testStudio } from "../support/studio.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const KEY = "undo-form-key"
const studio = testStudio()
let here: Listening

beforeAll(async () => {
  here = await listenWith(studio, [shelfRoutes, historyRoutes])
})
afterAll(() => here.close())

test("an empty history says how it fills", async () => {
  const page = await here.get("/history")
  expect(page.status).toBe(200)
  expect(page.text).toContain("Nothing was done yet")
})

test("undone from the history: says what was undone, strikes it through, offers no second undo", async () => {
  const resin = addOne(studio, { name: "Clear part A" })
  const { codes, actionId } = receiveSome(studio, resin, { number: "L1", receivedOn: TODAY })
  const code = codes[0]!
  const open = openContainer(studio, someone(), code)

  const before = await here.get("/history")
  expect(before.text).toContain(`action="/history/${open.actionId}/undo"`)
  expect(before.text).not.toContain(`action="/history/${actionId}/undo"`)
  expect(before.text).toContain("Why it cannot be undone now")

  const early = await here.post(`/history/${actionId}/undo`, { key: "too-early-key" })
  expect(early.status).toBe(409)
  expect(early.text).toContain("Undo first")

  const answer = await here.post(`/history/${open.actionId}/undo`, {
    key: KEY,
    returnTo: `/containers/${code}`,
  })
  expect([answer.status, answer.headers.location]).toEqual([303, `/containers/${code}`])
  const page = await here.get(`/containers/${code}`).set("Cookie", cookiesOf(answer))
  expect(page.text).toContain(`Undone: Opened ${code}`)
  expect(page.text).toContain(`<s>Opened ${code}`)
  expect(containerByCode(studio, code).openedOn).toBeNull()

  const again = await here.post(`/history/${open.actionId}/undo`, {
    key: KEY,
    returnTo: `/containers/${code}`,
  })
  expect(again.status).toBe(303)
  const twice = await here.post(`/history/${open.actionId}/undo`, { key: "another-key-1" })
  expect(twice.status).toBe(422)
  expect(twice.text).toContain("undone before")
  expect((await here.get("/history")).text).not.toContain(`action="/history/${open.actionId}/undo"`)
})

test("an undo goes back to a page of ours only, and to the history when none is said", async () => {
  const code = containerByCode(studio, firstCode()).code
  for (const [returnTo, to] of [
    [undefined, "/history"],
    ["//elsewhere.example", "/history"],
    ["https://elsewhere.example", "/history"],
    ["/shelf?show=low", "/shelf?show=low"],
  ] as const) {
    const done = countContainer(studio, someone(), { code, amount: 400_000, basis: "measured" })
    const fields = { key: `back-key-${done.actionId}`, ...(returnTo === undefined ? {} : { returnTo }) }
    expect((await here.post(`/history/${done.actionId}/undo`, fields)).headers.location).toBe(to)
  }
})

test("no such action, no key, a strange page number", async () => {
  expect((await here.post("/history/999999/undo", { key: "no-such-key" })).status).toBe(404)
  expect((await here.post("/history/x/undo", { key: "no-such-key" })).status).toBe(404)
  expect((await here.post("/history/1/undo", {})).status).toBe(422)
  for (const page of ["0", "-1", "x", "999999999", "1;drop table action"])
    expect((await here.get(`/history?page=${encodeURIComponent(page)}`)).status).toBe(200)
})

test("older pages are reached by a link", async () => {
  const code = firstCode()
  for (let n = 1; n <= 26; n++) countContainer(studio, someone(), { code, amount: n, basis: "measured" })
  expect((await here.get("/history")).text).toContain('href="/history?page&#x3D;2"')
  expect((await here.get("/history?page=2")).text).toContain('href="/history"')
})

function firstCode(): string {
  return studio.file.firstText<{ code: string }>("SELECT code FROM container ORDER BY id LIMIT 1")!.code
}
