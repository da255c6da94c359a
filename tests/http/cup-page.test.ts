import { Ajv2020 } from "ajv/dist/2020.js"
import sharp from "sharp"
import { afterAll, beforeAll, expect, test } from "vitest"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { addCupPhoto, coatLayer, finishBatch, scrapCups, startBatch } from "../../server/batches/service.ts"
import { designsRoutes } from "../../server/designs/routes.ts"
import { isPriced } from "../../server/ledger/priced.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { moneyRoutes } from "../../server/money/routes.ts"
import { addOrder, assignCups, orderById, sendCups } from "../../server/orders/service.ts"
import { keepPhoto } from "../../server/receiving/photos.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { receiveOpening } from "../../server/receiving/service.ts"
import { countContainer } from "../../server/shelf/service.ts"
import { schemaText } from "../../server/tracing/json.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { planningStudio, stock } from "../support/planning-fixtures.ts"
import { addOne } from "../support/shelf-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio()
/** What a page says of what it cannot price. */
const leavesOut = (html: string) => /No price is known for [^<]*\./.exec(html)?.[0]
const { ids, designId, versionId } = planningStudio(studio)
for (const supply of [ids.partA, ids.partB]) stock(studio, supply, 900_000)
for (const supply of [ids.lid, ids.blank]) stock(studio, supply, 50)

let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [tracingRoutes, batchesRoutes, designsRoutes, receivingRoutes, moneyRoutes])
})
afterAll(() => here.close())

