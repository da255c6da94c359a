import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { countingRoutes } from "../../server/counting/routes.ts"
import {
  countLine,
  endStocktake,
  startStocktake,
  stocktake,
  worthCounting,
} from "../../server/counting/service.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { decant, writeOff } from "../../server/shelf/service.ts"
import { verify } from "../../server/verify/service.ts"
import { someone } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
let here: Listening

beforeAll(async () => {
  here = await listenWith(studio, [countingRoutes])
})
afterAll(() => here.close())

const left = (code: string) =>
  file.firstText<{ n: number }>("SELECT amount_left AS n FROM container WHERE code = ?", [code])?.n
const bottles = file.allText<{ code: string; amount: number }>(
  `SELECT c.code, c.amount_left AS amount FROM container c JOIN supply s ON s.id = c.supply_id
     WHERE s.kind = 'resin' AND c.amount_left > 100000 AND c.held = 0 ORDER BY c.id`,
)
const [one, other] = bottles as [{ code: string; amount: number }, { code: string; amount: number }]
const begin = (blind = false) =>
  startStocktake(studio, someone(), { kind: "resin", place: null, blind }).answer.id
const found = (stocktakeId: number, code: string, amount: number) =>
  countLine(studio, someone(), { stocktakeId, code, amount, basis: "measured" })

test("a count changes nothing until it is accepted; then the book says what was found, and undo brings it back", () => {
  const id = begin()
  found(id, one.code, one.amount - 7000)
  expect(left(one.code)).toBe(one.amount)
  const accepted = endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })
  expect(accepted.answer.changed).toBe(1)
  expect(left(one.code)).toBe(one.amount - 7000)
  reverse(studio, someone(), accepted.actionId)
  expect(left(one.code)).toBe(one.amount)
  expect(stocktake(studio, id).ended).toBeNull()
  endStocktake(studio, someone(), { stocktakeId: id, how: "dropped" })
})

test("an accepted count rests on its beginning and on what was found: neither is undone under it", () => {
  const begun = startStocktake(studio, someone(), { kind: "resin", place: null, blind: false })
  const stocktakeId = begun.answer.id
  const input = { stocktakeId, code: one.code, amount: one.amount - 7000, basis: "measured" } as const
  const line = countLine(studio, someone(), input)
  expect(() => reverse(studio, someone(), begun.actionId)).toThrow(/Undo first: “Counted/)
  const accepted = endStocktake(studio, someone(), { stocktakeId, how: "accepted" })
  for (const { actionId } of [line, begun])
    expect(() => reverse(studio, someone(), actionId)).toThrow(/Undo first: “Accepted the count of resin/)
  for (const { actionId } of [accepted, line, begun]) reverse(studio, someone(), actionId)
  expect(left(one.code)).toBe(one.amount)
  expect(() => stocktake(studio, stocktakeId)).toThrow("There is no such count.")
})

test("a count of a place where the book has nothing says how to fill it", async () => {
  const empty = { kind: "resin", place: "Top of the fridge", blind: false } as const
  const { id } = startStocktake(studio, someone(), empty).answer
  expect((await here.get(`/counting/${id}`)).text).toContain(
    "By the book no resin stands at Top of the fridge. Scan what you find, or drop this count.",
  )
  found(id, one.code, one.amount)
  expect((await here.get(`/counting/${id}`)).text).toContain("1 of 1 counted, 0 different.")
  endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })
  const ended = (await here.get(`/counting/${id}`)).text
  expect(ended, "a count that ended leads to the containers").toContain(`href="/containers/${one.code}"`)
  expect(ended).not.toContain(`/counting/${id}/containers/`)
})

test("what is used while the count goes on is no difference: a count pins its place in the book", () => {
  const id = begin()
  found(id, one.code, one.amount - 5000)
  const spilled = writeOff(studio, someone(), { code: one.code, amount: 20_000, kind: "waste", reason: "" })
  endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })
  expect(left(one.code)).toBe(one.amount - 5000 - 20_000)
  // put the shelf back as it was for the next test
  const last = file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")?.id as number
  reverse(studio, someone(), last)
  reverse(studio, someone(), spilled.actionId)
})

