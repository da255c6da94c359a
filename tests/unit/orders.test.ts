import { beforeEach, expect, test } from "vitest"
import { scrapCups, startBatch } from "../../server/batches/service.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import {
  addBuyer,
  addOrder,
  assignCups,
  changeOrder,
  cupsToAssign,
  freeCups,
  orderById,
  ordersList,
  sendCups,
  setOrderState,
} from "../../server/orders/service.ts"
import { finished, planningStudio, stock } from "../support/planning-fixtures.ts"
import { someone, type TestStudio, testStudio } from "../support/studio.ts"

let studio: TestStudio
let here: ReturnType<typeof planningStudio>
beforeEach(() => {
  studio = testStudio()
  here = planningStudio(studio)
  for (const [supply, amount] of [
    [here.ids.partA, 900_000],
    [here.ids.partB, 900_000],
    [here.ids.lid, 50],
    [here.ids.blank, 50],
  ] as const)
    stock(studio, supply, amount)
})

const order = (quantity: number, dueOn = "2026-12-20", state: "planned" | "draft" = "planned") =>
  addOrder(studio, someone(), {
    buyerId: null,
    state,
    note: "",
    lines: [{ designId: here.designId, quantity, dueOn, note: "" }],
  }).answer.orderId
const lineOf = (orderId: number) => orderById(studio, orderId).lines[0]!

test("orders stand by due date, and one without lines, without cups or in the past is refused", () => {
  const late = order(1, "2026-12-30")
  const soon = order(1, "2026-12-10")
  expect(ordersList(studio).map((one) => one.orderId)).toEqual([soon, late])
  const lines = [{ designId: here.designId, quantity: 1, dueOn: "2026-11-30", note: "" }]
  expect(() => addOrder(studio, someone(), { buyerId: null, state: "draft", note: "", lines })).toThrow(
    "has passed",
  )
  expect(() => addOrder(studio, someone(), { buyerId: null, state: "draft", note: "", lines: [] })).toThrow(
    "at least one line",
  )
  expect(() => order(0)).toThrow("at least 1")
  expect(() => order(1.5)).toThrow("whole number")
  expect(ordersList(studio)).toHaveLength(2)
})

test("finished cups are put on a line, sent, and each step is undone", () => {
  const orderId = order(3)
  const cups = finished(studio, here.versionId, 4)
  const { lineId } = lineOf(orderId)
  expect(() => assignCups(studio, someone(), { orderLineId: lineId, cupIds: cups })).toThrow(
    "room for 3 more",
  )
  const put = assignCups(studio, someone(), { orderLineId: lineId, cupIds: cups.slice(0, 3) })
  expect(lineOf(orderId)).toMatchObject({ ready: 3, sent: 0, toStart: 0 })
  const sent = sendCups(studio, someone(), cups.slice(0, 2))
  expect(lineOf(orderId)).toMatchObject({ ready: 1, sent: 2 })
  expect(() => freeCups(studio, someone(), cups.slice(0, 1))).toThrow("is sent")
  expect(() => reverse(studio, someone(), put.actionId)).not.toThrow()
  reverse(studio, someone(), sent.actionId)
  expect(lineOf(orderId)).toMatchObject({ ready: 0, sent: 0, toStart: 3 })
})

test("a cup is for one order only, of its own design, and unfinished or unassigned ones are not sent", () => {
  const [one, other] = [order(2), order(2)]
  const [cup] = finished(studio, here.versionId, 1)
  expect(() => sendCups(studio, someone(), [cup!])).toThrow("on an order first")
  assignCups(studio, someone(), { orderLineId: lineOf(one).lineId, cupIds: [cup!] })
  expect(() => assignCups(studio, someone(), { orderLineId: lineOf(other).lineId, cupIds: [cup!] })).toThrow(
    "for another order",
  )
  const inWork = startBatch(studio, someone(), {
    versionId: here.versionId,
    cups: 1,
    note: "",
    orderLineId: lineOf(other).lineId,
  }).answer.cups[0]!.id
  expect(lineOf(other)).toMatchObject({ inWork: 1, toStart: 1 })
  expect(() => sendCups(studio, someone(), [inWork])).toThrow("only finished cups")
  expect(() => sendCups(studio, someone(), [])).toThrow("Choose the cups")
  expect(() => sendCups(studio, someone(), [9999])).toThrow()
})

