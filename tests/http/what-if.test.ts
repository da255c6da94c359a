import { afterAll, beforeAll, beforeEach, expect, test } from "vitest"
import { designPage } from "../../server/designs/design-page.ts"
import { forecastRoutes } from "../../server/forecast/routes.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { ordersRoutes } from "../../server/orders/routes.ts"
import { addOrder, orderById, ordersList } from "../../server/orders/service.ts"
import { purchasingRoutes } from "../../server/purchasing/routes.ts"
import { planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio({ shippingDays: 2, ...ROOMY })
const known = planningStudio(studio)
let here: Listening
let keys = 0

beforeAll(async () => {
  stock(studio, known.ids.partA, 2_000_000)
  stock(studio, known.ids.partB, 2_000_000)
  stock(studio, known.ids.blank, 200)
  stock(studio, known.ids.lid, 31)
  here = await listenWith(studio, [forecastRoutes, ordersRoutes, purchasingRoutes, historyRoutes])
})
afterAll(() => here.close())
beforeEach(() => {
  studio.file.runText("UPDATE customer_order SET state = 'cancelled'")
})

const words = (html: string) => html.replace(/<[^>]+>/g, " ").replace(/\s+/g, " ")
const draft = (quantity: number, dueOn = "2026-12-20", state: "draft" | "planned" = "draft") => {
  const lines = [{ designId: known.designId, quantity, dueOn, note: "a note" }]
  const input = { buyerId: null, buyerName: "Tess", state, note: "for the fair", lines }
  return orderById(studio, addOrder(studio, someone(), input).answer.orderId)
}
/** The page's own form, filled in. */
const tried = (lines: readonly Record<string, string | number>[]) => {
  const query = new URLSearchParams()
  for (const [index, line] of lines.entries()) {
    const whole = { lineId: "", designId: known.designId, dueOn: "2026-12-20", on: "on", ...line }
    for (const [name, value] of Object.entries(whole)) query.append(`lines[${index}][${name}]`, String(value))
  }
  return here.get(`/what-if?${query}`)
}
const keep = (fields: Record<string, string>) =>
  here.post("/what-if/keep", {
    key: `what-if-key-${++keys}`,
    lineId: "",
    designId: String(known.designId),
    dueOn: "2026-12-20",
    ...fields,
  })

test("without drafts it offers to type one in", async () => {
  const page = await here.get("/what-if")
  expect(page.status).toBe(200)
  expect(page.text).toContain("Tick an order above, or type one in")
})

test("all draft orders side by side: each with its days and money, all together, and what they make short", async () => {
  draft(12, "2026-12-18")
  draft(25, "2026-12-22")
  const page = words((await here.get("/what-if")).text)
  // 37 cups, 2 in case, 31 lids
  expect(page).toMatch(/12 × Sea glass Fri 18 Dec .* 12 of 12/)
  expect(page).toMatch(/25 × Sea glass Tue 22 Dec .* 18 of 25/)
  // as each of the two says: 12 of 12; all, if ordered today
  expect(page).toContain("Yes, if you order today: all 37 cups can be in time. With what you have, 30.")
  expect(page).toContain("Without it: No order is planned")
  expect(page).toMatch(/Lids &lt;b&gt;wide&lt;\/b&gt; .* 8 pcs .* 1 × Lids, bag of 12 from Far away \$6\.00/)
  // 37 cups at $40
  expect(page).toContain("bring $1,480.00")
})

test("several of which one cannot be made in time are not promised", async () => {
  draft(12, "2026-12-02")
  draft(25, "2026-12-22")
  const page = words((await here.get("/what-if")).text)
  expect(page).toMatch(/In time: \d+ of 37 cups\./)
  expect(page).not.toContain("Yes")
})

test("a supply of an order that is only tried out does not lead to a list that has not got it", async () => {
  const order = draft(40, "2027-02-18")
  const { text } = await here.get("/what-if")
  const tried = /href="(\/forecast\/supplies\/\d+\?lines[^"]+)"/.exec(text)![1]!.replaceAll("&amp;", "&")
  expect((await here.get(tried)).text).not.toContain("To the shopping list")
  const page = await here.get(tried.replace(/\?.*/, `?draft=${order.orderId}`))
  expect(page.text.replaceAll("&#x3D;", "=")).toContain(`href="/shopping?draft=${order.orderId}"`)
})

