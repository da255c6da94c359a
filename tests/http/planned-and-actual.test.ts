import { Temporal } from "temporal-polyfill"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { learned } from "../../server/batches/learned.ts"
import { batchesRoutes } from "../../server/batches/routes.ts"
import { coatLayer, coatsOf, measureCoats, startBatch } from "../../server/batches/service.ts"
import { designsRoutes } from "../../server/designs/routes.ts"
import { changeDesign, designs, latestVersionId, versionOf } from "../../server/designs/service.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import type { Studio } from "../../server/ledger/studio.ts"
import { suppliesList } from "../../server/supplies/service.ts"
import { planningStudio, stock } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

describe("what a measure says", () => {
  /** One coat of 20 mL a cup, nothing stays in the mixing cup, 1:1 by volume; a lid. */
  function studioWithOneCoat() {
    const studio = testStudio()
    const made = planningStudio(studio)
    for (const id of Object.values(made.ids)) stock(studio, id, 5_000_000)
    return { studio, ...made }
  }
  /** Coats one cup and says afterwards what was poured of each part, µL, and what was left of it. */
  function pour(studio: Studio, versionId: number, each: number, leftUl: number | null = null) {
    const { batchId } = startBatch(studio, someone(), { versionId, cups: 1, note: "" }).answer
    coatLayer(studio, someone(), { batchId, position: 1 })
    const coats = coatsOf(studio, batchId, 1)
    const coat = coats.find((one) => one.mix !== null)
    const poured = [{ coatId: coat!.coatId, parts: { a: each, b: each }, leftUl }]
    return measureCoats(studio, someone(), {
      batchId,
      position: 1,
      poured,
      weighed: [],
      asPoured: false,
      heldMore: false,
    }).actionId
  }

  test("the ratio of what was poured, less what was left in the mixing cup, to what was planned", () => {
    const { studio, versionId } = studioWithOneCoat()
    // 20 mL planned: 22, 24 less 2, 20 less 1 mL
    pour(studio, versionId, 11_000)
    pour(studio, versionId, 12_000, 2_000)
    pour(studio, versionId, 10_000, 1_000)
    expect(learned(studio)).toMatchObject([
      { kind: "resin", what: "resin", bias: { count: 3, verdict: "too few" }, offers: [] },
    ])
    expect(learned(studio)[0]!.bias.ratio).toBeCloseTo((1.1 + 1.1 + 0.95) / 3, 6)
  })

  test("from five times on a correction is offered, to the mark that can be poured; undone ones do not count", () => {
    const { studio, versionId } = studioWithOneCoat()
    const made = [10_900, 11_000, 11_100, 11_000, 11_000].map((each) => pour(studio, versionId, each))
    const [row] = learned(studio)
    expect(row).toMatchObject({
      bias: { count: 5, verdict: "more" },
      offers: [
        { design: "Sea glass", layer: "Resin coat", change: { what: "amount", from: 20_000, to: 22_000 } },
      ],
    })
    reverse(studio, someone(), made.at(-1)!)
    expect(learned(studio)[0]).toMatchObject({ bias: { count: 4, verdict: "too few" }, offers: [] })
  })
})

