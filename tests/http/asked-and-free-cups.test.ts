import { afterAll, beforeAll, beforeEach, describe, expect, test } from "vitest"
import { forecastRoutes } from "../../server/forecast/routes.ts"
import { ordersRoutes } from "../../server/orders/routes.ts"
import { addOrder, orderById } from "../../server/orders/service.ts"
import { purchasingRoutes } from "../../server/purchasing/routes.ts"
import { type FoundForm, formsIn } from "../support/forms-in.ts"
import { finished, planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
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
  here = await listenWith(studio, [forecastRoutes, ordersRoutes, purchasingRoutes])
})
afterAll(() => here.close())
beforeEach(() => {
  studio.file.runText("UPDATE customer_order SET state = 'cancelled'")
  studio.file.runText("UPDATE purchase SET cancelled = 1")
})

const key = () => `offers-key-${++keys}`
const post = (path: string, fields: Record<string, string>) => here.post(path, { key: key(), ...fields })
const plan = (quantity: number, dueOn = "2026-12-20", state: "planned" | "draft" = "planned") =>
  addOrder(studio, someone(), {
    buyerId: null,
    state,
    note: "",
    lines: [{ designId: known.designId, quantity, dueOn, note: "" }],
  }).answer.orderId
/** A form as it stands, to be sent; a field of the same name once more is sent too. */
const pairs = ({ fields }: FoundForm) => {
  const sent: Record<string, string | string[]> = {}
  for (const { name, value, type } of fields) {
    if (type === "button" || name === "") continue
    const known = sent[name]
    sent[name] = known === undefined ? value : [known, value].flat()
  }
  return sent
}
const cupsForNobody = () =>
  studio.file
    .allText<{ id: number }>("SELECT id FROM cup WHERE state = 'good' AND order_line_id IS NULL ORDER BY id")
    .map(({ id }) => id)
const links = (html: string) => html.replaceAll("&#x3D;", "=").replaceAll("&amp;", "&")
const words = (html: string) => html.replace(/<[^>]+>/g, " ").replace(/\s+/g, " ")

describe("an order that is asked about", () => {
  test("leads to a shopping list with it counted in, which says so and leads back; without it nothing is there", async () => {
    const orderId = plan(40, "2026-12-20", "draft")
    const asked = await here.get(`/forecast?draft=${orderId}`)
    expect(links(asked.text)).toContain(`href="/shopping?draft=${orderId}"`)
    const list = await here.get(`/shopping?draft=${orderId}`)
    expect(words(list.text)).toContain(
      `Draft order ${orderId} is counted in, as if it were planned: 40 × Sea glass to make.`,
    )
    expect(words(list.text)).toContain("1 pack from 1 seller, $6.00 in all.")
    expect(links(list.text)).toContain(`href="/forecast?draft=${orderId}"`)
    expect(links(list.text)).toContain(`href="/shopping?horizon=30&draft=${orderId}"`)
    expect((await here.get(`/shopping.csv?draft=${orderId}`)).text).toContain("Lids, bag of 12")
    const plain = await here.get("/shopping")
    expect(plain.text).toContain("Nothing needs to be bought")
    expect(links(plain.text)).toContain(`href="/shopping?horizon=all&draft=${orderId}"`)
    // bought from there, the list is the same one again
    const bought = await post("/shopping/ordered", {
      sellerId: String(known.far),
      "lines[0][packId]": String(known.packs.lids),
      "lines[0][on]": "on",
      "lines[0][count]": "1",
      expectedOn: "2026-12-12",
      draft: String(orderId),
    })
    expect(bought.headers.location).toContain(`draft=${orderId}`)
    expect((await here.get("/shopping?draft=99999")).status).toBe(404)
    expect((await here.get("/shopping?draft=x")).status).toBe(200)
  })

  test("and was planned meanwhile is counted once", async () => {
    const orderId = plan(40)
    const list = await here.get(`/shopping?draft=${orderId}`)
    expect(words(list.text)).toContain(`Order ${orderId} is planned by now`)
    expect(words(list.text)).toContain("1 pack from 1 seller, $6.00 in all.")
    expect((await here.get(`/forecast?draft=${orderId}`)).text).toContain("Enough for 31 of 40 cups.")
  })
})

describe("finished cups that are for nobody", () => {
  test("are told with the order that wants some, and one tap puts them on it; then so many fewer are to make", async () => {
    const [first, second] = finished(studio, known.versionId, 2)
    const orderId = plan(5)
    const page = await here.get("/forecast")
    expect(words(page.text)).toContain("2 Sea glass are finished and free")
    const offer = formsIn(page.text, "/forecast").find(({ path }) => path === `/orders/${orderId}/assign`)!
    const cups = offer.fields.filter(({ name }) => name === "cupIds").map(({ value }) => Number(value))
    expect(cups).toEqual([first, second])
    const taken = await here.post(offer.path, pairs(offer))
    expect(taken.status).toBe(303)
    expect(orderById(studio, orderId).lines[0]).toMatchObject({ ready: 2, toStart: 3 })
    expect(words((await here.get("/forecast")).text)).not.toContain("finished and free")
    expect((await here.get("/forecast")).text).toContain("Enough for everything planned: 3 cups for 1 order.")
    await post(`/orders/${orderId}/cups`, { what: "free", cupIds: String(first) })
    await post(`/orders/${orderId}/cups`, { what: "free", cupIds: String(second) })
  })

  test("a draft is offered no more than it lacks, and is asked about without those it has", async () => {
    const [cup] = cupsForNobody()
    const orderId = plan(1, "2026-12-20", "draft")
    const page = await here.get(`/forecast?draft=${orderId}`)
    const offer = formsIn(page.text, "/forecast").find(({ path }) => path === `/orders/${orderId}/assign`)!
    expect(offer.fields.filter(({ name }) => name === "cupIds")).toHaveLength(1)
    expect(words((await here.get(`/orders/${orderId}`)).text)).toContain("Use 1 for this order")
    await here.post(offer.path, pairs(offer))
    expect((await here.get(`/forecast?draft=${orderId}`)).text).toContain(
      `All cups of order ${orderId} are there or in work.`,
    )
    const tried = words((await here.get("/what-if")).text)
    expect(tried).toContain("All their cups are there or in work.")
    expect(tried).toContain("all there")
    await post(`/orders/${orderId}/cups`, { what: "free", cupIds: String(cup) })
  })

  test("a second is named but never put on with the good ones, one of a held lot not at all", async () => {
    const [good, second, held] = cupsForNobody().concat(finished(studio, known.versionId, 1))
    studio.file.runText("UPDATE cup SET state = 'second' WHERE id = ?", [second!])
    plan(5)
    const all = (await here.get("/forecast")).text
    expect(words(all)).toContain("2 Sea glass are finished and free")
    expect(words(all)).toContain("1 second is free besides")
    studio.file.runText("UPDATE lot SET held = 1")
    expect(words((await here.get("/forecast")).text)).not.toContain("finished and free")
    studio.file.runText("UPDATE lot SET held = 0")
    studio.file.runText("UPDATE cup SET state = 'good' WHERE id IN (?, ?)", [second!, good!])
    expect(cupsForNobody()).toContain(held)
  })
})
