import { expect, test } from "vitest"
import type { Work } from "../../server/domain/work.ts"
import {
  A,
  ask,
  B,
  BLANK,
  bottle,
  LID,
  lid,
  lidOnly,
  line,
  plenty,
  SHOP,
  TODAY,
  twoCoats,
} from "./forecast-fixtures.ts"
import { plan as aPlan, layer, resinUse, supply, supplyUse, system } from "./plan-fixtures.ts"

test("needs fall on the day of use: due date less shipping, full cure and the layers' times", () => {
  const { needs, lines } = ask({
    lines: [line(1, "2026-12-20", 2, twoCoats())],
    shelf: plenty(),
    shippingDays: 3,
  })
  // ready by the 17th; the last coat two days before, the first one a day before that
  expect(needs.filter((need) => need.supplyId === A).map((need) => need.on)).toEqual([
    "2026-12-14",
    "2026-12-15",
  ])
  expect(needs.find((need) => need.supplyId === BLANK)?.on).toBe("2026-12-14")
  expect(lines[0]).toMatchObject({ cups: 2, covered: 2, startBy: "2026-12-14", late: false, stops: null })
})

test("a line that should have been begun already is begun today, and is late", () => {
  const { needs, lines, boundOn } = ask({
    lines: [line(1, "2026-12-03", 1, twoCoats())],
    shelf: plenty(),
  })
  expect(new Set(needs.map((need) => need.on))).toEqual(new Set([TODAY, "2026-12-02"]))
  expect(lines[0]).toMatchObject({ startBy: "2026-11-30", late: true, covered: 1, inTime: 0 })
  expect(lines[0]).toMatchObject({ readyOn: "2026-12-04", plannedOn: "2026-12-04" })
  expect(boundOn(1)).toBe("2026-12-04")
})

test("layers that are done do not count again", () => {
  const work = [{ plan: twoCoats(), cups: [{ layersDone: 1, count: 3 }] }]
  const { needs } = ask({ lines: [{ lineId: 1, dueOn: "2026-12-20", work }], shelf: plenty() })
  expect(needs.some((need) => need.supplyId === BLANK)).toBe(false)
  expect(new Set(needs.map((need) => need.on))).toEqual(new Set(["2026-12-18"]))
})

test("what is used once a batch is not needed again when other cups of the batch have had the layer", () => {
  const gloves = supplyUse({ how: "per-batch", amount: 2, supply: supply(LID, { baseUnit: "each" }) })
  const towels = supplyUse({ how: "per-session", amount: 3, supply: supply(8, { baseUnit: "each" }) })
  const made = aPlan([layer(1, [gloves, towels])])
  const needed = (work: Work) =>
    ask({ loose: [work], shelf: plenty() })
      .needs.filter((need) => need.supplyId !== BLANK)
      .map((need) => [need.supplyId, need.amount])
  const twoLeft = { plan: made, cups: [{ layersDone: 0, count: 2 }] }
  expect(needed(twoLeft)).toEqual([
    [LID, 2],
    [8, 3],
  ])
  expect(needed({ ...twoLeft, begun: 1 })).toEqual([[8, 3]])
  expect(needed({ plan: made, cups: [...twoLeft.cups, { layersDone: 1, count: 1 }] })).toEqual([[8, 3]])
})

test("cups that are all done but not yet called finished need nothing", () => {
  const work = [{ plan: twoCoats(), cups: [{ layersDone: 2, count: 3 }] }]
  const { needs, lines } = ask({ lines: [{ lineId: 1, dueOn: "2026-12-20", work }] })
  expect(needs).toEqual([])
  expect(lines[0]).toMatchObject({ cups: 3, covered: 3, startBy: null })
})

test("a batch under way that belongs to no order takes its remaining layers today, before the orders", () => {
  const { lines, shortfalls } = ask({
    loose: [{ plan: lidOnly(), cups: [{ layersDone: 0, count: 4 }] }],
    lines: [line(1, TODAY, 4)],
    shelf: [bottle(LID, 6), bottle(BLANK, 100)],
  })
  expect(lines[0]).toMatchObject({ covered: 2, stops: { supplyId: LID, on: TODAY } })
  expect(shortfalls).toEqual([
    {
      supplyId: LID,
      firstOn: TODAY,
      missing: 2,
      days: [{ on: TODAY, missing: 2 }],
      lineIds: [1],
      loose: false,
      steady: false,
    },
  ])
})

test("enough for 31 of 40: the largest number whose every layer is covered", () => {
  const { lines, shortfalls } = ask({
    lines: [line(1, "2026-12-20", 40)],
    shelf: [bottle(LID, 31), bottle(BLANK, 40)],
  })
  expect(lines[0]).toMatchObject({ cups: 40, covered: 31, stops: { supplyId: LID, on: "2026-12-20" } })
  expect(shortfalls[0]).toMatchObject({ supplyId: LID, missing: 9 })
})

