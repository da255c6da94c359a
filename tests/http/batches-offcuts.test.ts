import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { historyRoutes } from "../../server/history/routes.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { shelfRoutes } from "../../server/shelf/routes.ts"
import { countContainer } from "../../server/shelf/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { traceCup } from "../../server/tracing/service.ts"
import { verify } from "../../server/verify/service.ts"
import { someone } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

/*
 * "Black vinyl sheet" of the demo comes in sheets of 12 × 12 in, 304.8 mm. A piece is 90 × 60 mm and may be turned,
 * 5 mm free along the edges and 2 mm between pieces. By hand: three lie side by side (3 × 90 + 2 × 2 + 2 × 5 = 284);
 * turned, four (4 × 60 + 3 × 2 + 2 × 5 = 256).
 */
const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
const SHEET_MM2 = Math.round(304.8 * 304.8)

let here: Listening
let keys = 0
const key = () => `offcut-test-${++keys}`
beforeAll(async () => {
  here = await listenWith(studio, [batchesRoutes, tracingRoutes, historyRoutes, shelfRoutes])
})
afterAll(() => here.close())

async function start(cups: number): Promise<number> {
  const { versionId } = designs(studio).find((design) => design.name === "Plain name cup")!
  const answer = await here.post("/batches", { key: key(), versionId: String(versionId), cups: String(cups) })
  return Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
}
const vinyl = () => onHand(file, "America/Chicago").filter((one) => one.supply === "Black vinyl sheet")
const post = (id: number, step: string, fields: Record<string, string | string[]>) =>
  here.post(`/batches/${id}/${step}`, { key: key(), ...fields })
const lastAction = () => file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
/** Up to and with the layer that is cut from vinyl. */
async function cut(id: number): Promise<void> {
  for (const { position, name } of batchProgress(studio, id).plan.layers) {
    const answer = await post(id, "coat", { position: String(position) })
    expect(answer.status, answer.text).toBe(303)
    if (name === "Cut vinyl") return
  }
}
const cutFrom = () =>
  file.allText<{ code: string; amount: number }>(
    `SELECT c.code, -m.amount AS amount FROM movement m JOIN container c ON c.id = m.container_id
     JOIN supply s ON s.id = c.supply_id WHERE m.action_id = ? AND s.name = 'Black vinyl sheet' ORDER BY m.id`,
    [lastAction()],
  )

