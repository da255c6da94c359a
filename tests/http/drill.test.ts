import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { countContainer } from "../../server/shelf/service.ts"
import { drills, tracedOf } from "../../server/tracing/drill.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceLot } from "../../server/tracing/service.ts"
import { verify } from "../../server/verify/service.ts"
import { someone } from "../support/studio.ts"
import { cookiesOf, type Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

let now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [tracingRoutes, historyRoutes])
})
afterAll(() => here.close())

/** A lot with cups that were sent to buyers, and a bottle of it with something in it that was never counted. */
const lotId = file
  .allText<{ id: number }>(
    `SELECT DISTINCT l.id FROM lot l JOIN container c ON c.lot_id = l.id JOIN supply s ON s.id = l.supply_id
     WHERE s.base_unit = 'uL' AND c.amount_left > 10000 ORDER BY l.id`,
  )
  .map((row) => row.id)
  .find((id) => {
    const trace = traceLot(studio, id)
    const { balance } = tracedOf(studio, trace)
    return balance.unexplained === 0 && trace.cups.some((cup) => cup.state === "sent" && cup.buyer !== null)
  })!
const path = `/lots/${lotId}/drill`
const startedAt = (html: string) => /name="startedAt" value="([^"]+)"/.exec(html)![1]!
const finish = (at: string) => here.post(path, { key: crypto.randomUUID(), startedAt: at })

test("a drill is timed from its page to the tap, and says how many cups and how much were traced", async () => {
  const { text } = await here.get(path).expect(200)
  const { cups } = traceLot(studio, lotId)
  expect(text).toContain(`${cups.length} of ${cups.length} (100 %)`)
  for (const { serial } of cups) expect(text).toContain(serial)
  const at = startedAt(text)
  now = now.add({ seconds: 41 })
  const sent = await finish(at).expect(303)
  expect(drills(studio)[0]).toMatchObject({ lotId, seconds: 41, cups: cups.length, traced: cups.length })
  const after = await here.get("/trace").set("Cookie", cookiesOf(sent))
  expect(after.text).toContain("That is under a minute.")
  expect(after.text).toContain("41 s")
})

test("over a minute is said too", async () => {
  const at = startedAt((await here.get(path)).text)
  now = now.add({ seconds: 75 })
  const sent = await finish(at).expect(303)
  expect((await here.get("/trace").set("Cookie", cookiesOf(sent))).text).toContain(
    "The aim is under a minute",
  )
})

test("100 % or the reason: cups sent for nobody that is known, and what counts found missing", async () => {
  const { text: before } = await here.get(path)
  expect(before).toContain("Nothing remains unexplained")
  const trace = traceLot(studio, lotId)
  const bottle = file.firstText<{ code: string; n: number }>(
    "SELECT code, amount_left AS n FROM container WHERE lot_id = ? AND amount_left > 10000",
    [lotId],
  )!
  countContainer(studio, someone(), { code: bottle.code, amount: bottle.n - 10_000, basis: "weighed" })
  const sent = trace.cups.filter((cup) => cup.state === "sent")
  file.runText("UPDATE customer_order SET buyer_id = NULL WHERE id = ?", [sent[0]!.orderId])
  const lost = traceLot(studio, lotId).cups.filter((cup) => cup.state === "sent" && cup.buyer === null)
  const traced = tracedOf(studio, traceLot(studio, lotId))
  expect(traced.traced).toBe(trace.cups.length - lost.length)
  expect(traced.accounted).toBeCloseTo(1 - 10_000 / traced.balance.came, 12)
  const { text } = await here.get(path).expect(200)
  expect(text).toContain("Why not all of it")
  expect(text).toContain("10 mL are missing by counts")
  for (const { serial } of lost) expect(text).toContain(serial)
  // never said to be all while something is missing
  expect(text).not.toContain("(100 %)")
})

test("the next lot to drill is one that was not drilled yet; a clock that runs backwards is refused", async () => {
  const to = String((await here.get("/trace/drill").expect(302)).headers.location)
  expect(to).toMatch(/^\/lots\/\d+\/drill$/)
  expect(to).not.toBe(path)
  await finish("2027-01-01T00:00:00Z").expect(422)
  await finish("yesterday").expect(422)
  await here.get("/lots/999999/drill").expect(404)
})

test("after all of it the book agrees with every rule", () => {
  // a buyer was taken off an order behind the book's back
  expect(verify(file).filter((one) => !/order/.test(JSON.stringify(one)))).toEqual([])
})