test("a bottle that was emptied after it was counted cannot miss more than is left: nothing goes below zero", () => {
  const id = begin()
  found(id, other.code, other.amount - 50_000)
  const poured = decant(studio, someone(), { fromCode: other.code, amount: null })
  const line = stocktake(studio, id).lines.find((row) => row.code === other.code)
  expect(line?.counted?.difference).toMatchObject({ amount: 0, capped: true })
  endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })
  expect(left(other.code)).toBe(0)
  const last = file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")?.id as number
  reverse(studio, someone(), last)
  reverse(studio, someone(), poured.actionId)
})

test("counted twice, the later one counts", () => {
  const id = begin()
  found(id, one.code, 1)
  found(id, one.code, one.amount)
  expect(endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" }).answer.changed).toBe(0)
})

test("an ended count takes nothing more, and is not accepted twice", () => {
  const id = begin()
  found(id, one.code, one.amount)
  endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })
  expect(() => found(id, one.code, 5)).toThrow(/accepted before/)
  expect(() => endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })).toThrow(
    /accepted before/,
  )
})

test("nothing counted, nothing to accept", () => {
  expect(() => endStocktake(studio, someone(), { stocktakeId: begin(), how: "accepted" })).toThrow(
    /Nothing is counted/,
  )
})

test("worth counting next: what was taken from by plan alone since somebody looked, and that no longer after a look", () => {
  const worth = worthCounting(studio, 1_000)
  expect(worth.length).toBeGreaterThan(5)
  const sums = worth.map(({ places }) => places.value + places.speed + places.doubt)
  expect(sums).toEqual(sums.toSorted((a, b) => a - b))
  const first = worth[0]!
  // counted as the book says: no movement, and yet somebody looked
  const id = startStocktake(studio, someone(), { kind: null, place: null, blind: false }).answer.id
  found(id, first.code, first.amountLeft)
  const has = () => worthCounting(studio, 1_000).some((row) => row.code === first.code)
  expect(has()).toBe(true)
  const accepted = endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })
  expect(has()).toBe(false)
  reverse(studio, someone(), accepted.actionId)
  expect(has()).toBe(true)
})

describe("a bottle on the scale, within a count", () => {
  // part-used resin of a known density, by the book's own numbers: what it should weigh is worked out here
  const bottle = file.firstText<{ code: string; amount: number; density: number; full: number }>(
    `SELECT c.code, c.amount_left AS amount, s.density_mg_per_ml AS density, c.full_amount AS "full" FROM container c
     JOIN supply s ON s.id = c.supply_id WHERE s.base_unit = 'uL' AND s.density_mg_per_ml IS NOT NULL
       AND c.empty_mg IS NULL AND c.amount_left BETWEEN 50000 AND c.full_amount - 50000 ORDER BY c.id LIMIT 1`,
  )!
  const line = (id: number) => `/counting/${id}/containers/${bottle.code}`
  const send = (id: number, fields: Record<string, string>) =>
    here.post(line(id), { key: crypto.randomUUID(), ...fields })
  const counted = (id: number) => stocktake(studio, id).lines.find((row) => row.code === bottle.code)?.counted
  // 120 mL of it and 85 g of bottle
  const grams = 85 + (120 * bottle.density) / 1000
  const everything = () =>
    startStocktake(studio, someone(), { kind: null, place: null, blind: true }).answer.id

  test("gross less the bottle alone, by density, is what is in it; the bottle's weight is asked once and kept", async () => {
    const id = everything()
    await send(id, { gross: `${grams} g` }).expect(422)
    const again = await send(id, { gross: `${grams} g` })
    expect(again.text).toContain("What the bottle alone weighs is not known")
    await send(id, { gross: `${grams} g`, empty: "85 g" }).expect(303)
    expect(counted(id)).toMatchObject({ found: 120_000, basis: "weighed" })
    const page = await here.get(line(id))
    expect(page.text).toContain("The bottle alone weighs")
    expect(page.text).not.toContain('name="empty"')
    // the next one needs one reading
    await send(id, { gross: `${85 + (100 * bottle.density) / 1000} g` }).expect(303)
    expect(counted(id)).toMatchObject({ found: 100_000, basis: "weighed" })
  })

  test("lighter than the bottle, or more than can be in it, is refused with a sentence", async () => {
    const id = everything()
    const light = await send(id, { gross: "50 g", empty: "85 g" }).expect(422)
    expect(light.text).toContain("weighs empty")
    const heavy = await send(id, {
      gross: `${85 + (bottle.full * bottle.density * 2) / 1e6} g`,
      empty: "85 g",
    })
    expect(heavy.status).toBe(422)
    expect(heavy.text).toContain("Read the scale again")
    expect(counted(id)).toBeNull()
  })

  test("a scale set to zero with the bottle on it: 0 for the bottle, and nothing is kept of that", async () => {
    const id = everything()
    const before = file.firstText("SELECT empty_mg FROM container WHERE code = ?", [bottle.code])
    await send(id, { gross: `${(60 * bottle.density) / 1000} g`, empty: "0" }).expect(303)
    expect(counted(id)).toMatchObject({ found: 60_000, basis: "weighed" })
    expect(file.firstText("SELECT empty_mg FROM container WHERE code = ?", [bottle.code])).toEqual(before)
  })

  test("far more than fits is a slip here as on the bottle's own page", async () => {
    const id = everything()
    const answer = await send(id, { amount: "9 L" })
    expect(answer.status).toBe(422)
    expect(answer.text).toContain("cannot be in it")
  })
})

