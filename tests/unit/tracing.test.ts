import { Temporal } from "temporal-polyfill"
import { expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { folded } from "../../server/tracing/fold.ts"
import { lineageOf } from "../../server/tracing/lineage.ts"
import { tallPicture, widePicture } from "../../server/tracing/picture.ts"
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

let known: Map<number, Set<string>> | null = null

/** Serials of the cups that name a lot, worked out once. */
function namedBy(): Map<number, Set<string>> {
  if (known) return known
  const named = new Map<number, Set<string>>()
  for (const { serials } of batches) {
    for (const serial of serials.split(",")) {
      for (const lot of traceCup(studio, serial).layers.flatMap((y) =>
        y.coats.flatMap((c) => c.uses.flatMap((u) => u.lots)),
      ))
        named.set(lot.lotId, (named.get(lot.lotId) ?? new Set()).add(serial))
    }
  }
  known = named
  return named
}

test("both directions agree: a lot's cups are the cups that name the lot", () => {
  const named = namedBy()
  expect(named.size).toBeGreaterThan(50)
  for (const [lotId, serials] of named) {
    const traced = new Set(traceLot(studio, lotId).cups.map((cup) => cup.serial))
    // a share that came to nothing names no lot, so the lot may list a cup more, never one fewer
    for (const serial of serials) expect(traced).toContain(serial)
  }
})

test("a lot's picture has every cup that names the lot and none that its list has not; folding loses none", () => {
  for (const { id } of file.allText<{ id: number }>("SELECT id FROM lot")) {
    const lineage = lineageOf(studio, "lot", id)
    const cups = [...lineage.things.values()].filter((one) => one.kind === "cup").map((one) => one.name)
    const listed = traceLot(studio, id).cups.map((cup) => cup.serial)
    // the list also has a cup whose share was measured to be nothing after all
    for (const serial of cups) expect(listed).toContain(serial)
    for (const serial of namedBy().get(id) ?? []) expect(cups).toContain(serial)
    const counted = [...folded(lineage).things.values()]
      .filter((one) => one.kind === "cup")
      .map((one) => (one.ref.kind === "cup" ? 1 : Number.parseInt(one.name, 10)))
    expect(counted.reduce((sum, one) => sum + one, 0)).toBe(cups.length)
  }
})

test("no box of a picture lies on another, and each is big enough for a thumb", () => {
  const cups = batches.map(({ serials }) => serials.split(",")[0]!).slice(0, 6)
  for (const serial of cups) {
    const { id } = file.firstText<{ id: number }>("SELECT id FROM cup WHERE serial = ?", [serial])!
    const lineage = folded(lineageOf(studio, "cup", id))
    for (const { boxes } of [widePicture(lineage), tallPicture(lineage)]) {
      for (const [index, a] of boxes.entries()) {
        expect(a.height).toBeGreaterThanOrEqual(44)
        for (const b of boxes.slice(index + 1)) {
          const apart =
            a.x + a.width <= b.x || b.x + b.width <= a.x || a.y + a.height <= b.y || b.y + b.height <= a.y
          expect(apart, `${a.label} / ${b.label}`).toBe(true)
        }
      }
    }
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