describe("in the demo", () => {
  const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
  const file = openStudioFile(":memory:")
  loadDemo(file, now)
  const studio = { file, now: () => now }
  let here: Listening
  beforeAll(async () => {
    here = await listenWith(studio, [batchesRoutes, designsRoutes])
  })
  afterAll(() => here.close())
  const row = (kind: string) => learned(studio).find((one) => one.kind === kind)!
  const fields = (html: string) =>
    Object.fromEntries(
      [...html.matchAll(/<input[^>]*name="([^"]+)"[^>]*value="([^"]*)"/g)].map(([, name, value]) => [
        name!,
        value!,
      ]),
    )

  test("the history has a bias to find: a heavy hand at the final coat, a primer that covers better", () => {
    // the truth it was made with: seed/measured.ts
    const within = (kind: string, truth: number) => {
      const { interval } = row(kind).bias
      expect(interval!.low).toBeLessThan(truth)
      expect(interval!.high).toBeGreaterThan(truth)
    }
    within("final-coat", 1.09)
    within("base-coat", 0.9)
    within("resin", 1)
    expect(row("final-coat").bias.verdict).toBe("more")
    expect(row("base-coat").bias.verdict).toBe("less")
    expect(row("resin").bias.verdict).toBe("no difference")
    expect(row("resin").offers).toEqual([])
  })

  test("the page says it in words, with count, spread and interval, and offers the design's editor", async () => {
    const page = (await here.get("/batches/planned-and-actual")).text
    expect(page).toContain("Final coat: Tumble Clear")
    expect(page).toMatch(/Uses 9 % more than planned, give or take 1 %\./)
    expect(page).toContain("Nothing changes until you save it in the design.")
    expect(page).toContain("NIST/SEMATECH")
    for (const offer of row("final-coat").offers)
      expect(page).toContain(offer.to.replaceAll("&", "&amp;").replaceAll("=", "&#x3D;"))
  })

  test("a suggestion fills the figure into the editor and keeps nothing", async () => {
    const offer = row("final-coat").offers.find((one) => one.design === "Sea glass")!
    const { designId } = designs(studio).find((one) => one.name === "Sea glass")!
    const before = versionOf(studio, latestVersionId(studio, designId))
    const page = await here.get(offer.to)
    expect(page.status).toBe(200)
    expect(page.text).toContain("What was measured is filled in at Final coat: look at it, then save.")
    expect(page.text).toMatch(
      new RegExp(
        `name="layers\\[4\\]\\[uses\\]\\[0\\]\\[amount\\]"[^>]*value="${offer.change.to / 1000} mL"`,
      ),
    )
    expect(versionOf(studio, latestVersionId(studio, designId))).toEqual(before)
    expect(fields(page.text)["layers[4][name]"]).toBe("Final coat")
  })

  test.each([
    ["a layer there is not", "?layer=99&use=1&amount=5", 404],
    ["a use there is not", "?layer=5&use=99&amount=5", 404],
    ["a figure that use has not", "?layer=5&use=1&transfer=5", 404],
    ["no number", "?layer=5&use=1&amount=%3Cscript%3E", 400],
    ["below zero", "?layer=5&use=1&amount=-5", 400],
    ["nothing to change", "?layer=5&use=1", 200],
  ])("an address with %s is answered %s", async (_what, query, status) => {
    const { designId } = designs(studio).find((one) => one.name === "Sea glass")!
    const answer = await here.get(`/designs/${designId}/edit${query}`)
    expect(answer.status).toBe(status)
    expect(answer.text).not.toContain("<script>")
  })

  test("a design that was corrected is not corrected twice: it waits for measures of its own", () => {
    const offer = row("final-coat").offers.find((one) => one.design === "Sea glass")!
    const { designId } = designs(studio).find((one) => one.name === "Sea glass")!
    const times = row("final-coat").bias.count
    const { name, input } = versionOf(studio, latestVersionId(studio, designId))
    const layers = input.layers.map((layer) =>
      layer.name === offer.layer
        ? {
            ...layer,
            uses: layer.uses.map((use) =>
              "resinSystemId" in use ? { ...use, amount: offer.change.to } : use,
            ),
          }
        : layer,
    )
    changeDesign(studio, designId, { name, version: { ...input, layers } })
    expect(row("final-coat").bias.count).toBeLessThan(times)
    expect(row("final-coat").offers.map((one) => one.design)).not.toContain("Sea glass")
    expect(row("final-coat").offers.map((one) => one.design)).toContain("Harbour night")
  })

  test("before anything was measured the page says how to begin", async () => {
    const empty = testStudio()
    const there = await listenWith(empty, [batchesRoutes])
    const page = (await there.get("/batches/planned-and-actual")).text
    await there.close()
    expect(page).toContain("Nothing has been measured yet")
    expect(suppliesList(empty)).toEqual([])
  })
})