test("what stops a line is what the next cup lacks, not what all the cups together would lack first", () => {
  const { lines, shortfalls } = ask({
    lines: [line(1, "2026-12-20", 40, twoCoats())],
    shelf: [bottle(BLANK, 25), bottle(LID, 21), bottle(A, 9_000_000), bottle(B, 9_000_000)],
  })
  expect(shortfalls[0]).toMatchObject({ supplyId: BLANK, firstOn: "2026-12-17", missing: 15 })
  expect(lines[0]).toMatchObject({ covered: 21, stops: { supplyId: LID, on: "2026-12-18" } })
})

test("what the first coat would take for all cups is left for the second when fewer are made", () => {
  // 50 mL a cup in two coats of 25 mL: for 4 cups the first coat alone takes all there is
  const mixes = aPlan(
    [1, 2].map((position) =>
      layer(position, [resinUse({ residueUl: 0, dripPpm: 0 })], { recoatEarliestMin: 1440 }),
    ),
  )
  const { lines } = ask({
    lines: [line(1, "2026-12-20", 4, mixes)],
    shelf: [bottle(A, 50_000), bottle(B, 1_000_000), bottle(BLANK, 9)],
  })
  expect(lines[0]).toMatchObject({ covered: 2, stops: { supplyId: A, on: "2026-12-17" } })
})

test("orders are served by due date, then by number; the earlier one keeps what it needs", () => {
  const { lines } = ask({
    lines: [line(3, "2026-12-10", 5), line(2, "2026-12-10", 5), line(1, "2026-12-24", 5)],
    shelf: [bottle(LID, 8), bottle(BLANK, 99)],
  })
  expect(lines.map(({ lineId, covered }) => [lineId, covered])).toEqual([
    [2, 5],
    [3, 3],
    [1, 0],
  ])
})

test("a lot serves up to its use-by day and not a day longer", () => {
  const shelf = [bottle(LID, 5, { useBy: "2026-12-10" }), bottle(BLANK, 99)]
  expect(ask({ lines: [line(1, "2026-12-10", 5)], shelf }).lines[0]).toMatchObject({ covered: 5 })
  expect(ask({ lines: [line(1, "2026-12-11", 5)], shelf }).lines[0]).toMatchObject({ covered: 0 })
})

test("a bottle opened for the first order is past its opened life for one much later", () => {
  const shelf = [bottle(LID, 10, { openLife: { unit: "days", value: 5 } }), bottle(BLANK, 99)]
  const { lines } = ask({ lines: [line(1, "2026-12-10", 5), line(2, "2026-12-16", 5)], shelf })
  expect(lines.map((one) => one.covered)).toEqual([5, 0])
})

test("fewer cups count as covered only where what they leave is still good on the later day", () => {
  // the carton is opened for the first layer on the 9th and good until the 10th; the second layer is on the 12th
  const lids = (position: number) =>
    layer(position, [supplyUse({ supply: supply(LID, { baseUnit: "each" }) })], {
      handsOnMin: 0,
      turnerMin: 0,
      recoatEarliestMin: 3 * 1440,
    })
  const { lines } = ask({
    lines: [line(1, "2026-12-12", 6, aPlan([lids(1), lids(2)], { fullCureMin: 0 }))],
    shelf: [bottle(LID, 10, { openLife: { unit: "days", value: 1 } }), bottle(BLANK, 99)],
  })
  expect(lines[0]).toMatchObject({ covered: 0 })
})

test("what is held is not counted on", () => {
  const { lines } = ask({
    lines: [line(1, TODAY, 5)],
    shelf: [bottle(LID, 5, { held: true }), bottle(BLANK, 99)],
  })
  expect(lines[0]).toMatchObject({ covered: 0 })
})

test("what is expected joins the shelf on its day", () => {
  const arrivals = [{ on: "2026-12-10", container: bottle(LID, 5) }]
  const shelf = [bottle(BLANK, 99)]
  expect(ask({ lines: [line(1, "2026-12-09", 5)], shelf, arrivals }).lines[0]).toMatchObject({ covered: 0 })
  expect(ask({ lines: [line(1, "2026-12-10", 5)], shelf, arrivals }).lines[0]).toMatchObject({ covered: 5 })
})

test("a design that cannot be worked out says so on its line and leaves the others alone", () => {
  const heavy = resinUse({
    system: system({ ratioBasis: "mass", partA: supply(A, { kind: "resin" }) }),
  })
  const { lines, needs } = ask({
    lines: [line(1, "2026-12-20", 5, aPlan([layer(1, [heavy])])), line(2, "2026-12-20", 2)],
    shelf: plenty(),
  })
  expect(lines[0]).toMatchObject({ covered: 0, problem: expect.stringContaining("density") })
  expect(lines[1]).toMatchObject({ covered: 2, problem: null })
  expect(needs.reduce((sum, need) => sum + need.amount, 0)).toBe(4)
})