test("a line that is not ticked is left out; a changed number moves the answer and keeps nothing", async () => {
  const first = draft(12)
  const second = draft(25)
  const both = [first, second].map(({ lines: [line] }, index) => ({
    lineId: line!.lineId,
    quantity: [31, 25][index]!,
  }))
  const page = words((await tried([both[0]!, { ...both[1]!, on: "" }])).text)
  expect(page).toContain("31 × Sea glass")
  expect(page).toContain("Yes: all 31 can be in time for Sun 20 Dec.")
  expect(page).not.toContain("25 × Sea glass Sun 20 Dec")
  expect(page).toContain("Keep the change")
  expect(orderById(studio, first.orderId).lines[0]?.quantity).toBe(12)
})

test("what the lines bring, cost and leave adds up as it is shown, across and down", async () => {
  const price = (micro: number) =>
    studio.file.runText(`UPDATE design_version SET price_micro = ${micro} WHERE id = ${known.versionId}`)
  // two and a half cents: each line alone would be rounded up, both together make five
  price(40_025_000)
  const page = words((await tried([{ quantity: 1 }, { quantity: 1 }, { quantity: 1 }])).text)
  const dollars = (text: string) => Math.round(100 * Number(text.replace(/[$,]/g, "")))
  const rows = [...page.matchAll(/1 of 1 (\$[\d.,]+) (\$[\d.,]+) (\$[\d.,]+)/g)].map((found) =>
    found.slice(1).map(dollars),
  )
  expect(rows).toHaveLength(3)
  const [, ...together] = /bring (\S+) and cost (\S+): (\S+) is left/.exec(page)!
  const [brings, costs, left] = together.map(dollars)
  const sum = (column: number) => rows.reduce((total, row) => total + row[column]!, 0)
  expect([sum(1), sum(0), sum(2)]).toEqual([brings, costs, left])
  for (const [cost, bring, margin] of rows) expect(bring! - cost!).toBe(margin)

  price(1e15)
  const tooMuch = await tried([{ quantity: 10_000 }])
  expect(tooMuch.status).toBe(422)
  expect(tooMuch.text).toContain("more money than can be counted")
  price(40_000_000)
})

test("what an order costs leads to its design, worked out for as many cups made together", async () => {
  draft(25)
  const { text } = await here.get("/what-if")
  const [, cups, said] = /href="\/designs\/\d+\?cups=(\d+)">\$([\d.,]+)</.exec(
    text.replaceAll("&#x3D;", "="),
  )!
  expect(cups).toBe("12")
  const { made } = designPage(studio, known.designId, { version: null, cups: 12 })
  expect(Math.abs(Number(said!.replaceAll(",", "")) - (25 * made!.costMicro) / 1e6)).toBeLessThan(0.01)
})

test("a planned order that would reach less far is named", async () => {
  draft(20, "2026-12-28", "planned")
  // 31 lids: 30 cups and two in case leave none
  const page = words((await tried([{ quantity: 30 }])).text)
  expect(page).toMatch(/Order \d+ for Tess then has 20 cups of Sea glass fewer in time/)
})

test("what is wrong is said in a sentence, and what was typed stays", async () => {
  const page = await tried([{ quantity: "many" }])
  expect(page.status).toBe(422)
  expect(page.text).toContain("must be a whole number from 1 to 10,000")
  expect((await tried([{ quantity: 1, designId: 999 }])).status).toBe(422)
  expect((await tried([{ quantity: 1, dueOn: "2026-02-30" }])).status).toBe(422)
})

test("a change is kept in its draft alone, a typed line as a new draft; both are undone from the history", async () => {
  const { orderId, lines } = draft(12)
  expect((await keep({ lineId: String(lines[0]!.lineId), quantity: "15", dueOn: "2026-12-21" })).status).toBe(
    303,
  )
  expect(orderById(studio, orderId)).toMatchObject({
    buyer: "Tess",
    note: "for the fair",
    lines: [{ quantity: 15, dueOn: "2026-12-21", note: "a note" }],
  })
  expect((await keep({ quantity: "7" })).status).toBe(303)
  expect(ordersList(studio, ["draft"]).map((order) => order.lines[0]?.quantity)).toEqual([7, 15])
  const last = studio.file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
  expect(
    (await here.post(`/history/${last}/undo`, { key: "what-if-undo", returnTo: "/what-if" })).status,
  ).toBe(303)
  expect(ordersList(studio, ["draft"])).toHaveLength(1)
})

test("a draft that was planned meanwhile is not changed from here", async () => {
  const { lines } = draft(12, "2026-12-20", "planned")
  expect((await keep({ lineId: String(lines[0]!.lineId), quantity: "15" })).status).toBe(409)
  expect((await keep({ quantity: "0" })).status).toBe(422)
})
