import { parse } from "csv-parse/sync"
import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { moneyRoutes } from "../../server/money/routes.ts"
import { ordersRoutes } from "../../server/orders/routes.ts"
import { writeOff } from "../../server/shelf/service.ts"
import { someone } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
let here: Listening

beforeAll(async () => {
  here = await listenWith(studio, [moneyRoutes, ordersRoutes])
})
afterAll(() => here.close())

const csv = async (address: string) =>
  parse((await here.get(address).expect(200)).text, { columns: true }) as Record<string, string>[]
const total = (rows: readonly Record<string, string>[], column: string) =>
  rows.reduce((sum, row) => sum + Math.round(Number(row[column]) * 100), 0)

test("the year's account says what it is not, and its table adds up to the cent along rows and columns", async () => {
  const { text } = await here.get("/money/materials").expect(200)
  expect(text).toContain("no tax advice")
  const rows = await csv("/money/materials.csv")
  const kinds = rows.filter((row) => row.kind !== "All")
  const [all] = rows.filter((row) => row.kind === "All")
  const parts = [
    "opening",
    "begun",
    "bought",
    "extras",
    "cups",
    "other_use",
    "waste",
    "given",
    "counted",
    "late",
    "closing",
  ]
  for (const column of parts) expect(total(kinds, column), column).toBe(total([all!], column))
  for (const row of rows) {
    const [come, gone] = [parts.slice(0, 4), parts.slice(4)].map((columns) =>
      columns.reduce((sum, column) => sum + total([row], column), 0),
    )
    expect(come, row.kind).toBe(gone)
  }
})

test("last year ends with what this year begins with", async () => {
  const year = (from: string, to: string) => csv(`/money/materials.csv?from=${from}&to=${to}`)
  const [before, after] = [await year("2025-01-01", "2025-12-31"), await year("2026-01-01", "2026-12-01")]
  const of = (rows: typeof before, column: string) =>
    total(
      rows.filter((row) => row.kind === "All"),
      column,
    )
  expect(Math.abs(of(before, "closing") - of(after, "opening"))).toBeLessThanOrEqual(1)
  const shelf = await csv("/money/shelf.csv?on=2025-12-31")
  expect(Math.abs(total(shelf, "cost") - of(before, "closing"))).toBeLessThanOrEqual(1)
})

test("the shelf today is worth what its containers carry", async () => {
  const carried = file.firstText<{ n: number }>("SELECT sum(cost_left_micro) AS n FROM container")!.n
  expect(total(await csv("/money/shelf.csv"), "cost")).toBe(Math.round(carried / 10_000))
})

test("an order's price is kept with its line, shown again, and what it brings follows from it", async () => {
  const line = file.firstText<{ id: number; order_id: number; cups: number }>(
    `SELECT l.id, l.order_id, count(*) AS cups FROM order_line l JOIN cup u ON u.order_line_id = l.id
       JOIN customer_order o ON o.id = l.order_id
     WHERE o.state = 'planned' AND u.state IN ('good', 'sent') GROUP BY l.order_id HAVING count(DISTINCT l.id) = 1`,
  )
  if (!line) throw new Error("the demo has no planned order with finished cups")
  const path = `/orders/${line.order_id}/change`
  const [key = ""] = keysIn((await here.get(path).expect(200)).text)
  const kept = file.firstText<{ design_id: number; quantity: number; due_on: string }>(
    "SELECT design_id, quantity, due_on FROM order_line WHERE id = ?",
    [line.id],
  )!
  const form = (price: string) => ({
    key,
    buyer: "",
    note: "",
    "lines[0][lineId]": String(line.id),
    "lines[0][designId]": String(kept.design_id),
    "lines[0][quantity]": String(kept.quantity),
    "lines[0][dueOn]": kept.due_on,
    "lines[0][note]": "",
    "lines[0][price]": price,
  })
  const refused = await here.post(path, form("twelve")).expect(422)
  expect(refused.text).toContain("is not a price")
  expect(refused.text).toContain('value="twelve"')
  await here.post(path, form("47,50")).expect(303)
  expect((await here.get(path)).text).toContain('value="47.50"')
  const { text } = await here.get(`/money/orders/${line.order_id}`).expect(200)
  expect(text).toContain("$47.50 a cup")
})

test("waste is told by reason; one of nobody's making counts as other, with its words beside it", async () => {
  const [bottle] = onHand(file, "America/Chicago").filter((one) => one.kind === "paint")
  const off = (reason: string) =>
    writeOff(studio, someone(), { code: bottle!.code, amount: 1_000, kind: "waste", reason })
  off("Spilled")
  off("=1+1 it <b>leaked</b>")
  const { text } = await here.get("/money/waste").expect(200)
  expect(text).toContain('<th scope="row">Spilled</th>')
  expect(text).toContain("it &lt;b&gt;leaked&lt;/b&gt;")
  const rows = await csv("/money/waste.csv")
  const [odd] = rows.filter((row) => row.reason_given?.includes("leaked"))
  expect(odd).toMatchObject({ why: "Other, or not said", reason_given: "'=1+1 it <b>leaked</b>" })
})

test("what was lost one by one adds up to its reason, and the reasons to all, as they are shown", async () => {
  const cans = onHand(file, "America/Chicago").filter((one) => one.kind === "paint")
  // some grams of each, at a price that ends in no whole cent
  for (const [index, can] of cans.slice(0, 9).entries())
    writeOff(studio, someone(), {
      code: can.code,
      amount: 1_100,
      kind: "waste",
      reason: index % 2 ? "Spilled" : "Test piece",
    })
  const { text } = await here.get("/money/waste").expect(200)
  const cents = (said = "") => Math.round(Number(said.replace("−", "-").replace(/[$,]/g, "")) * 100)
  const reasons = [
    ...text.matchAll(
      /<tr><th scope="row">([^<]+)<\/th><td class="num">[\d,]+<\/td><td class="num">([^<]+)</g,
    ),
  ]
  const rows = [...text.matchAll(/data-label="Why">([^<]+).*?data-label="Cost">([^<]+)</g)]
  expect(rows.length).toBeGreaterThan(9)
  for (const [, reason, said] of reasons) {
    const own = rows.filter(([, why]) => why!.trim() === reason)
    expect(
      own.reduce((sum, [, , cost]) => sum + cents(cost), 0),
      reason,
    ).toBe(cents(said))
  }
  const all = /<tfoot>.*?<strong>([^<]+)</s.exec(text)?.[1]
  expect(reasons.reduce((sum, [, , said]) => sum + cents(said), 0)).toBe(cents(all))
})

test("days that cannot be are refused with a sentence", async () => {
  for (const [address, sentence] of [
    ["/money/materials?from=2026-05-01&to=2026-04-01", "ends before it begins"],
    ["/money/materials?from=soon", "From"],
    ["/money/shelf?on=31.31.2026", "Day"],
    ["/money/orders/999999", "There is no such order."],
  ] as const) {
    const { status, text } = await here.get(address)
    expect(status, address).toBeOneOf([400, 404])
    expect(text).toContain(sentence)
  }
})

test("a day still to come is today, and before the book there is nothing", async () => {
  const today = await here.get("/money/shelf?on=2030-01-01").expect(200)
  expect(today.text).toContain("What is on the shelf today cost")
  const before = await here.get("/money/shelf?on=2001-01-01").expect(200)
  expect(before.text).toContain("Nothing was on the shelf on that day.")
})
