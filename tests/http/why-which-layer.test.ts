import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { coatLayer, startBatch } from "../../server/batches/service.ts"
import { designsRoutes } from "../../server/designs/routes.ts"
import { designs } from "../../server/designs/service.ts"
import { suppliesList } from "../../server/supplies/service.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import { stock } from "../support/planning-fixtures.ts"
import { someone } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }

let here: Listening
beforeAll(async () => {
  for (const { id, baseUnit } of suppliesList(studio))
    stock(studio, id, baseUnit === "each" ? 5_000 : 50_000_000)
  here = await listenWith(studio, [batchesRoutes, designsRoutes, tracingRoutes])
})
afterAll(() => here.close())

/** What each "Why this much?" of a page begins with: "Clear resin A for 2 cups, layer 4, Clear coat". */
const whys = (html: string) =>
  [...html.matchAll(/<div class="why-body">\s*<p>(.*?)<\/p>/g)].map(([, said]) =>
    said!.replaceAll(/<[^>]+>/g, ""),
  )

test("of several resin coats in one plan, every why says which layer it is for: design, batch, mix card, cup", async () => {
  const { designId, versionId } = designs(studio).find((one) => one.name === "Sea glass")!
  const { batchId, cups } = startBatch(studio, someone(), { versionId, cups: 2, note: "" }).answer
  for (const page of [`/batches/${batchId}`, `/batches/${batchId}/mix-card`]) {
    const said = whys((await here.get(page)).text)
    expect(said, page).toContain("Tumble Clear A for 2 cups, layer 4, Seal coat")
    expect(said, page).toContain("Tumble Clear A for 2 cups, layer 5, Final coat")
    expect(new Set(said).size, page).toBe(said.length)
  }
  // which one to unfold is said before it is unfolded
  expect((await here.get(`/batches/${batchId}`)).text).toContain(
    "<summary>Tumble Clear A for 2 cups, layer 4, Seal coat</summary>",
  )
  const design = whys((await here.get(`/designs/${designId}`)).text)
  expect(design).toContain("Tumble Clear B for 1 cup, layer 4, Seal coat")
  expect(design).toContain("Tumble Clear B for 1 cup, layer 5, Final coat")

  // what is kept with a coat is as it was kept before pages said the layer
  for (let position = 1; position <= 4; position += 1) coatLayer(studio, someone(), { batchId, position })
  const kept = file.firstText<{ workings: string }>(
    "SELECT workings FROM coat WHERE workings LIKE '%Tumble Clear A%' ORDER BY id DESC LIMIT 1",
  )!
  expect(kept.workings).toContain('"title":"Tumble Clear A for 2 cups"')
  const cup = whys((await here.get(`/cups/${cups[0]!.serial}`)).text)
  expect(cup).toContain("Tumble Clear A for 2 cups, layer 4, Seal coat")
})
