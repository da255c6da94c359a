import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { batchProgress } from "../../server/batches/service.ts"
import { designs } from "../../server/designs/service.ts"
import { suppliesList } from "../../server/supplies/service.ts"
import { stock } from "../support/planning-fixtures.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }

let here: Listening
let keys = 0
const key = () => `mix-card-test-${++keys}`
beforeAll(async () => {
  // enough of everything for all batches here
  for (const { id, baseUnit } of suppliesList(studio))
    stock(studio, id, baseUnit === "each" ? 5_000 : 50_000_000)
  here = await listenWith(studio, [batchesRoutes])
})
afterAll(() => here.close())

async function start(design: string, cups: number): Promise<number> {
  const { versionId } = designs(studio).find((one) => one.name === design)!
  const answer = await here.post("/batches", { key: key(), versionId: String(versionId), cups: String(cups) })
  return Number(/\/batches\/(\d+)/.exec(answer.headers.location ?? "")![1])
}

/** Figures of a card's page, as it says them to a program: [supply, amount] by layer, in the order of the page. */
function figuresOf(html: string): [number, number][][] {
  const screen = html.slice(0, html.indexOf('class="sheet"'))
  return screen
    .split('<details class="fold card-layer')
    .slice(1)
    .map((layer) =>
      [...layer.matchAll(/<data [^>]*value="(\d+)" data-supply="(\d+)"/g)].map(([, amount, supply]) => [
        Number(supply),
        Number(amount),
      ]),
    )
}

/** What a layer took, by coat and supply. */
function tookBy(actionId: number): [number, number][] {
  return file
    .allText<{ supply: number; took: number }>(
      `SELECT c.supply_id AS supply, -sum(m.amount) AS took FROM movement m JOIN container c ON c.id = m.container_id
       WHERE m.action_id = ? AND m.kind = 'use' GROUP BY m.coat_id, c.supply_id`,
      [actionId],
    )
    .map(({ supply, took }) => [supply, took])
}

const sorted = (pairs: readonly [number, number][]) => pairs.toSorted((a, b) => a[0] - b[0] || a[1] - b[1])

describe("amounts taken are the card's", () => {
  const all = designs(studio).map(({ name }) => name)
  test.each(all.flatMap((name) => [1, 6, 24].map((cups) => [name, cups] as const)))(
    "%s for %i cups: layer by layer, mix by mix",
    async (name, cups) => {
      const id = await start(name, cups)
      const card = figuresOf((await here.get(`/batches/${id}/mix-card`)).text)
      const { layers } = batchProgress(studio, id).plan
      expect(card).toHaveLength(layers.length)
      for (const [index, { position }] of layers.entries()) {
        const answer = await here.post(`/batches/${id}/coat`, { key: key(), position: String(position) })
        expect(answer.status).toBe(303)
        const action = file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!.id
        expect(sorted(tookBy(action))).toEqual(sorted(card[index]!))
      }
    },
  )

  test("once the first layers are done, the card is of what is left, for the cups that are left", async () => {
    const id = await start("Sea glass", 4)
    await here.post(`/batches/${id}/coat`, { key: key(), position: "1" })
    const [first] = batchProgress(studio, id).cups
    await here.post(`/batches/${id}/scrap`, { key: key(), cupId: String(first!.id) })
    const page = (await here.get(`/batches/${id}/mix-card`)).text
    expect(page).not.toContain("1. Scuff and wipe")
    expect(page).toContain("2. White base")
    expect(page).toContain("3 cups")
    expect(page).not.toContain(first!.serial)
  })
})

describe("the page", () => {
  test("a kit by volume is in mL, one by weight in g, with what the scale reads and when the next coat goes on", async () => {
    const byVolume = (await here.get(`/batches/${await start("Sea glass", 4)}/mix-card`)).text
    expect(byVolume).toMatch(/class="pour-figure"[^>]*>48 mL</)
    expect(byVolume).toContain(
      "Final coat after 12 h, at the latest after 2 days; later, scuff and wipe first.",
    )
    // 48 mL of 1.15 and 0.97 g/mL
    expect(byVolume).toContain("55.2 g")
    expect(byVolume).toContain("101.8 g")
    const byMass = (await here.get(`/batches/${await start("Big adventure", 2)}/mix-card`)).text
    expect(byMass).toMatch(/class="pour-figure"[^>]*>[\d.]+ g</)
  })

  test("what is shared out by cups says how much is a cup's; what burns is told before the first mix", async () => {
    const page = (await here.get(`/batches/${await start("Harbour night", 24)}/mix-card`)).text
    const coat = page.slice(page.indexOf("5. Glitter coat"), page.indexOf("6. Resist"))
    // 6 g on each of 24 cups, from four mixes
    expect(coat).toMatch(/Lagoon mix <span class="hint">6 g a cup<\/span>.*?>144 g</)
    expect(coat).toMatch(/<span>Nitrile gloves<\/span>/)
    expect(coat.indexOf("It burns skin and eyes")).toBeLessThan(coat.indexOf("Mix 1 of 4"))
    expect(page.slice(page.indexOf('class="sheet"'))).toContain("<b>144 g</b> Lagoon mix (6 g a cup)")
    const one = (await here.get(`/batches/${await start("Harbour night", 1)}/mix-card`)).text
    expect(one).not.toContain("a cup</span>")
  })

  test("cautions are of what is in the mix: hardener burns, acetone is not in it", async () => {
    const page = (await here.get(`/batches/${await start("Sea glass", 1)}/mix-card`)).text
    const mix = page.slice(page.indexOf("Seal coat"), page.indexOf("5. Final coat"))
    expect(mix).toContain("It burns skin and eyes")
    expect(mix).not.toContain("catch fire")
    expect(page.slice(0, page.indexOf("2. White base"))).toContain("catch fire")
  })

  test("a batch that is done has nothing left to mix; one that is not there is not found", async () => {
    const id = await start("Sea glass", 1)
    await here.post(`/batches/${id}/finish`, { key: key(), good: "1" })
    expect((await here.get(`/batches/${id}/mix-card`)).text).toContain("Every layer of this batch is done.")
    for (const path of ["/batches/99999/mix-card", "/batches/x/mix-card", "/batches/-1/mix-card"])
      expect((await here.get(path)).status).toBe(404)
  })
})