describe("an offcut", () => {
  test("that a coat leaves is put by in one tap with its size, lot and cost, and the pack has whole sheets", async () => {
    // one pack with three whole sheets; the others are empty
    const [pack, ...others] = vinyl()
    countContainer(studio, someone(), { code: pack!.code, amount: 3 * SHEET_MM2, basis: "counted" })
    for (const other of others)
      countContainer(studio, someone(), { code: other.code, amount: 0, basis: "counted" })
    const before = vinyl()[0]!
    const id = await start(2)
    await cut(id)
    // turned they lie in one row of 90, and 5 of margin and 2 of gap go with it: 97 off a sheet, or 67 as they are
    expect(cutFrom()).toEqual([{ code: pack!.code, amount: Math.round(304.8 * 67) }])
    const page = (await here.get(`/batches/${id}`)).text
    expect(page).toContain("an offcut of <strong>30.5 cm × 23.8 cm</strong>")
    // said right after the notice, not below the bottles of the next layer
    const next = page.indexOf(`action="/batches/${id}/coat"`)
    expect(page.slice(0, next)).toContain("Put the offcut by</span>")

    const tap = { key: key(), returnTo: `/batches/${id}` }
    const answer = await here.post(`/containers/${pack!.code}/offcut`, tap)
    expect([answer.status, answer.headers.location]).toEqual([303, `/batches/${id}`])
    const [rest, kept] = vinyl()
    expect(rest!.amountLeft).toBe(2 * SHEET_MM2)
    expect(kept).toMatchObject({
      isOffcut: true,
      widthUm: 304_800,
      lotId: before.lotId,
      amountLeft: SHEET_MM2 - Math.round(304.8 * 67),
    })
    expect(Math.abs(kept!.heightUm! - 237_800)).toBeLessThan(5)
    expect((await here.get(`/containers/${kept!.code}`)).text).toContain(
      "It is an offcut of 30.5 cm × 23.8 cm.",
    )
    expect((await here.get(`/containers/${pack!.code}`)).text).not.toContain("Put the offcut by")
    const again = await here.post(`/containers/${pack!.code}/offcut`, { key: key() })
    expect([again.status, again.text.includes("holds no offcut")]).toEqual([409, true])
    expect(verify(file)).toEqual([])
  })

  test("is cut up first: pieces come from it while they fit, then from a new sheet, and the mix card says the same", async () => {
    const [pack, kept] = vinyl()
    const id = await start(12)
    const all = batchProgress(studio, id).plan.layers
    const vinylAt = all.findIndex((layer) => layer.name === "Cut vinyl")
    for (const { position } of all.slice(0, vinylAt)) await post(id, "coat", { position: String(position) })
    const card = (await here.get(`/batches/${id}/mix-card`)).text
    await post(id, "coat", { position: String(all[vinylAt]!.position) })
    // 237.8 high: as they are three rows of 62 hold 9; two rows turned (92 each) hold 8, and none is over for a third
    const [first, second] = cutFrom()
    expect(first!.code).toBe(kept!.code)
    expect(second).toEqual({ code: pack!.code, amount: Math.round(304.8 * 67) })
    const onCard = [...card.matchAll(/class="pour-figure" value="(\d+)" data-supply="(\d+)"/g)]
      .filter((found) => Number(found[2]) === pack!.supplyId)
      .map((found) => Number(found[1]))
    expect(onCard).toEqual([first!.amount, second!.amount])
    const uses = traceCup(studio, batchProgress(studio, id).cups[0]!.serial).layers[vinylAt]!.coats[0]!.uses
    expect(uses.map((use) => [use.container, use.lots[0]!.lotId])).toEqual([
      [kept!.code, kept!.lotId],
      [pack!.code, pack!.lotId],
    ])
    expect(verify(file)).toEqual([])
  })

  test("too small for a piece of any design is not offered; held, it is not put by", async () => {
    const pack = vinyl().find((one) => !one.isOffcut)!
    const small = 304.8 * 69
    countContainer(studio, someone(), {
      code: pack.code,
      amount: Math.round(SHEET_MM2 + small),
      basis: "counted",
    })
    // 69 less 2 × 5 of margin is less than 60
    expect((await here.get(`/containers/${pack.code}`)).text).not.toContain("Put the offcut by")
    countContainer(studio, someone(), {
      code: pack.code,
      amount: Math.round(SHEET_MM2 + 304.8 * 71),
      basis: "counted",
    })
    expect((await here.get(`/containers/${pack.code}`)).text).toContain("Put the offcut by")
    await here.post(`/containers/${pack.code}/hold`, { key: key() })
    const answer = await here.post(`/containers/${pack.code}/offcut`, { key: key() })
    expect([answer.status, answer.text.includes("is held")]).toEqual([409, true])
    await here.post(`/containers/${pack.code}/release`, { key: key() })
  })

  test("is undone while it was not cut: the pack has it back", async () => {
    const pack = vinyl().find((one) => !one.isOffcut)!
    await here.post(`/containers/${pack.code}/offcut`, { key: key() })
    await here.post(`/history/${lastAction()}/undo`, { key: key(), returnTo: "/" })
    expect(vinyl().find((one) => one.code === pack.code)!.amountLeft).toBe(pack.amountLeft)
    expect(verify(file)).toEqual([])
  })

  test("whole sheets are never made up of offcuts: their area is there, but no sheet", async () => {
    const pack = vinyl().find((one) => !one.isOffcut)!
    countContainer(studio, someone(), { code: pack.code, amount: Math.round(304.8 * 240), basis: "counted" })
    await here.post(`/containers/${pack.code}/offcut`, { key: key() })
    expect(vinyl().every((one) => one.isOffcut)).toBe(true)
    const id = await start(13)
    const layer = batchProgress(studio, id).plan.layers.find((one) => one.name === "Cut vinyl")!
    for (let position = 1; position < layer.position; position++)
      await post(id, "coat", { position: String(position) })
    const answer = await post(id, "coat", { position: String(layer.position) })
    expect([answer.status, answer.text.includes("Black vinyl sheet")]).toEqual([409, true])
  })
})