test("what is no bottle's code is told on the count's page, with what was typed kept", async () => {
  const id = begin()
  const answer = await here.post(`/counting/${id}/find`, { code: "9520000000019" }).expect(422)
  expect(answer.text).toContain("That is no code of a container")
  expect(answer.text).toContain('value="9520000000019"')
  expect(answer.text).toContain("Not counted yet")
})

test("on the pages: begin, find by the bottle's code, say how full it looks, review, accept", async () => {
  const [key = ""] = keysIn((await here.get("/counting").expect(200)).text)
  const started = await here.post("/counting", { key, kind: "resin", blind: "on" }).expect(303)
  const page = String(started.headers.location)
  const blind = await here.get(page).expect(200)
  expect(blind.text).not.toContain("book:")
  const sent = await here.post(`${page}/find`, { code: one.code.toLowerCase() }).expect(303)
  const line = String(sent.headers.location)
  expect((await here.get(line).expect(200)).text).not.toContain("The book says")
  await here.post(line, { key: crypto.randomUUID(), level: "1/4" }).expect(303)
  const review = await here.get(page).expect(200)
  expect(review.text).toContain("1 of ")
  expect(review.text).toContain("Differences")
  await here.post(`${page}/end`, { key: crypto.randomUUID(), how: "accepted" }).expect(303)
  expect((await here.get(page)).text).toContain("This count was accepted.")
})

test.each([
  ["nothing said", {}, 422],
  ["words", { amount: "a lot" }, 422],
  ["less than nothing", { amount: "-5 mL" }, 422],
  ["another sort of unit", { amount: "3 cm" }, 422],
  ["an unknown level", { level: "9/4" }, 422],
])("what cannot be counted is refused with what was typed kept: %s", async (_what, fields, status) => {
  const id = begin()
  const before = file.firstText<{ n: number }>("SELECT count(*) AS n FROM action")?.n
  await here
    .post(`/counting/${id}/containers/${one.code}`, { key: crypto.randomUUID(), ...fields })
    .expect(status)
  await here.post(`/counting/${id}/find`, { code: "not a code" }).expect(422)
  await here.get("/counting/999999").expect(404)
  expect(file.firstText<{ n: number }>("SELECT count(*) AS n FROM action")?.n).toBe(before)
})

test.each([1, 2, 3, 4, 5, 6, 7, 8])(
  "what is missing in all is what the lines add up to, as they are shown (%i)",
  async (times) => {
    const id = begin()
    for (const { code, amount } of bottles) found(id, code, amount - times * 1_370)
    const { text } = await here.get(`/counting/${id}`).expect(200)
    const cents = (said = "") => Math.round(Number(said.replace("−", "-").replace(/[$,]/g, "")) * 100)
    const lines = [...text.matchAll(/data-label="Money">([^<]+)</g)].map(([, said]) => cents(said))
    expect(lines).toHaveLength(bottles.length)
    expect(lines.reduce((sum, line) => sum + line, 0)).toBe(
      -cents(/Missing in all: <strong>([^<]+)</.exec(text)?.[1]),
    )
  },
)

test("after all of it the book agrees with every rule", () => {
  expect(verify(file)).toEqual([])
})
