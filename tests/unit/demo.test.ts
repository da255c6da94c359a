import { Temporal } from "temporal-polyfill"
import { expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { loadDemo } from "../../seed/demo.ts"
import { openBatches } from "../../server/batches/service.ts"
import { forecast, whatIf } from "../../server/forecast/service.ts"
import { onHand } from "../../server/ledger/on-hand.ts"
import { ordersList } from "../../server/orders/service.ts"
import { reorderPoints } from "../../server/purchasing/reorder.ts"
import { lowSupplies } from "../../server/shelf/service.ts"
import { packs, sellers } from "../../server/supplies/service.ts"

const NOW = Temporal.Instant.from("2026-12-01T18:00:00Z")

function demo() {
  const file = openStudioFile(":memory:")
  loadDemo(file, NOW)
  return { file, now: () => NOW }
}

test("the demo studio is coherent: every amount is the sum of its movements, and costs add up", () => {
  const { file } = demo()
  expect(
    file.allText(
      `SELECT c.code FROM container c WHERE c.amount_left <> (SELECT sum(amount) FROM movement m WHERE m.container_id = c.id)
         OR c.cost_left_micro <> (SELECT sum(cost_micro) FROM movement m WHERE m.container_id = c.id)`,
    ),
  ).toEqual([])
})

test("it has some four hundred cups, a batch half done, a big order, and something past its day", () => {
  const studio = demo()
  const { cups } = studio.file.firstText<{ cups: number }>("SELECT count(*) AS cups FROM cup")!
  expect(cups).toBeGreaterThan(380)
  expect(openBatches(studio)).toMatchObject([{ design: "Sea glass", inWork: 4, layersDone: 2 }])
  expect(lowSupplies(studio).map((low) => low.supply)).toContain("Fine silver")
  expect(studio.file.firstText("SELECT max(quantity) AS most FROM order_line")).toEqual({ most: 40 })
  expect(
    onHand(studio.file, "UTC").some((bottle) => bottle.useBy !== null && bottle.useBy < "2026-12-01"),
  ).toBe(true)
})

test("it shows a batch as it is really made: room, split and join, one more coat, a photo, mixes looked at, an offcut", () => {
  const { file } = demo()
  const count = (query: string) => file.firstText<{ n: number }>(`SELECT count(*) AS n FROM ${query}`)!.n
  expect(count("coat WHERE room_celsius_tenths IS NOT NULL")).toBeGreaterThan(5)
  expect(count("cup_move")).toBe(4)
  expect(count("action WHERE summary LIKE '%one more coat%'")).toBe(1)
  expect(count("making_photo")).toBeGreaterThan(0)
  expect(count("mix_check WHERE hardness = 'tacky'")).toBeGreaterThan(0)
  expect(count("mix_check WHERE witness <> ''")).toBe(1)
  expect(count("container WHERE width_um IS NOT NULL AND amount_left > 0")).toBe(1)
})

test("a planned order runs short of the last of a paint", () => {
  const { lines, shortfalls } = forecast(demo())
  expect(lines.find((line) => line.cups > 0)).toMatchObject({ cups: 24, covered: 23, inTime: 24 })
  expect(shortfalls.map((short) => short.supply)).toEqual(["Lagoon mix"])
})

test("a draft order of forty runs short of several things that sellers with terms of their own can bring in time", () => {
  const studio = demo()
  const [draft] = ordersList(studio, ["draft"])
  expect(draft?.lines).toMatchObject([{ quantity: 40, design: "Sea glass" }])
  const { asked, adds } = whatIf(studio, draft!.lines)
  expect(asked[0]).toMatchObject({ limit: "supplies", cups: 40 })
  expect(asked[0]!.able).toBeGreaterThan(0)
  expect(adds.map((short) => short.supply)).toEqual(
    expect.arrayContaining([
      "Slim 20 oz blank",
      "Holo white",
      "Sliding lids",
      "Gift boxes",
      "Tumble Clear A",
    ]),
  )
  expect(adds.every((short) => short.buys.every((buy) => !buy.late))).toBe(true)
  expect(adds.find((short) => short.supply === "Sliding lids")?.substitutes).toMatchObject([
    { supply: "Flip lids", free: 30 },
  ])
  const many = [{ designId: draft!.lines[0]!.designId, quantity: 120, dueOn: "2027-06-30" }]
  const clear = whatIf(studio, many).adds.find((short) => short.supply === "Tumble Clear A")
  expect(clear?.substitutes.map((one) => one.supply)).toEqual(["Hard Gloss, mixed"])
  const all = sellers(studio)
  expect(all.some((seller) => seller.minimumMicro !== null)).toBe(true)
  expect(all.some((seller) => seller.freeFromMicro !== null && seller.shippingMicro > 0)).toBe(true)
  expect(packs(studio).some((pack) => pack.offers.some((offer) => offer.breaks.length > 0))).toBe(true)
})

test("its deliveries took now longer, now shorter than their sellers say, so lead times come from the record", () => {
  const points = reorderPoints(demo())
  const known = points.filter((point) => point.leadFrom === "record")
  expect(known.length).toBeGreaterThan(20)
  const spread = (point: (typeof points)[number]) =>
    point.working.inputs.find((input) => input.name === "spread of lead time")!.value
  expect(known.every((point) => spread(point) > 0)).toBe(true)
})

test("it is the same each time", () => {
  const dump = () =>
    JSON.stringify(demo().file.allText("SELECT container_id, amount, cost_micro FROM movement ORDER BY id"))
  expect(dump()).toBe(dump())
})
