import { afterAll, beforeAll, expect, test } from "vitest"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { coatLayer, startBatch, stillCuring } from "../../server/batches/service.ts"
import { ordersRoutes } from "../../server/orders/routes.ts"
import { addOrder, assignCups, orderById } from "../../server/orders/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

// Tuesday noon; the design and its resin both ask for 72 hours of full cure, so until Friday noon
const studio = testStudio(ROOMY)
const known = planningStudio(studio)
for (const [supply, amount] of [
  [known.ids.partA, 900_000],
  [known.ids.partB, 900_000],
  [known.ids.blank, 50],
  [known.ids.lid, 50],
] as const)
  stock(studio, supply, amount)
const { batchId, cups } = startBatch(studio, someone(), {
  versionId: known.versionId,
  cups: 2,
  note: "",
}).answer
const cupIds = cups.map((cup) => cup.id)
const [first] = cups
const lines = [{ designId: known.designId, quantity: 2, dueOn: "2026-12-20", note: "" }]
const { orderId } = addOrder(studio, someone(), { buyerId: null, state: "planned", note: "", lines }).answer

let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, ordersRoutes, tracingRoutes])
})
afterAll(() => here.close())

const page = async (path: string) => (await here.get(path).expect(200)).text
/** The page a form leads to, with its notice. */
async function saved(path: string, fields: Record<string, string>): Promise<string> {
  const answer = await here.post(path, { key: crypto.randomUUID(), ...fields }).expect(303)
  return (await here.get(answer.headers.location!).set("Cookie", cookiesOf(answer)).expect(200)).text
}

test("a batch that is finished says until when its cups cure", async () => {
  coatLayer(studio, someone(), { batchId, position: 1, cupIds })
  // the lid goes on two days later: it is no coat, and nothing hardens anew
  studio.setNow("2026-12-03")
  const text = await saved(`/batches/${batchId}/finish`, { good: "2" })
  expect(text).toContain("Not fully cured before Fri 4 Dec: not to be used until then.")
  expect(stillCuring(studio, cupIds)).toEqual(new Map(cupIds.map((id) => [id, "2026-12-04T18:00:00Z"])))
  expect(await page(`/cups/${first!.serial}`)).toContain("Fri 4 Dec, 12:00")
})

test("an order does not call cups that cure ready to send, and says it again when they are sent", async () => {
  assignCups(studio, someone(), { orderLineId: orderById(studio, orderId).lines[0]!.lineId, cupIds })
  const order = await page(`/orders/${orderId}`)
  expect(order).not.toContain("Ready to send")
  expect(order).toContain("cures until Fri 4 Dec, 12:00")
  const text = await saved(`/orders/${orderId}/cups`, { what: "send", cupIds: String(cupIds[0]) })
  expect(text).toContain("Not fully cured before Fri 4 Dec: not to be used until then.")
})

test("once the time is over nothing is said of it", async () => {
  studio.setNow("2026-12-04")
  expect(await page(`/orders/${orderId}`)).toContain("Ready to send")
  expect(await page(`/cups/${first!.serial}`)).not.toContain("Fully cured")
})
