import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { historyOf } from "../../server/history/service.ts"
import { receivingRoutes } from "../../server/receiving/routes.ts"
import { receive, startDelivery } from "../../server/receiving/service.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { packs } from "../../server/supplies/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceCup, traceLot } from "../../server/tracing/service.ts"
import { verify } from "../../server/verify/service.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [receivingRoutes, tracingRoutes, shelfRoutes, historyRoutes])
})
afterAll(() => here.close())

const key = () => crypto.randomUUID()
const lastAction = () =>
  file.firstText<{ id: number; summary: string }>("SELECT id, summary FROM action ORDER BY id DESC LIMIT 1")!
const rowOf = (lotId: number) =>
  file.firstText<{ number: string | null; made_on: string | null; expires_on: string | null; held: number }>(
    "SELECT number, made_on, expires_on, held FROM lot WHERE id = ?",
    [lotId],
  )!
/** A resin's lot that is on a cup, with the cup, and another lot of the same supply and maker. */
const { lotId, serial, supply, otherNumber } = file.firstText<{
  lotId: number
  serial: string
  supply: string
  otherNumber: string
}>(
  `SELECT l.id AS lotId, u.serial, s.name AS supply, o.number AS otherNumber
   FROM lot l JOIN supply s ON s.id = l.supply_id
     JOIN lot o ON o.supply_id = l.supply_id AND o.maker_id = l.maker_id AND o.id <> l.id AND o.number IS NOT NULL
     JOIN container c ON c.lot_id = l.id JOIN movement m ON m.container_id = c.id
     JOIN coat_cup cc ON cc.coat_id = m.coat_id JOIN cup u ON u.id = cc.cup_id
   WHERE s.kind = 'hardener' AND l.number IS NOT NULL ORDER BY l.id, u.id LIMIT 1`,
)!
const before = rowOf(lotId)
const asLabelled = {
  "lot[number]": before.number ?? "",
  "lot[expires]": before.expires_on ?? "",
  "lot[made]": before.made_on ?? "",
}
const putRight = (fields: Record<string, string>) =>
  here.post(`/lots/${lotId}/label`, { key: key(), ...asLabelled, ...fields })
const undo = () => here.post(`/history/${lastAction().id}/undo`, { key: key(), returnTo: "/history" })

test("a lot number that was misread is put right, also on cups that went out long ago, and the undo brings it back", async () => {
  const { text } = await here.get(`/lots/${lotId}/label`).expect(200)
  expect(text).toContain(`value="${before.number}"`)
  expect((await here.get(`/lots/${lotId}`)).text).toContain(`href="/lots/${lotId}/label"`)

  await putRight({ "lot[number]": "RIGHT-7" }).expect(303)
  expect(lastAction().summary).toBe(`Put right: lot ${before.number} of ${supply} is lot RIGHT-7`)
  expect(JSON.stringify(traceCup(studio, serial))).toContain("RIGHT-7")
  expect(traceLot(studio, lotId).number).toBe("RIGHT-7")
  expect(historyOf(studio, "lot", lotId, 1).entries[0]!.summary).toBe(lastAction().summary)
  expect(verify(file)).toEqual([])

  await undo().expect(303)
  expect(rowOf(lotId)).toEqual(before)
  expect(verify(file)).toEqual([])
})

test("a lot that is held meanwhile stays held, and the book is still in order", async () => {
  await putRight({ "lot[number]": "RIGHT-8" }).expect(303)
  await here.post(`/lots/${lotId}/hold`, { key: key() }).expect(303)
  expect(verify(file)).toEqual([])
  expect(rowOf(lotId)).toMatchObject({ number: "RIGHT-8", held: 1 })
  await here.post(`/lots/${lotId}/release`, { key: key() }).expect(303)
  await putRight({}).expect(303)
  expect(rowOf(lotId)).toEqual(before)
})

test("another lot's number is refused, and so is what cannot be: what was typed stays, nothing changes", async () => {
  const actions = lastAction().id
  const refusals: [Record<string, string>, RegExp][] = [
    [{}, /That is what the book says already/],
    [{ "lot[number]": otherNumber }, /is in the book already, and two lots cannot be made one/],
    [{ "lot[made]": "2031-01-01" }, /cannot have been made on/],
    [{ "lot[expires]": "2001-01-01" }, /went off on .* before it came/],
    [{ "lot[expires]": "soon" }, /The expiry date: /],
    [{ "lot[number]": "x".repeat(81) }, /at most 80|80 characters/],
  ]
  for (const [fields, sentence] of refusals) {
    const answer = await putRight(fields)
    expect(answer.status, JSON.stringify(fields)).toBeGreaterThanOrEqual(400)
    expect(answer.text).toMatch(sentence)
    const [typed] = Object.values(fields)
    if (typed) expect(answer.text).toContain(`value="${typed}"`)
  }
  expect(lastAction().id).toBe(actions)
  expect(rowOf(lotId)).toEqual(before)
  await here.get("/lots/999999/label").expect(404)
})

test("a day that was misread moves the day it goes off; without one it follows from when it was made", async () => {
  await putRight({ "lot[expires]": "3 Mar 2029" }).expect(303)
  expect(rowOf(lotId).expires_on).toBe("2029-03-03")
  await putRight({ "lot[expires]": "", "lot[made]": before.made_on ?? "2025-01-01" }).expect(303)
  const traced = traceLot(studio, lotId)
  expect(traced.expiryBasis).toBe("shelf-life")
  expect(traced.expiresOn).not.toBeNull()
  expect(verify(file)).toEqual([])
  await putRight({}).expect(303)
  expect(rowOf(lotId).expires_on).toBe(before.expires_on)
})

test("the undo waits while another lot has the old number", async () => {
  await putRight({ "lot[number]": "RIGHT-9" }).expect(303)
  const corrected = lastAction().id
  const { makerId, supplyId } = file.firstText<{ makerId: number; supplyId: number }>(
    "SELECT maker_id AS makerId, supply_id AS supplyId FROM lot WHERE id = ?",
    [lotId],
  )!
  const pack = packs(studio).find(
    (one) => one.makerId === makerId && one.contents.some((content) => content.supplyId === supplyId),
  )!
  const by = () => ({ device: "test", key: key() })
  const { deliveryId } = startDelivery(studio, by(), {
    sellerId: null,
    receivedOn: "2026-12-01",
    note: "",
  }).answer
  const lots = pack.contents.map((content) => ({
    supplyId: content.supplyId,
    number: content.supplyId === supplyId ? before.number : null,
    madeOn: null,
    expiresOn: null,
  }))
  receive(studio, by(), { deliveryId, packId: pack.id, count: 1, priceMicro: 1_000_000, lots })
  const answer = await here.post(`/history/${corrected}/undo`, { key: key(), returnTo: "/history" })
  expect(answer.status).toBe(409)
  expect(rowOf(lotId).number).toBe("RIGHT-9")
  expect(verify(file)).toEqual([])
})
