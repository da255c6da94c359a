import { afterAll, beforeAll, expect, test } from "vitest"
import { ordersRoutes } from "../../server/orders/routes.ts"
import { addOrder, assignCups, orderById } from "../../server/orders/service.ts"
import { holdLot, releaseLot } from "../../server/shelf/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { finished, planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio({ shippingDays: 2, ...ROOMY })
const known = planningStudio(studio)
for (const [supply, amount] of [
  [known.ids.partA, 900_000],
  [known.ids.partB, 900_000],
  [known.ids.blank, 50],
  [known.ids.lid, 50],
] as const)
  stock(studio, supply, amount)
const lines = [{ designId: known.designId, quantity: 2, dueOn: "2026-12-20", note: "" }]
const { orderId } = addOrder(studio, someone(), { buyerId: null, state: "planned", note: "", lines }).answer
const [first = 0, second = 0] = finished(studio, known.versionId, 2)
const lineId = orderById(studio, orderId).lines[0]!.lineId
const serialOf = (id: number) =>
  studio.file.firstText<{ serial: string }>("SELECT serial FROM cup WHERE id = ?", [id])!.serial
const lotOf = (supplyId: number) =>
  studio.file.firstText<{ id: number }>("SELECT id FROM lot WHERE supply_id = ?", [supplyId])!.id
const sent = () => orderById(studio, orderId).lines[0]!.sent

let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [ordersRoutes, tracingRoutes])
})
afterAll(() => here.close())

const HELD = "lot held: Clear A, lot without a number"
const page = async () => (await here.get(`/orders/${orderId}`).expect(200)).text
const send = (what: string) =>
  here.post(`/orders/${orderId}/cups`, { key: crypto.randomUUID(), what, cupIds: String(first) })

test("a cup with nothing held on it says nothing of it", async () => {
  expect(await page()).not.toContain("lot held")
  expect((await here.get(`/cups/${serialOf(first)}`)).text).not.toContain("lot held")
})

test("cups of a held lot say so on their page, where they are chosen, and where they are ready", async () => {
  holdLot(studio, someone(), lotOf(known.ids.partA))
  expect((await here.get(`/cups/${serialOf(first)}`)).text).toContain(HELD)
  expect((await page()).split(HELD)).toHaveLength(3)
  assignCups(studio, someone(), { orderLineId: lineId, cupIds: [first, second] })
  expect((await page()).split(HELD)).toHaveLength(3)
})

test("“Mark as sent” says it first and sends nothing; the second tap sends", async () => {
  expect(await page()).not.toContain("Send it all the same")
  const { text } = await send("send").expect(409)
  expect(text).toContain(`Of a held lot: ${serialOf(first)} (${HELD}).`)
  expect(text).toContain("Send it all the same")
  // what was chosen stays chosen, and no more
  const ticked = [...text.matchAll(/id="ready-(\d+)"[^>]* checked/g)].map(([, id]) => Number(id))
  expect(ticked).toEqual([first])
  expect(sent()).toBe(0)
  await send("send-held").expect(303)
  expect(sent()).toBe(1)
})

test("a lot of lids that is held warns of no cup: they stay on none; a released lot warns no more", async () => {
  holdLot(studio, someone(), lotOf(known.ids.lid))
  releaseLot(studio, someone(), lotOf(known.ids.partA))
  expect(await page()).not.toContain("lot held")
  await here
    .post(`/orders/${orderId}/cups`, { key: crypto.randomUUID(), what: "send", cupIds: String(second) })
    .expect(303)
  expect(sent()).toBe(2)
})
