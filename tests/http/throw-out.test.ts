import { afterAll, beforeAll, expect, test } from "vitest"
import { historyRoutes } from "../../server/history/routes.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { containerByCode, hold } from "../../server/shelf/service.ts"
import { verify } from "../../server/verify/service.ts"
import { addOne, receiveSome } from "../support/shelf-fixtures.ts"
import { someone, TODAY, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio()
const received = { receivedOn: TODAY }
const resin = addOne(studio, { name: "Clear A", hazards: ["skin-sensitiser"] })
const thinner = addOne(studio, { name: "Acetone", kind: "solvent", hazards: ["flammable-liquid"] })
const can = addOne(studio, { name: "Mint", kind: "paint", hazards: ["aerosol"] })
const past = { ...received, expiresOn: "2026-12-15" }
const [old1 = "", old2 = "", stays = "", held = ""] = receiveSome(
  studio,
  resin,
  { ...past, number: "A-1" },
  { count: 4 },
).codes
const [tin = ""] = receiveSome(studio, thinner, { ...past, number: "T-1" }).codes
const [sprayed = ""] = receiveSome(studio, can, { ...past, number: "M-1" }).codes
const [good = ""] = receiveSome(studio, resin, { ...received, number: "A-2", expiresOn: "2027-06-30" }).codes
hold(studio, someone(), held)
studio.setNow("2026-12-20")

let here: Listening
let keys = 0
beforeAll(async () => {
  here = await listenWith(studio, [shelfRoutes, historyRoutes])
})
afterAll(() => here.close())

/** An address as it is read from the page. */
const plain = (html: string) => html.replaceAll("&#x3D;", "=").replaceAll("&amp;", "&")
const left = (code: string) => containerByCode(studio, code).amountLeft
const actions = () => studio.file.allText("SELECT id FROM action").length
const throwOut = (codes: readonly string[], more: Record<string, string> = {}) =>
  here.post("/shelf/throw-out", {
    key: `throw-out-${++keys}`,
    codes: ["", ...codes],
    why: "Gone off",
    reason: "",
    ...more,
  })

test("what is past its day is offered on the shelf, all of it but what is held, and looked through first", async () => {
  expect((await here.get("/shelf")).text).not.toContain("Throw out all")
  const shelf = plain((await here.get("/shelf?show=expired")).text)
  expect(shelf).toMatch(/href="\/shelf\/throw-out\?show=expired"[^\n]*Throw out all 5 of these/)
  const list = (await here.get("/shelf/throw-out?show=expired")).text
  const boxes = [...list.matchAll(/name="codes" value="(\w+)"( checked)?/g)]
  expect(new Map(boxes.map(([, code, isTicked]) => [code, isTicked !== undefined]))).toEqual(
    new Map([
      ...[old1, old2, stays, tin, sprayed].map((code): [string, boolean] => [code, true]),
      [held, false],
    ]),
  )
  expect(list).toContain("went off Tue 15 Dec")
  for (const said of [
    "Uncured resin: not down the drain",
    "Solvent and wet wipes",
    "never pierce",
    "your local rules come first",
  ])
    expect(list).toContain(said)
  // a search on the shelf goes along
  const some = plain((await here.get("/shelf?show=expired&search=acetone")).text)
  expect(some).toMatch(/href="\/shelf\/throw-out\?search=acetone&show=expired"[^\n]*Throw this out/)
  expect((await here.get("/shelf/throw-out?search=acetone&show=expired")).text).not.toContain("Clear A")
})

test("nothing ticked, no reason, or a bottle that is still good: a sentence, the ticks kept, and nothing is changed", async () => {
  const before = actions()
  const none = await throwOut([])
  expect([none.status, none.text.includes("Tick what goes out first.")]).toEqual([422, true])
  const noWhy = await throwOut([old1, tin], { why: "" })
  expect([noWhy.status, noWhy.text.includes("Tap why it goes.")]).toEqual([422, true])
  const ticked = [...noWhy.text.matchAll(/name="codes" value="(\w+)" checked/g)].map(([, code]) => code)
  expect(new Set(ticked)).toEqual(new Set([old1, tin]))
  const fresh = await throwOut([old1, good])
  expect([fresh.status, fresh.text.includes(`${good} (Clear A) is not past its day.`)]).toEqual([409, true])
  expect((await throwOut([old1], { why: "Spilled" })).status).toBe(422)
  expect([actions(), left(old1), left(good)]).toEqual([before, 500_000, 500_000])
})

test("what is ticked goes in one action with its reason, and one undo brings all of it back", async () => {
  const before = actions()
  const sent = { why: "Disposed of", reason: "to the collection point" }
  expect((await throwOut([old1, old2, tin, sprayed], sent)).status).toBe(303)
  expect([left(old1), left(old2), left(tin), left(sprayed), left(stays), left(held)]).toEqual([
    0, 0, 0, 0, 500_000, 500_000,
  ])
  expect(actions()).toBe(before + 1)
  const action = studio.file.firstText<{ id: number; kind: string; reason: string; summary: string }>(
    "SELECT id, kind, reason, summary FROM action ORDER BY id DESC LIMIT 1",
  )!
  expect(action).toMatchObject({ kind: "write-off", reason: "Disposed of" })
  expect(action.summary).toBe(
    `Disposed of 4 containers past their day: ${old1} (Clear A), ${old2} (Clear A), ${tin} (Acetone) and 1 more: to the collection point`,
  )
  expect((await here.get("/shelf?show=expired")).text).toContain("Throw this out")
  const undo = { key: "throw-out-undo", returnTo: "/shelf" }
  expect((await here.post(`/history/${action.id}/undo`, undo)).status).toBe(303)
  expect([old1, old2, tin, sprayed].map(left)).toEqual([500_000, 500_000, 500_000, 500_000])
  expect(verify(studio.file)).toEqual([])
})