const start = (cups: number) => startBatch(studio, someone(), { versionId, cups, note: "" }).answer
const factsOf = async (serial: string) => {
  const { text } = await here.get(`/cups/${serial}`).expect(200)
  return new Map(
    [...text.matchAll(/<div(?: class="no-print")?><dt>(.*?)<\/dt><dd>(.*?)<\/dd><\/div>/gs)].map(
      ([, name, said]) => [name!, said!.replaceAll(/<[^>]+>/g, "").trim()],
    ),
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

test("where nobody said a price, a cup, its batch and its design say so and of what, and never call it $0.00", async () => {
  const { batchId, cups } = start(2)
  const [cup] = cups
  expect((await factsOf(cup!.serial)).get("Materials"), "nothing is on it yet").toBe("$0.00")
  coatLayer(studio, someone(), { batchId, position: 1 })
  expect((await factsOf(cup!.serial)).get("Materials")).toBe("not known")
  const names = "No price is known for Slim blank, Clear A and Clear B."
  const pages = { cup: `/cups/${cup!.serial}`, batch: `/batches/${batchId}` }
  const text = async (page: string) => (await here.get(page).expect(200)).text
  expect(leavesOut(await text(pages.cup))).toBe(names)
  expect(leavesOut(await text(pages.batch))).toBe(names)
  for (const page of Object.values(pages)) expect(await text(page)).not.toContain("$0.00")
  expect(await text(pages.batch)).toContain("1 of 2, cost not known")
  const { body } = await here.get(`/cups/${cup!.serial}/trace.json`)
  const uses = body.layers.flatMap((layer: { coats: { uses: { priced: boolean }[] }[] }) =>
    layer.coats.flatMap((coat) => coat.uses.map((use) => use.priced)),
  )
  expect(uses).toEqual([false, false, false])
})

test("where a part has a price, the sum is said to be at least that, and what it leaves out is named", async () => {
  // a carton of 24 lids at $12.00 is opened before those that were there
  const carton = {
    supplyId: ids.lid,
    fullAmount: 24,
    amount: 24,
    priceMicro: 12_000_000,
    expiresOn: "2027-01-31",
  }
  receiveOpening(studio, someone(), { ...carton, opened: true })
  const { batchId, cups } = start(2)
  finishBatch(studio, someone(), { batchId, exceptions: [] })
  const names = "No price is known for Slim blank, Clear A and Clear B, so the sum leaves them out."
  const { serial } = cups[0]!
  expect((await factsOf(serial)).get("Materials")).toBe("at least $0.50")
  expect(leavesOut((await here.get(`/cups/${serial}`)).text)).toBe(names)
  const batch = (await here.get(`/batches/${batchId}`)).text
  expect(leavesOut(batch)).toBe(names)
  expect(batch).toContain("2 of 2, at least $0.50")

  // resin and lids are offered in packs; of the blank there is neither a price nor an offer
  const design = (await here.get(`/designs/${designId}`)).text
  expect(leavesOut(design)).toBe("No price is known for Slim blank, so the sum leaves that out.")
  expect(design).toMatch(/<dt>Materials a cup<\/dt><dd>at least \$\d/)
  expect(design).toMatch(/<dt>Left of the price<\/dt><dd>at most \$3\d/)
})

test("what is told of cups in money says what it leaves out, and then only what it costs at least", async () => {
  const { text } = await here.get("/money/designs").expect(200)
  expect(text).toMatch(/cups finished [^<]* cost at least \$/)
  expect(leavesOut(text)).toMatch(/^No price is known for .*Clear A.*\. The materials here leave that out/)
  const row = studio.file.firstText<{ id: number }>("SELECT id FROM customer_order ORDER BY id DESC LIMIT 1")
  // its cup was taken off it again above
  expect(leavesOut((await here.get(`/money/orders/${row?.id}`).expect(200)).text)).toBeUndefined()
})

test("a bottle that held more than the book says was paid for all the same: its price is known", async () => {
  const glue = addOne(studio, { name: "Glue" })
  const paid = { supplyId: glue, fullAmount: 10_000, amount: 10_000, priceMicro: 5_000_000, expiresOn: null }
  receiveOpening(studio, someone(), { ...paid, opened: false })
  const isKnown = () =>
    studio.file.firstText<{ priced: number }>(
      `SELECT ${isPriced("c.id")} AS priced FROM container c WHERE c.supply_id = ?`,
      [glue],
    )?.priced
  expect(isKnown()).toBe(1)
  const { code } = studio.file.firstText<{ code: string }>("SELECT code FROM container WHERE supply_id = ?", [
    glue,
  ])!
  countContainer(studio, someone(), { code, amount: 0, basis: "counted" })
  countContainer(studio, someone(), { code, amount: 500, basis: "counted" })
  expect(isKnown()).toBe(1)
})

test("the photos of its making stand in the trace for programs, with their time, their layer and where to fetch them", async () => {
  const picture = await sharp({ create: { width: 16, height: 16, channels: 3, background: "#88aacc" } })
    .jpeg()
    .toBuffer()
  const { batchId, cups } = start(2)
  const [cup, other] = cups
  studio.setNow("2026-12-10T09:30:00Z")
  const ofCoat = keepPhoto(studio, picture).photoId
  coatLayer(studio, someone(), { batchId, position: 1, photoId: ofCoat })
  studio.setNow("2026-12-11T10:00:00Z")
  const ofCup = keepPhoto(studio, picture).photoId
  const kept = addCupPhoto(studio, someone(), { serial: cup!.serial, photoId: ofCup })
  const photos = async (serial: string) => (await here.get(`/cups/${serial}/trace.json`)).body.photos
  const coat = { happenedAt: "2026-12-10T09:30:00.000Z", layer: "Resin coat", address: `/photos/${ofCoat}` }
  const whole = { happenedAt: "2026-12-11T10:00:00.000Z", layer: null, address: `/photos/${ofCup}` }
  expect(await photos(cup!.serial)).toEqual([coat, whole])
  expect(await photos(other!.serial)).toEqual([coat])
  expect((await here.get(coat.address).expect(200)).headers["content-type"]).toMatch(/^image\//)

  const schema = new Ajv2020({ strict: true, allowUnionTypes: true, formats: { "date-time": true } })
  const isAsSaid = schema.compile(JSON.parse(schemaText("cup")))
  const { body } = await here.get(`/cups/${cup!.serial}/trace.json`)
  expect(isAsSaid(body), JSON.stringify(isAsSaid.errors)).toBe(true)
  expect(isAsSaid({ ...body, photos: undefined })).toBe(false)
  expect(isAsSaid({ ...body, photos: [{ ...coat, address: "javascript:x" }] })).toBe(false)

  reverse(studio, someone(), kept.actionId)
  expect(await photos(cup!.serial)).toEqual([coat])
})