test("a scrapped cup no longer counts for its line, so one more is to be started", () => {
  const orderId = order(2)
  const { lineId } = lineOf(orderId)
  const batch = startBatch(studio, someone(), {
    versionId: here.versionId,
    cups: 2,
    note: "",
    orderLineId: lineId,
  }).answer
  scrapCups(studio, someone(), { batchId: batch.batchId, cupIds: [batch.cups[0]!.id] })
  expect(lineOf(orderId)).toMatchObject({ inWork: 1, toStart: 1 })
})

test("a line with cups stays; other lines change, come and go", () => {
  const orderId = order(3)
  const first = lineOf(orderId)
  const [cup] = finished(studio, here.versionId, 1)
  assignCups(studio, someone(), { orderLineId: first.lineId, cupIds: [cup!] })
  const more = { designId: here.designId, quantity: 5, dueOn: "2026-12-24", note: "blue" }
  expect(() => changeOrder(studio, someone(), orderId, { buyerId: null, note: "", lines: [more] })).toThrow(
    "has cups",
  )
  changeOrder(studio, someone(), orderId, {
    buyerId: null,
    note: "gift",
    lines: [more, { ...first, quantity: 4 }],
  })
  expect(orderById(studio, orderId)).toMatchObject({
    note: "gift",
    lines: [
      { quantity: 5, note: "blue" },
      { lineId: first.lineId, quantity: 4, ready: 1 },
    ],
  })
  changeOrder(studio, someone(), orderId, { buyerId: null, note: "", lines: [first] })
  expect(orderById(studio, orderId).lines).toHaveLength(1)
})

test("a due date that has passed meanwhile may stay, but not be set anew", () => {
  const orderId = order(3, "2026-12-05")
  const line = lineOf(orderId)
  studio.setNow("2026-12-10")
  changeOrder(studio, someone(), orderId, { buyerId: null, note: "late", lines: [line] })
  const sooner = { ...line, dueOn: "2026-12-09" }
  expect(() => changeOrder(studio, someone(), orderId, { buyerId: null, note: "", lines: [sooner] })).toThrow(
    "has passed",
  )
})

test("a closed order takes no cups and no changes until it is taken up again", () => {
  const orderId = order(1)
  const [cup] = finished(studio, here.versionId, 1)
  setOrderState(studio, someone(), orderId, "cancelled")
  const { lineId } = lineOf(orderId)
  expect(() => assignCups(studio, someone(), { orderLineId: lineId, cupIds: [cup!] })).toThrow("is cancelled")
  expect(() =>
    changeOrder(studio, someone(), orderId, { buyerId: null, note: "", lines: [lineOf(orderId)] }),
  ).toThrow("is cancelled")
  expect(() => setOrderState(studio, someone(), orderId, "done")).toThrow("cannot become")
  setOrderState(studio, someone(), orderId, "planned")
  assignCups(studio, someone(), { orderLineId: lineId, cupIds: [cup!] })
  expect(cupsToAssign(studio, lineOf(orderId)).on.map((one) => one.id)).toEqual([cup])
  expect(() => setOrderState(studio, someone(), 999, "done")).toThrow("no such order")
})

test("a buyer is one person however the name is written", () => {
  const id = addBuyer(studio, { name: "Tess" })
  const lines = [{ designId: here.designId, quantity: 1, dueOn: "2026-12-20", note: "" }]
  const input = { buyerId: null, buyerName: " tess ", state: "draft", note: "", lines } as const
  const { orderId } = addOrder(studio, someone(), input).answer
  expect(orderById(studio, orderId)).toMatchObject({ buyerId: id, buyer: "Tess" })
  expect(() => addBuyer(studio, { name: "TESS" })).toThrow("already")
})
