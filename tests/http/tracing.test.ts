import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { balanceOf, buyersOf, recentLots, sideBySide, traceLot } from "../../server/tracing/service.ts"
import { verify } from "../../server/verify/service.ts"
import { someone } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { keysIn, listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
let here: Listening
/** A resin lot whose cups were sent to buyers. */
let lotId: number

beforeAll(async () => {
  here = await listenWith(studio, [tracingRoutes, shelfRoutes, historyRoutes])
  lotId = file
    .allText<{ id: number }>(
      "SELECT l.id FROM lot l JOIN supply s ON s.id = l.supply_id WHERE s.kind = 'hardener' ORDER BY l.id",
    )
    .map((row) => row.id)
    .find((id) =>
      traceLot(studio, id).cups.some((cup) => cup.state === "sent" && cup.orderId !== null),
    ) as number
})
afterAll(() => here.close())

const lastAction = () => file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")?.id as number

test("every supply that came is there to choose a lot of, resins and hardeners first, each with all its lots", () => {
  const came = file.allText<{ supply: string; lots: number }>(
    `SELECT s.name AS supply, count(DISTINCT l.id) AS lots FROM lot l JOIN supply s ON s.id = l.supply_id
     JOIN container c ON c.lot_id = l.id GROUP BY s.id ORDER BY s.kind IN ('resin', 'hardener') DESC, s.name`,
  )
  expect(came.reduce((sum, one) => sum + one.lots, 0)).toBeGreaterThan(200)
  const shown = new Map(recentLots(studio).map((lot) => [lot.supply, lot.ofSupply]))
  expect([...shown]).toEqual(came.map(({ supply, lots }) => [supply, lots]))
})

test.each([
  ["consumable", "each", "box"],
  ["glitter", "mg", "jar"],
  ["resin", "uL", "bottle"],
  ["paint", "mg", "can"],
  ["vinyl", "mm2", "pack of sheets"],
])("a picture calls what holds %s (%s) a %s", async (kind, baseUnit, word) => {
  const code = file.firstText<{ code: string }>(
    `SELECT c.code FROM container c JOIN supply s ON s.id = c.supply_id
     WHERE s.kind = ? AND s.base_unit = ? AND c.width_um IS NULL ORDER BY c.id LIMIT 1`,
    [kind, baseUnit],
  )?.code
  const { text } = await here.get(`/trace/container/${code}`).expect(200)
  const heading = word.charAt(0).toUpperCase() + word.slice(1)
  expect(text).toContain(`<h1>Trace of ${word} ${code}</h1>`)
  expect(text).toContain(`>${heading} ${code}</text>`)
  expect(text).toMatch(new RegExp(`<text class="trace-heading"[^>]*>${heading}</text>`))
  if (word !== "bottle") expect(text).not.toMatch(/bottle/i)
})

test("different ones in one picture are containers", async () => {
  const cup = file.firstText<{ serial: string }>(
    "SELECT c.serial FROM cup c WHERE c.state = 'sent' ORDER BY c.id LIMIT 1",
  )
  const { text } = await here.get(`/trace/cup/${cup?.serial}`).expect(200)
  expect(text).toMatch(/\d+ lots, .*\d+ containers/)
  expect(text).toContain(">Container</text>")
  expect(text).toMatch(/aria-label="Bottle K/)
})

test("everything that came of a lot is on cups, left, thrown away or said to be unexplained, to the last unit", () => {
  const left = new Map<string, number>()
  for (const { id } of file.allText<{ id: number }>("SELECT id FROM lot")) {
    const trace = traceLot(studio, id)
    const balance = balanceOf(studio, trace)
    expect(balance.onCups + balance.left + balance.wasted + balance.unexplained).toBe(balance.came)
    expect(balance.left).toBe(trace.amountLeft)
    for (const { code, amountOfLot } of trace.containers) left.set(code, (left.get(code) ?? 0) + amountOfLot)
  }
  const bottles = file.allText<{ code: string; n: number }>("SELECT code, amount_left AS n FROM container")
  for (const { code, n } of bottles) expect([code, left.get(code) ?? 0]).toEqual([code, n])
})

test("cups with the lot and the others together are all finished or scrapped cups that have the supply, each once", () => {
  const trace = traceLot(studio, lotId)
  const { withIt, others } = sideBySide(studio, trace)
  const all = file.firstText<{ n: number }>(
    `SELECT count(DISTINCT cc.cup_id) AS n FROM movement m JOIN container c ON c.id = m.container_id
       JOIN coat_cup cc ON cc.coat_id = m.coat_id JOIN cup u ON u.id = cc.cup_id
     WHERE c.supply_id = ? AND m.kind = 'use' AND u.state <> 'in work'`,
    [trace.supplyId],
  )
  expect(withIt.all).toBe(trace.cups.filter((cup) => cup.state !== "in work").length)
  expect(withIt.all + others.all).toBe(all?.n)
})

test("a complaint is kept with the cup, counts beside the others, and is taken back by undo", async () => {
  const { serial } = traceLot(studio, lotId).cups.find((cup) => cup.state === "sent") as { serial: string }
  const before = sideBySide(studio, traceLot(studio, lotId)).withIt.bad
  const [key = ""] = keysIn((await here.get(`/cups/${serial}`).expect(200)).text)
  await here.post(`/cups/${serial}/complaint`, { key, what: "Yellow at the rim <b>already</b>" }).expect(303)
  const { text } = await here.get(`/cups/${serial}`).expect(200)
  expect(text).toContain("Yellow at the rim &lt;b&gt;already&lt;/b&gt;")
  expect(sideBySide(studio, traceLot(studio, lotId)).withIt.bad).toBe(before + 1)
  reverse(studio, someone(), lastAction())
  expect(sideBySide(studio, traceLot(studio, lotId)).withIt.bad).toBe(before)
})

test("an empty complaint, an unknown cup and half a megabyte change nothing", async () => {
  const { serial } = traceLot(studio, lotId).cups[0] as { serial: string }
  const before = lastAction()
  const key = () => crypto.randomUUID()
  await here.post(`/cups/${serial}/complaint`, { key: key(), what: "   " }).expect(422)
  await here.post("/cups/T0000X/complaint", { key: key(), what: "yellow" }).expect(404)
  await here.post(`/cups/${serial}/complaint`, { key: key(), what: "y".repeat(501) }).expect(422)
  await here.post(`/cups/${serial}/complaint`, { key: key(), what: "y".repeat(500_000) }).expect(413)
  expect(lastAction()).toBe(before)
})

test("who has the cups of a lot stands on its page; whom one has told is written down once, and undone", async () => {
  const { text } = await here.get(`/lots/${lotId}`).expect(200)
  expect(text).toContain("Who has them")
  const orderId = /name="orderId" value="(\d+)"/.exec(text)?.[1] as string
  await here
    .post(`/lots/${lotId}/told`, { key: crypto.randomUUID(), orderId, how: "wrote a letter" })
    .expect(303)
  expect((await here.get(`/lots/${lotId}`)).text).toContain("wrote a letter")
  await here.post(`/lots/${lotId}/told`, { key: crypto.randomUUID(), orderId, how: "" }).expect(409)
  await here.post(`/lots/${lotId}/told`, { key: crypto.randomUUID(), orderId: "999999", how: "" }).expect(404)
  reverse(studio, someone(), lastAction())
  expect((await here.get(`/lots/${lotId}`)).text).not.toContain("wrote a letter")
})

test("the lead says at once how many cups, where they are, and how many orders to write to", async () => {
  const { text } = await here.get(`/lots/${lotId}`)
  expect(text).toMatch(/In \d+ cups?: [^<]*\d+ sent[^<]*\. (One order|\d+ orders) to write to\./)
})

test("a cup's serial is a link that a thumb hits, wherever the lot's page names a cup", async () => {
  const { text } = await here.get(`/lots/${lotId}`)
  const links = [...text.matchAll(/<a [^>]*href="\/cups\/[^>]*>/g)].map(([link]) => link)
  expect(links.length).toBeGreaterThan(traceLot(studio, lotId).cups.length)
  expect(links.filter((link) => !link.includes("tap-code"))).toEqual([])
})

test("as buyers are told, the lead counts down to “All told.”, and an undo counts up again", async () => {
  const orders = buyersOf(studio, traceLot(studio, lotId)).map((one) => one.orderId)
  expect(orders.length).toBeGreaterThan(1)
  for (const [index, orderId] of orders.entries()) {
    await here.post(`/lots/${lotId}/told`, { key: crypto.randomUUID(), orderId: String(orderId) }).expect(303)
    const left = orders.length - index - 1
    const says = `${left === 1 ? "One order" : `${left} orders`} left to write to, of ${orders.length}.`
    expect((await here.get(`/lots/${lotId}`)).text).toContain(left === 0 ? " All told." : says)
  }
  reverse(studio, someone(), lastAction())
  expect((await here.get(`/lots/${lotId}`)).text).toContain("One order left to write to")
})

test("a cup's card has its serial, a picture of it and what the drinker must know, and nothing of the buyer", async () => {
  const cup = traceLot(studio, lotId).cups.find((one) => one.buyer !== null)
  const { text } = await here.get(`/cups/${cup?.serial}/card`).expect(200)
  expect(text).toContain(cup?.serial)
  expect(text).toContain("below the drinking edge")
  expect(text).not.toContain(cup?.buyer)
  const svg = await here.get(`/cups/${cup?.serial}/code.svg`).expect(200)
  expect(svg.headers["content-type"]).toContain("image/svg+xml")
})

test("both traces go out as JSON with the name and version of their form", async () => {
  const lot = (await here.get(`/lots/${lotId}/trace.json`).expect(200)).body
  expect(lot).toMatchObject({ format: "lotcup lot trace", formatVersion: 2, lotId })
  const cup = (await here.get(`/cups/${lot.cups[0].serial}/trace.json`).expect(200)).body
  expect(cup).toMatchObject({ format: "lotcup cup trace", formatVersion: 1, serial: lot.cups[0].serial })
  const lots = cup.layers.flatMap((layer: { coats: { uses: { lots: { lotId: number }[] }[] }[] }) =>
    layer.coats.flatMap((coat) => coat.uses.flatMap((use) => use.lots.map((one) => one.lotId))),
  )
  expect(lots).toContain(lotId)
})

test("after all of it the book still agrees with every rule", () => {
  expect(verify(file)).toEqual([])
})
