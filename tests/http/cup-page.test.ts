import { afterAll, beforeAll, expect, test } from "vitest"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { finishBatch, scrapCups, startBatch } from "../../server/batches/service.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { addOrder, assignCups, orderById, sendCups } from "../../server/orders/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { planningStudio, stock } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio()
const { ids, designId, versionId } = planningStudio(studio)
for (const supply of [ids.partA, ids.partB]) stock(studio, supply, 900_000)
for (const supply of [ids.lid, ids.blank]) stock(studio, supply, 50)

let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [tracingRoutes, batchesRoutes])
})
afterAll(() => here.close())

const start = (cups: number) => startBatch(studio, someone(), { versionId, cups, note: "" }).answer
const factsOf = async (serial: string) => {
  const { text } = await here.get(`/cups/${serial}`).expect(200)
  return new Map(
    [...text.matchAll(/<div><dt>(.*?)<\/dt><dd>(.*?)<\/dd><\/div>/gs)].map(([, name, said]) => [
      name!,
      said!.replaceAll(/<[^>]+>/g, "").trim(),
    ]),
  )
}

test("a cup says on which day it was finished, also once it is sent; one in work was not, a scrapped one says when", async () => {
  const { batchId, cups } = start(3)
  const [good, scrapped, sent] = cups
  expect((await factsOf(good!.serial)).has("Finished")).toBe(false)
  studio.setNow("2026-12-03")
  scrapCups(studio, someone(), { batchId, cupIds: [scrapped!.id] })
  studio.setNow("2026-12-05")
  const finish = finishBatch(studio, someone(), { batchId, exceptions: [] })
  studio.setNow("2026-12-09")
  const lines = [{ designId, quantity: 1, dueOn: "2026-12-20", note: "" }]
  const { orderId } = addOrder(studio, someone(), { buyerId: null, state: "planned", note: "", lines }).answer
  const orderLineId = orderById(studio, orderId).lines[0]!.lineId
  const assigned = assignCups(studio, someone(), { orderLineId, cupIds: [sent!.id] })
  const away = sendCups(studio, someone(), [sent!.id])

  const said = await factsOf(good!.serial)
  expect([said.get("Started"), said.get("Finished")]).toEqual(["Tue 1 Dec", "Sat 5 Dec"])
  expect((await factsOf(sent!.serial)).get("Finished")).toBe("Sat 5 Dec")
  const gone = await factsOf(scrapped!.serial)
  expect([gone.get("Scrapped"), gone.has("Finished")]).toEqual(["Thu 3 Dec", false])
  expect((await here.get(`/cups/${good!.serial}/trace.json`)).body.finishedOn).toBe("2026-12-05")

  for (const { actionId } of [away, assigned, finish]) reverse(studio, someone(), actionId)
  expect((await factsOf(good!.serial)).has("Finished")).toBe(false)
  expect((await here.get(`/cups/${good!.serial}/trace.json`)).body.finishedOn).toBeNull()
})
