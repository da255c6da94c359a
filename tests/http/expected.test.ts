import { afterAll, beforeAll, beforeEach, expect, test } from "vitest"
import { orderPacks } from "../../server/purchasing/service.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { closeDelivery, openDelivery, receive } from "../../server/receiving/service.ts"
import { formsIn } from "../support/forms-in.ts"
import { planningStudio } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const studio = testStudio()
const known = planningStudio(studio)
let here: Listening
let keys = 0

beforeAll(async () => {
  here = await listenWith(studio, [receivingRoutes])
})
afterAll(() => here.close())
beforeEach(() => {
  studio.file.runText("UPDATE purchase SET cancelled = 1")
  for (let open = openDelivery(studio); open; open = openDelivery(studio))
    closeDelivery(studio, someone(), open.id)
})

const key = () => `expected-key-${++keys}`
const ordered = (sellerId: number, packId: number, count: number, expectedOn: string) =>
  orderPacks(studio, someone(), { sellerId, packId, count, orderedOn: "2026-11-20", expectedOn })
const words = (html: string) => html.replace(/<[^>]+>/g, " ").replace(/\s+/g, " ")
/** The rows to tap before a delivery is begun, in the order of the page. */
const rows = (html: string) =>
  formsIn(html, "/receive").filter(({ fields }) => fields.some(({ name }) => name === "packId"))

test("what is expected from anybody stands on the first page, the next due first; one tap begins its delivery at that line", async () => {
  ordered(known.far, known.packs.lids, 2, "2026-12-05")
  ordered(known.near, known.packs.kit, 1, "2026-11-28")
  const page = await here.get("/receive")
  const said = words(page.text)
  expect(said).toMatch(
    /Clear kit 1 to come from Near &amp; Co, overdue since Sat 28 Nov Lids, bag of 12 2 to come from Far away, expected Sat 5 Dec/,
  )
  const row = rows(page.text)[1]!
  const begun = await here.post(
    row.path,
    Object.fromEntries(row.fields.map(({ name, value }) => [name, value])),
  )
  expect(begun.status).toBe(303)
  const delivery = openDelivery(studio)
  expect(delivery).toMatchObject({ sellerId: known.far, receivedOn: "2026-12-01" })
  expect(begun.headers.location).toBe(`/receive/confirm?delivery=${delivery!.id}&pack=${known.packs.lids}`)
  // a delivery of that seller is begun by now: its rows lead into it, others still begin their own
  const again = (await here.get("/receive/begin")).text
  expect(rows(again)).toHaveLength(1)
  expect(again.replaceAll("&#x3D;", "=").replaceAll("&amp;", "&")).toContain(
    `href="/receive/confirm?delivery=${delivery!.id}&pack=${known.packs.lids}"`,
  )
})

test("a seller's delivery lists at once what that seller still owes, and no more once it came", async () => {
  ordered(known.far, known.packs.lids, 2, "2026-12-05")
  ordered(known.near, known.packs.kit, 1, "2026-12-03")
  const begun = await here.post("/receive/deliveries", {
    key: key(),
    sellerId: String(known.far),
    receivedOn: "2026-12-01",
  })
  const page = await here.get(begun.headers.location!)
  expect(words(page.text)).toContain("Expected: tap what came Lids, bag of 12 2 to come, expected Sat 5 Dec")
  expect(words(page.text)).not.toContain("Clear kit")
  const deliveryId = openDelivery(studio)!.id
  const lots = [{ supplyId: known.ids.lid, number: null, madeOn: null, expiresOn: null }]
  receive(studio, someone(), { deliveryId, packId: known.packs.lids, count: 2, priceMicro: 6_000_000, lots })
  expect(words((await here.get(begun.headers.location!)).text)).toContain("All that was ordered came.")
})

test("more than a handful are folded after the first eight", async () => {
  for (let n = 0; n < 9; n++) ordered(known.far, known.packs.lids, 1, `2026-12-${10 + n}`)
  const { text } = await here.get("/receive")
  expect(rows(text)).toHaveLength(9)
  expect(rows(text.slice(0, text.indexOf("1 more thing")))).toHaveLength(8)
})

test("nobody ticked is asked about once, with the day kept; a second tap begins without a name", async () => {
  const fields = { key: key(), sellerId: "", newSeller: "", receivedOn: "2026-11-30" }
  const asked = await here.post("/receive/deliveries", fields)
  expect(asked.status).toBe(422)
  expect(asked.text).toContain("Who is it from? Tick one, put in somebody new, or begin without a name.")
  expect(asked.text).toContain('value="2026-11-30"')
  expect(asked.text).toContain('name="unnamed" value="yes"')
  expect(openDelivery(studio)).toBeNull()
  expect((await here.post("/receive/deliveries", { ...fields, unnamed: "yes" })).status).toBe(303)
  expect(openDelivery(studio)).toMatchObject({ sellerId: null, receivedOn: "2026-11-30" })
})

test.each([["999"], ["x"]])("a tap on pack %s, which is none, begins nothing", async (packId) => {
  const answer = await here.post("/receive/deliveries", {
    key: key(),
    sellerId: String(known.far),
    receivedOn: "2026-12-01",
    packId,
  })
  expect([404, 422]).toContain(answer.status)
  expect(openDelivery(studio)).toBeNull()
})
