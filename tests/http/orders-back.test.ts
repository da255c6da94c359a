import { afterAll, beforeAll, expect, test } from "vitest"
import { ordersRoutes } from "../../server/orders/routes.ts"
import { addOrder, assignCups, orderById, sendCups } from "../../server/orders/service.ts"
import { finished, planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio({ shippingDays: 2, ...ROOMY })
const known = planningStudio(studio)
let here: Listening

beforeAll(async () => {
  for (const [supply, amount] of [
    [known.ids.partA, 900_000],
    [known.ids.partB, 900_000],
    [known.ids.blank, 50],
    [known.ids.lid, 50],
  ] as const)
    stock(studio, supply, amount)
  here = await listenWith(studio, [ordersRoutes])
})
afterAll(() => here.close())

/** An order of two cups, both sent. */
function sentOrder(): { orderId: number; cups: number[] } {
  const lines = [{ designId: known.designId, quantity: 2, dueOn: "2026-12-20", note: "" }]
  const { orderId } = addOrder(studio, someone(), { buyerId: null, state: "planned", note: "", lines }).answer
  const cups = finished(studio, known.versionId, 2)
  assignCups(studio, someone(), {
    orderLineId: orderById(studio, orderId).lines[0]?.lineId ?? 0,
    cupIds: cups,
  })
  sendCups(studio, someone(), cups)
  return { orderId, cups }
}
const post = (orderId: number, fields: Record<string, string>) =>
  here.post(`/orders/${orderId}/cups`, { key: crypto.randomUUID(), what: "return", ...fields }).expect(303)

test("an order that is sent whole wears the chip “sent”, though nobody closed it", async () => {
  const { orderId } = sentOrder()
  const { text } = await here.get("/orders").expect(200)
  const row = text.slice(text.indexOf(`/orders/${orderId}"`)).split("</li>")[0]
  expect(row).toContain("pill-sent")
  expect(row).not.toContain("pill-planned")
  expect((await here.get(`/orders/${orderId}`)).text).toContain("Sent: 2 cups, 2 sent.")
})

test("a cup that came back asks whether another is made; unless one says so, the order stays settled", async () => {
  const { orderId, cups } = sentOrder()
  const { text } = await here.get(`/orders/${orderId}`).expect(200)
  expect(text).toContain("Make another in its place?")
  expect(text).toMatch(/name="another" value="no" checked/)
  await post(orderId, { cupIds: String(cups[0]) })
  const page = (await here.get(`/orders/${orderId}`)).text
  expect(page).toContain("Sent: 2 cups, 1 sent, 1 come back.")
  expect(page).not.toContain("overdue")
  await post(orderId, { cupIds: String(cups[1]), another: "yes" })
  expect((await here.get(`/orders/${orderId}`)).text).toContain("Planned: 3 cups, 2 come back, 1 to start.")
})