test("too few turner places: as many as can turn by then are in time, and the day on which all can be ready is told", () => {
  const due = [line(1, "2026-12-05", 10, twoCoats())]
  // two coats a day apart, 8 hours on the turner each, then two days of cure: two places take 10 cups in 5 goes
  const { lines, steps } = ask({ lines: due, shelf: plenty(), shop: { ...SHOP, turnerPlaces: 2 } })
  expect(lines[0]).toMatchObject({ cups: 10, covered: 10, inTime: 6, late: true })
  expect(steps).toHaveLength(10)
  const enough = ask({ lines: due, shelf: plenty(), shop: { ...SHOP, turnerPlaces: 10 } }).lines[0]
  expect(enough).toMatchObject({ inTime: 10, late: false, readyOn: "2026-12-04", plannedOn: "2026-12-05" })
  const none = ask({ lines: due, shelf: plenty(), shop: { ...SHOP, turnerPlaces: 0 } }).lines[0]
  expect(none).toMatchObject({ unplanned: true, readyOn: null, covered: 10 })
})

test("an order is begun as late as it is ready the days to spare before it must leave; asked, its latest start", () => {
  const input = { lines: [line(1, "2026-12-20", 2, twoCoats())], shelf: plenty(), shippingDays: 2 }
  const { steps, lines, latestStart } = ask({ ...input, spareDays: 3 })
  expect(lines[0]).toMatchObject({ readyOn: "2026-12-04", plannedOn: "2026-12-15" })
  expect(steps.map((step) => step.on)).toEqual(["2026-12-12", "2026-12-13"])
  expect(latestStart(1)).toBe("2026-12-15")
})

test("where waiting would make a later order late, none waits that is due before it", () => {
  // one place: 30 hours of turning a cup; the second order needs the place all the time until it is due
  const shop = { ...SHOP, turnerPlaces: 1 }
  const slow = aPlan([layer(1, [], { handsOnMin: 0, turnerMin: 1440, recoatEarliestMin: 0 })], {
    fullCureMin: 0,
  })
  const { lines } = ask({
    lines: [line(1, "2026-12-05", 2, slow), line(2, "2026-12-06", 3, slow)],
    shelf: plenty(),
    shop,
  })
  expect(lines.map((one) => one.inTime)).toEqual([2, 3])
})

test("an order due sooner does not wait while one that is due later takes what both need", () => {
  // forty cups are begun early since they take long; five that are due before them could wait
  const slow = aPlan([layer(1, [lid()], { handsOnMin: 0, turnerMin: 1440, recoatEarliestMin: 0 })], {
    fullCureMin: 0,
  })
  const { lines } = ask({
    lines: [line(1, "2026-12-19", 5, slow), line(2, "2026-12-26", 40, slow)],
    shelf: [bottle(LID, 20), bottle(BLANK, 99)],
    shop: { ...SHOP, turnerPlaces: 2 },
  })
  expect(lines.map((one) => [one.covered, one.late])).toEqual([
    [5, false],
    [15, false],
  ])
})

test("cups under way keep to what their last coat allows, and turn no one else's cups meanwhile", () => {
  const work = [
    { plan: twoCoats(), cups: [{ layersDone: 1, count: 2, coated: { firstMin: -60, lastMin: 0 } }] },
  ]
  const { steps } = ask({
    lines: [{ lineId: 1, dueOn: "2026-12-20", work }, line(2, "2026-12-20", 2, twoCoats())],
    shelf: plenty(),
    shop: { ...SHOP, turnerPlaces: 2 },
    spareDays: 60,
  })
  expect(steps.filter((step) => step.lineId === 1)).toMatchObject([{ position: 2, startMin: 1440 }])
  // the turner is full until 8 o'clock
  expect(steps.find((step) => step.lineId === 2)).toMatchObject({ position: 1, startMin: 480 })
})

test("cups started in place of those that will be scrapped need supplies too, but nothing is promised of them", () => {
  const spare = { ...line(1, "2026-12-20", 10), spareCups: 2 }
  const { lines, shortfalls, needs } = ask({ lines: [spare], shelf: [bottle(LID, 10), bottle(BLANK, 99)] })
  expect(lines[0]).toMatchObject({ cups: 10, covered: 10, stops: null })
  expect(shortfalls).toMatchObject([{ supplyId: LID, missing: 2, lineIds: [1] }])
  expect(needs.find((need) => need.supplyId === LID)?.amount).toBe(12)
})

test("what is used whether or not an order is made is needed every week as far as anything is planned", () => {
  const { needs, shortfalls } = ask({
    lines: [line(1, "2027-01-06", 1)],
    shelf: [bottle(LID, 10), bottle(BLANK, 9)],
    steady: [{ supplyId: LID, perWeek: 4 }],
  })
  const lids = needs.filter((need) => need.supplyId === LID)
  expect(lids.map((need) => [need.on, need.amount])).toEqual([
    ["2026-12-01", 4],
    ["2026-12-08", 4],
    ["2026-12-15", 4],
    ["2026-12-22", 4],
    ["2026-12-29", 4],
    ["2027-01-05", 4],
    ["2027-01-06", 1],
  ])
  expect(shortfalls).toMatchObject([{ firstOn: "2026-12-15", missing: 15, steady: true, loose: false }])
})
