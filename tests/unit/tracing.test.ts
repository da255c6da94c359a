import { Temporal } from "temporal-polyfill"
import { expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { cupTraceCsv, lotTraceCsv, traceCup, traceLot } from "../../server/tracing/service.ts"

const now = Temporal.Instant.from("2026-12-01T18:00:00Z")
const file = openStudioFile(":memory:")
loadDemo(file, now)
const studio = { file, now: () => now }
const batches = file.allText<{ id: number; serials: string }>(
  "SELECT batch_id AS id, group_concat(serial) AS serials FROM cup GROUP BY batch_id ORDER BY batch_id",
)

test("every coat's amounts are shared over its cups so that the parts add up to the whole", () => {
  for (const { serials } of batches.slice(0, 12)) {
    const shared = new Map<string, number>()
    const whole = new Map<string, number>()
    for (const serial of serials.split(",")) {
      for (const coat of traceCup(studio, serial).layers.flatMap((layer) => layer.coats)) {
        for (const use of coat.uses) {
          const key = `${coat.coatId} ${use.container}`
          shared.set(key, (shared.get(key) ?? 0) + use.amount)
          whole.set(key, use.coatAmount)
        }
      }
    }
    expect(shared).toEqual(whole)
  }
})

test("a cup has one blank, also when its batch took blanks out of two cartons", () => {
  for (const { serials } of batches) {
    for (const serial of serials.split(",")) {
      const uses = traceCup(studio, serial).layers.flatMap((layer) =>
        layer.coats.flatMap((coat) => coat.uses),
      )
      expect(uses.filter((use) => use.supply.endsWith("blank")).map((use) => use.amount)).toEqual([1])
    }
  }
})

test("both directions agree: a lot's cups are the cups that name the lot", () => {
  const named = new Map<number, Set<string>>()
  for (const { serials } of batches) {
    for (const serial of serials.split(",")) {
      for (const lot of traceCup(studio, serial).layers.flatMap((y) =>
        y.coats.flatMap((c) => c.uses.flatMap((u) => u.lots)),
      ))
        named.set(lot.lotId, (named.get(lot.lotId) ?? new Set()).add(serial))
    }
  }
  expect(named.size).toBeGreaterThan(50)
  for (const [lotId, serials] of named) {
    const traced = new Set(traceLot(studio, lotId).cups.map((cup) => cup.serial))
    // a share that came to nothing names no lot, so the lot may list a cup more, never one fewer
    for (const serial of serials) expect(traced).toContain(serial)
  }
})

test("CSV says the same, and a formula in a name stays text", () => {
  const { serials } = batches[0]!
  const trace = traceCup(studio, serials.split(",")[0]!)
  expect(cupTraceCsv(trace, { units: "metric", timeZone: "America/Chicago" }).split("\r\n")[0]).toMatch(
    /^cup,layer,step,/,
  )
  const lot = traceLot(studio, trace.layers[0]!.coats[0]!.uses[0]!.lots[0]!.lotId)
  expect(lotTraceCsv({ ...lot, supply: "=1+1" })).toContain("\r\n'=1+1,")
})
