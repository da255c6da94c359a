import { beforeEach, expect, test } from "vitest"
import { reverse } from "../../server/ledger/reverse.ts"
import { closeDelivery, receive, reopenDelivery } from "../../server/receiving/service.ts"
import { countContainer, writeOff } from "../../server/shelf/service.ts"
import { packById } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { bottleWithCode, deliveryFrom } from "../support/receiving-fixtures.ts"
import { someone, type TestStudio, testStudio } from "../support/studio.ts"

let studio: TestStudio
let deliveryId: number

beforeEach(() => {
  studio = testStudio()
  deliveryId = deliveryFrom(studio, "Harbour Supply").deliveryId
})

/** Takes so many in at a price, in micro. @returns their codes */
function takeIn(name: string, count: number, priceMicro: number): string[] {
  const packId = bottleWithCode(studio, name, [])
  const { supplyId } = packById(studio, packId).contents[0]!
  const lots = [{ supplyId, number: "L-1", madeOn: null, expiresOn: null }]
  const done = receive(studio, someone(), { deliveryId, packId, count, priceMicro, lots })
  return done.answer.containers.map((one) => one.code)
}

const costs = () =>
  studio.file
    .allText<{ cost: number }>("SELECT cost_left_micro AS cost FROM container ORDER BY id")
    .map((row) => row.cost)
const well = () => expect(verify(studio.file)).toEqual([])
const finish = (shippingMicro: number, taxMicro: number) =>
  closeDelivery(studio, someone(), deliveryId, { shippingMicro, taxMicro })

test("shipping and tax are shared out by value, and the parts add up to the millionth", () => {
  takeIn("Teal", 2, 3_000_000)
  takeIn("Mint", 1, 1_000_001)
  finish(7_000_000, 3)
  const [a = 0, b = 0, c = 0] = costs()
  expect(a + b + c).toBe(2 * 3_000_000 + 1_000_001 + 7_000_003)
  // by hand: 7 000 003 × 3 000 000 ÷ 7 000 001 = 3 000 000.86 each, 7 000 003 × 1 000 001 ÷ 7 000 001 = 1 000 001.29
  expect([a, b, c].map((cost, index) => cost - [3_000_000, 3_000_000, 1_000_001][index]!)).toEqual([
    3_000_001, 3_000_001, 1_000_001,
  ])
  well()
})

test("what cost nothing shares evenly, since it has no value to go by", () => {
  takeIn("Sample", 3, 0)
  finish(1_000_000, 0)
  expect(costs()).toEqual([333_334, 333_333, 333_333])
  well()
})

test("a bottle used before gets its part for what is left of it; what was taken stays as it was written", () => {
  const [code = ""] = takeIn("Teal", 1, 4_000_000)
  writeOff(studio, someone(), { code, amount: 100_000, kind: "waste", reason: "" })
  finish(2_000_000, 0)
  // 400 mL for 4.00, 100 mL spilled with 1.00; of 2.00 shipping three quarters go onto the 300 mL left
  expect(costs()).toEqual([3_000_000 + 1_500_000])
  well()
})

test("an empty bottle keeps its part on record and carries none of it", () => {
  const [code = ""] = takeIn("Teal", 1, 4_000_000)
  countContainer(studio, someone(), { code, amount: 0, basis: "counted" })
  finish(2_000_000, 0)
  expect(costs()).toEqual([0])
  expect(studio.file.allText("SELECT share_micro, kept_micro FROM container_cost")).toEqual([
    { share_micro: 2_000_000, kept_micro: 0 },
  ])
  well()
})

test("opened again, the parts are taken back; finished again, they are shared anew over what is there then", () => {
  takeIn("Teal", 1, 4_000_000)
  finish(2_000_000, 0)
  reopenDelivery(studio, someone(), deliveryId)
  expect(costs()).toEqual([4_000_000])
  well()
  takeIn("Mint", 1, 4_000_000)
  finish(3_000_000, 0)
  expect(costs()).toEqual([5_500_000, 5_500_000])
  well()
})

test("finishing is undone with its parts, opening again too", () => {
  takeIn("Teal", 1, 4_000_000)
  const finished = finish(2_000_000, 500_000)
  reverse(studio, someone(), finished.actionId)
  expect(costs()).toEqual([4_000_000])
  well()
  finish(2_000_000, 0)
  const opened = reopenDelivery(studio, someone(), deliveryId)
  reverse(studio, someone(), opened.actionId)
  expect(costs()).toEqual([6_000_000])
  well()
})

test("what was used up with its part between finish and undo is not taken back a second time", () => {
  const [code = ""] = takeIn("Teal", 1, 4_000_000)
  const finished = finish(2_000_000, 0)
  writeOff(studio, someone(), { code, amount: 300_000, kind: "waste", reason: "" })
  reverse(studio, someone(), finished.actionId)
  well()
  // 100 of 400 mL are left with a quarter of 4.00; a quarter of the new part goes onto them, and off again
  expect(costs()).toEqual([1_000_000])
  finish(1_000_000, 0)
  expect(costs()).toEqual([1_250_000])
  reopenDelivery(studio, someone(), deliveryId)
  expect(costs()).toEqual([1_000_000])
  well()
})

test("a line of a finished delivery is undone only once the delivery is open again", () => {
  takeIn("Teal", 1, 4_000_000)
  const mint = bottleWithCode(studio, "Mint", [])
  const { supplyId } = packById(studio, mint).contents[0]!
  const lots = [{ supplyId, number: null, madeOn: null, expiresOn: null }]
  const line = receive(studio, someone(), { deliveryId, packId: mint, count: 1, priceMicro: 1_000_000, lots })
  finish(2_000_000, 0)
  expect(() => reverse(studio, someone(), line.actionId)).toThrow(
    /costs of its delivery were shared out over it.*Finished the delivery/,
  )
  reopenDelivery(studio, someone(), deliveryId)
  reverse(studio, someone(), line.actionId)
  finish(2_000_000, 0)
  expect(costs()).toEqual([6_000_000, 0])
  well()
})

test("costs of a delivery that brought nothing are refused", () => {
  expect(() => finish(1, 0)).toThrow(/Nothing was taken in/)
  finish(0, 0)
  well()
})

test.each([
  "UPDATE container SET cost_left_micro = cost_left_micro + 1, last_cost_id = last_cost_id + 1",
  "UPDATE container_cost SET share_micro = 1",
  "DELETE FROM container_cost",
])("the file itself refuses %s", (text) => {
  takeIn("Teal", 1, 4_000_000)
  finish(2_000_000, 0)
  expect(() => studio.file.runText(text)).toThrow(/only by a movement|never/)
})
