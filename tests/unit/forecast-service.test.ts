import { beforeEach, expect, test } from "vitest"
import { coatLayer, finishBatch, startBatch } from "../../server/batches/service.ts"
import { forecast, whatIf } from "../../server/forecast/service.ts"
import { addOrder, assignCups, orderById, sendCups, setOrderState } from "../../server/orders/service.ts"
import {
  cancelPurchase,
  openPurchases,
  orderPacks,
  type PurchaseInput,
  shoppingList,
} from "../../server/purchasing/service.ts"
import { receive, startDelivery } from "../../server/receiving/service.ts"
import { changeSupply, supplyById } from "../../server/supplies/service.ts"
import { finished, planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { someone, type TestStudio, TODAY, testStudio } from "../support/studio.ts"

let studio: TestStudio
let here: ReturnType<typeof planningStudio>
beforeEach(() => {
  studio = testStudio({ shippingDays: 2, ...ROOMY })
  here = planningStudio(studio)
})

const plan = (quantity: number, dueOn = "2026-12-20", state: "planned" | "draft" = "planned") => {
  const lines = [{ designId: here.designId, quantity, dueOn, note: "" }]
  const { orderId } = addOrder(studio, someone(), { buyerId: null, state, note: "", lines }).answer
  return orderById(studio, orderId).lines[0]!
}
const buy = (input: PurchaseInput) => orderPacks(studio, someone(), input).answer.purchaseId
const shelfFor = (cups: number, lids = cups) => {
  stock(studio, here.ids.partA, cups * 10_000)
  stock(studio, here.ids.partB, cups * 10_000)
  stock(studio, here.ids.blank, cups)
  if (lids > 0) stock(studio, here.ids.lid, lids)
}
const outlook = () => forecast(studio).lines[0]!

test("enough for 31 of 40: lids stop it on their day, and the packs to buy cover the rest", () => {
  plan(40)
  shelfFor(42, 31)
  const answer = forecast(studio)
  // ready on the 18th by closing time, full cure of three days after the lids are on
  expect(answer.lines[0]).toMatchObject({
    cups: 40,
    covered: 31,
    stops: { supplyId: here.ids.lid, on: "2026-12-15" },
    able: 31,
    limit: "supplies",
    inTime: 40,
    plannedOn: "2026-12-18",
    readyOn: "2026-12-07",
  })
  expect(answer.shortfalls).toMatchObject([
    {
      supplyId: here.ids.lid,
      firstOn: "2026-12-15",
      // nine, and two for cups that may be scrapped
      missing: 11,
      buys: [{ count: 1, seller: "Far away", orderBy: "2026-12-05", late: false, costMicro: 6_000_000 }],
    },
  ])
})

test("what comes too late from everybody costs least, and who could bring it sooner is told", () => {
  // begun today, the lids go on tomorrow: nobody delivers by then
  plan(12, "2026-12-05")
  shelfFor(14, 0)
  const [lids] = forecast(studio).shortfalls
  expect(lids).toMatchObject({ supplyId: here.ids.lid, firstOn: "2026-12-02" })
  expect(lids?.buys).toMatchObject([
    {
      seller: "Far away",
      late: true,
      hereOn: "2026-12-11",
      sooner: { seller: "Near & Co", count: 2, costMicro: 18_000_000, hereOn: "2026-12-03" },
    },
  ])
})

test("what is ordered and comes late is not bought a second time, only what it leaves missing", () => {
  plan(12, "2026-12-05")
  shelfFor(14, 0)
  const lidsToBuy = () =>
    shoppingList(studio).sellers.flatMap(({ lines }) =>
      lines.filter(({ supplyIds }) => supplyIds.includes(here.ids.lid)),
    )
  expect(lidsToBuy()).toMatchObject([{ count: 2, seller: "Far away" }])

  // two days from Near & Co: nobody could bring lids any sooner
  const order = { sellerId: here.near, packId: here.packs.lids, count: 1, orderedOn: TODAY }
  const first = buy({ ...order, expectedOn: "2026-12-03" })
  const [rest] = forecast(studio).shortfalls
  // twelve and one for a cup that may be scrapped; a bag holds twelve
  expect(rest).toMatchObject({ missing: 13, onItsWay: { amount: 12, on: "2026-12-03" }, toBuy: 1 })
  expect(lidsToBuy()).toMatchObject([{ count: 1, reasons: [{ missing: 1 }] }])

  buy({ ...order, expectedOn: "2026-12-03" })
  const [none] = forecast(studio).shortfalls
  expect(none).toMatchObject({ firstOn: "2026-12-02", missing: 13, toBuy: 0, buys: [] })
  expect(lidsToBuy()).toEqual([])

  cancelPurchase(studio, someone(), first)
  expect(lidsToBuy()).toMatchObject([{ count: 1, reasons: [{ missing: 1 }] }])
})

test("an order that takes what is on its way for another adds what has to be bought then", () => {
  plan(12, "2026-12-05")
  shelfFor(60, 0)
  const order = { sellerId: here.near, packId: here.packs.lids, count: 2, orderedOn: TODAY }
  buy({ ...order, expectedOn: "2026-12-03" })
  const {
    without,
    with: withIt,
    adds,
  } = whatIf(studio, [{ designId: here.designId, quantity: 20, dueOn: "2026-12-20" }])
  const lids = (answer: typeof without) =>
    answer.shortfalls.find(({ supplyId }) => supplyId === here.ids.lid)!
  expect(lids(without)).toMatchObject({ missing: 13, toBuy: 0 })
  // of the 24 that come it takes 20 and one in case of scrap; three are left for the 13
  expect(lids(withIt)).toMatchObject({ missing: 13, toBuy: 10 })
  expect(adds).toMatchObject([{ supplyId: here.ids.lid, missing: 10 }])
})

test("what is ordered and comes later than others could bring it is no reason not to buy", () => {
  plan(12, "2026-12-05")
  shelfFor(14, 0)
  const order = { sellerId: here.far, packId: here.packs.lids, count: 2, orderedOn: TODAY }
  buy({ ...order, expectedOn: "2026-12-11" })
  expect(forecast(studio).shortfalls).toMatchObject([
    { missing: 13, onItsWay: null, toBuy: 13, buys: [{ sooner: { hereOn: "2026-12-03" } }] },
  ])
})

test("cups made or under way reduce the needs exactly once, whatever becomes of them", () => {
  const line = plan(10)
  shelfFor(30)
  const lidsNeeded = () => {
    const all = forecast(studio)
    const cups = all.lines[0]?.cups ?? 0
    return { cups, covered: all.lines[0]?.covered ?? 0 }
  }
  expect(lidsNeeded()).toEqual({ cups: 10, covered: 10 })
  const input = { versionId: here.versionId, cups: 4, note: "", orderLineId: line.lineId }
  const { batchId, cups } = startBatch(studio, someone(), input).answer
  expect(lidsNeeded().cups).toBe(10)
  coatLayer(studio, someone(), { batchId, position: 1 })
  expect(lidsNeeded().cups).toBe(10)
  finishBatch(studio, someone(), { batchId, exceptions: [] })
  expect(lidsNeeded().cups).toBe(6)
  sendCups(
    studio,
    someone(),
    cups.map((cup) => cup.id),
  )
  expect(lidsNeeded().cups).toBe(6)
  const made = finished(studio, here.versionId, 2)
  expect(lidsNeeded().cups).toBe(6)
  assignCups(studio, someone(), { orderLineId: line.lineId, cupIds: made })
  expect(lidsNeeded().cups).toBe(4)
})

test("layers that are done take nothing again: a coated batch only lacks its lids", () => {
  const line = plan(4)
  shelfFor(4, 0)
  const input = { versionId: here.versionId, cups: 4, note: "", orderLineId: line.lineId }
  const { batchId } = startBatch(studio, someone(), input).answer
  coatLayer(studio, someone(), { batchId, position: 1 })
  expect(forecast(studio).shortfalls).toMatchObject([{ supplyId: here.ids.lid, missing: 4 }])
})

test("a batch that belongs to no order uses supplies before the orders do", () => {
  plan(5)
  shelfFor(8)
  startBatch(studio, someone(), { versionId: here.versionId, cups: 5, note: "" })
  expect(outlook()).toMatchObject({ cups: 5, covered: 3 })
})

test("a draft is only a question: it does not count until it is planned", () => {
  shelfFor(5)
  const line = plan(9, "2026-12-20", "draft")
  expect(forecast(studio).lines).toEqual([])
  const orderId = studio.file.firstText<{ order_id: number }>(
    "SELECT order_id FROM order_line WHERE id = ?",
    [line.lineId],
  )!.order_id
  setOrderState(studio, someone(), orderId, "planned")
  expect(outlook()).toMatchObject({ cups: 9, covered: 5 })
})

test("what if: the answer with and without, what it alone adds, and nothing is kept", () => {
  shelfFor(12)
  plan(8, "2026-12-20")
  const answer = whatIf(studio, [{ designId: here.designId, quantity: 10, dueOn: "2026-12-18" }])
  expect(answer.without.shortfalls).toEqual([])
  // due earlier, so it is served first and the planned order is left with the rest
  expect(answer.asked).toMatchObject([{ orderId: null, cups: 10, covered: 10 }])
  // 10 and one more in case, so one is left of 12
  expect(answer.takesFrom).toMatchObject([{ fewer: 7, line: { cups: 8, covered: 1 } }])
  expect(answer.adds.find((short) => short.supplyId === here.ids.lid)).toMatchObject({ missing: 7 })
  expect(answer.costMicro).toBeGreaterThan(0)
  expect(forecast(studio).lines).toHaveLength(1)
})

test("what if: an order that takes only hours from a planned one is told as what that loses", () => {
  shelfFor(200)
  // 36 alone are ready by the 10th, 38 more that are due before them leave no hours for all
  plan(36, "2026-12-10")
  expect(outlook()).toMatchObject({ able: 36, limit: null })
  const { takesFrom, adds } = whatIf(studio, [{ designId: here.designId, quantity: 38, dueOn: "2026-12-09" }])
  expect(adds).toEqual([])
  expect(takesFrom).toMatchObject([{ line: { cups: 36, covered: 36, limit: "time" } }])
  expect(takesFrom[0]!.fewer).toBe(36 - takesFrom[0]!.line.able)
})

test("what is ordered counts from the day it is expected, and no more when it is called off", () => {
  shelfFor(40, 31)
  plan(40)
  const order = { sellerId: here.near, packId: here.packs.lids, count: 1, orderedOn: TODAY }
  const late = buy({ ...order, expectedOn: "2026-12-16" })
  expect(outlook().covered).toBe(31)
  cancelPurchase(studio, someone(), late)
  const inTime = buy({ ...order, expectedOn: "2026-12-15" })
  expect(outlook().covered).toBe(40)
  expect(openPurchases(studio)).toMatchObject([{ purchaseId: inTime, awaited: 1, pack: "Lids, bag of 12" }])
  cancelPurchase(studio, someone(), inTime)
  expect(outlook().covered).toBe(31)
  expect(() => cancelPurchase(studio, someone(), inTime)).toThrow("not open any more")
})

test("what was expected by today and has not come cannot be used today", () => {
  stock(studio, here.ids.blank, 3)
  stock(studio, here.ids.lid, 3)
  plan(3, TODAY)
  buy({
    sellerId: here.near,
    packId: here.packs.kit,
    count: 1,
    orderedOn: TODAY,
    expectedOn: TODAY,
  })
  expect(outlook()).toMatchObject({ covered: 0 })
})

test("what arrives is received against what was ordered and counts once", () => {
  shelfFor(20, 0)
  plan(20)
  buy({
    sellerId: here.near,
    packId: here.packs.lids,
    count: 2,
    orderedOn: TODAY,
    expectedOn: "2026-12-05",
  })
  expect(outlook().covered).toBe(20)
  const begun = { sellerId: here.near, receivedOn: TODAY, note: "" }
  const { deliveryId } = startDelivery(studio, someone(), begun).answer
  receive(studio, someone(), {
    deliveryId,
    packId: here.packs.lids,
    count: 1,
    priceMicro: 9_000_000,
    lots: [{ supplyId: here.ids.lid, number: null, madeOn: null, expiresOn: null }],
  })
  expect(openPurchases(studio)).toMatchObject([{ awaited: 1 }])
  expect(outlook().covered).toBe(20)
})

test("the shopping list: whole packs by seller for what runs short and what is below its minimum", () => {
  changeSupply(studio, here.ids.lid, { ...supplyById(studio, here.ids.lid), minimumAmount: 30 })
  shelfFor(10, 0)
  plan(20, "2026-12-28")
  const list = shoppingList(studio)
  // lids are short by 21, one in case, and 30 are to be left when all is made: they are on the list once, for both
  expect(
    list.sellers.map(({ seller, lines }) => [seller, lines.map((line) => [line.pack, line.count])]),
  ).toEqual([
    ["Far away", [["Lids, bag of 12", 5]]],
    ["Near & Co", [["Clear kit", 1]]],
  ])
  expect(list.sellers[1]?.lines[0]?.reasons.map((reason) => reason.supply)).toEqual(["Clear A", "Clear B"])
  expect(list.nobodySells).toMatchObject([{ supply: "Slim blank", amount: 11 }])
  for (const { sellerId, lines } of list.sellers) {
    for (const { packId, count } of lines) {
      buy({ sellerId, packId, count, orderedOn: TODAY, expectedOn: "2026-12-05" })
    }
  }
  expect(shoppingList(studio).sellers).toEqual([])
})

test("the list looks so many days ahead, and as long after them as a delivery takes", () => {
  shelfFor(60, 5)
  plan(10, "2026-12-20")
  plan(10, "2027-02-20")
  const lids = (horizon: number | null) => {
    const list = shoppingList(studio, horizon)
    const own = list.sellers
      .flatMap((seller) => seller.lines)
      .find(({ packId }) => packId === here.packs.lids)
    return [own?.reasons[0]?.missing ?? 0, own?.neededOn ?? null, list.later]
  }
  // ten and one in case each, and five are there: the first order's fall on 15 Dec, the second's on 15 Feb
  expect(lids(null)).toEqual([17, "2026-12-15", []])
  expect(lids(30)).toEqual([6, "2026-12-15", []])
  // the slower seller takes ten days: what is needed on 15 Dec must be ordered by the 5th
  expect(lids(4)).toEqual([6, "2026-12-15", []])
  expect(lids(3)).toEqual([0, null, ["Lids <b>wide</b>"]])
  expect(lids(66)).toEqual([17, "2026-12-15", []])
  expect(lids(65)).toEqual([6, "2026-12-15", []])
  changeSupply(studio, here.ids.lid, { ...supplyById(studio, here.ids.lid), leadTimeDays: 1 })
  expect(lids(12)).toEqual([0, null, ["Lids <b>wide</b>"]])
  expect(lids(13)).toEqual([6, "2026-12-15", []])
})

test("a minimum is looked at over the same days: what is needed later does not count against it yet", () => {
  changeSupply(studio, here.ids.lid, { ...supplyById(studio, here.ids.lid), minimumAmount: 5 })
  shelfFor(60, 12)
  plan(10, "2027-02-20")
  const counts = (horizon: number | null) =>
    shoppingList(studio, horizon).sellers.flatMap(({ lines }) =>
      lines.map((line) => line.reasons[0]?.belowMinimum),
    )
  expect(counts(30)).toEqual([])
  // twelve less eleven leave one
  expect(counts(null)).toEqual([4])
})

test("low but not short: bought up to the minimum, what is coming taken off", () => {
  changeSupply(studio, here.ids.lid, { ...supplyById(studio, here.ids.lid), minimumAmount: 30 })
  shelfFor(10, 10)
  expect(shoppingList(studio).sellers[0]?.lines).toMatchObject([
    { count: 2, late: false, orderBy: null, reasons: [{ amount: 20, neededOn: null }] },
  ])
  buy({
    sellerId: here.near,
    packId: here.packs.lids,
    count: 1,
    orderedOn: TODAY,
    expectedOn: "2026-12-05",
  })
  expect(shoppingList(studio).sellers[0]?.lines).toMatchObject([{ count: 1, reasons: [{ amount: 8 }] }])
})

test("odd purchases are refused", () => {
  const order = {
    sellerId: here.near,
    packId: here.packs.lids,
    count: 1,
    orderedOn: TODAY,
    expectedOn: TODAY,
  }
  expect(() => buy({ ...order, count: 0 })).toThrow("at least 1")
  expect(() => buy({ ...order, expectedOn: "2026-11-30" })).toThrow("before it is ordered")
  expect(() => buy({ ...order, packId: 999 })).toThrow("Choose the pack")
  expect(() => buy({ ...order, sellerId: 999 })).toThrow("who it is ordered from")
  expect(openPurchases(studio)).toEqual([])
})

test("where the forecast says enough for cups used today, finishing them succeeds; one more is short", () => {
  shelfFor(7, 5)
  stock(studio, here.ids.lid, 2, "2026-11-30")
  plan(9, TODAY)
  const { covered } = outlook()
  expect(covered).toBe(5)
  const tooMany = startBatch(studio, someone(), { versionId: here.versionId, cups: covered + 1, note: "" })
  expect(() => finishBatch(studio, someone(), { batchId: tooMany.answer.batchId, exceptions: [] })).toThrow(
    /missing/,
  )
  const enough = startBatch(studio, someone(), { versionId: here.versionId, cups: covered, note: "" })
  expect(finishBatch(studio, someone(), { batchId: enough.answer.batchId, exceptions: [] }).answer.good).toBe(
    5,
  )
})

test("what goes off within 30 days and is in no plan is named, without what the plan takes of it", () => {
  shelfFor(40, 31)
  stock(studio, here.ids.lid, 20, "2026-12-22")
  plan(5)
  expect(forecast(studio).unused).toMatchObject([
    { supply: "Lids <b>wide</b>", amount: 15, useBy: "2026-12-22" },
  ])
})
