import { expect, test } from "vitest"
import { finishBatch, startBatch } from "../../server/batches/service.ts"
import { addDesign } from "../../server/designs/service.ts"
import { undo } from "../../server/history/service.ts"
import { finishedCups, losses, marginOf, materials, rounded, shelfValue } from "../../server/money/service.ts"
import { addOrder } from "../../server/orders/service.ts"
import { closeDelivery, receive, startDelivery } from "../../server/receiving/service.ts"
import { countContainer, writeOff } from "../../server/shelf/service.ts"
import { addBlank, addPack, addSeller } from "../../server/supplies/service.ts"
import { plainSupply } from "../support/receiving-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"

const DOLLAR = 1_000_000
const studio = testStudio()

/*
 * Worked by hand.
 *
 *   20 Dec 2025   a bottle of paint, 100 mL, 20.00; a carton of 4 blanks, 24.00; shipping 4.00 and tax 0.40 on both,
 *                 shared out by value 20 : 24: paint 22.00 (0.22 a mL), blanks 26.40 (6.60 each)
 *   28 Dec        10 mL of paint spilled: 2.20
 *   30 Dec        10 mL more, written down on 2 January: 2.20
 *   31 Dec        on the shelf: 80 mL of paint, 17.60, and 4 blanks, 26.40: together 44.00
 *   10 Jan 2026   two cups of a blank and 20 mL of paint: each 6.60 + 4.40 = 11.00
 *   15 Jan        another bottle of paint, 100 mL, 25.00, nothing for sending
 *   20 Jan        40 mL thrown away, and that was a mistake: undone
 *   25 Jan        5 mL given away: 1.10
 *   31 Jan        counted: the first bottle holds 30 mL and not 35: 1.10 are missing
 *   then          on the shelf: 30 mL of the first, 6.60, the second, 25.00, two blanks, 13.20: together 44.80
 *   the year      44.00 + 25.00 - 44.80 = 24.20 = 22.00 in cups + 1.10 given away + 1.10 missing
 */
function month() {
  const sellerId = addSeller(studio, { name: "Harbour Supply", leadTimeDays: 3 })
  const blankSupplyId = addBlank(studio, {
    supply: plainSupply("Blank", { kind: "blank", baseUnit: "each" }),
    rings: [
      { heightUm: 0, diameterUm: 70_000 },
      { heightUm: 200_000, diameterUm: 70_000 },
    ],
    bareLipUm: 10_000,
    bareBaseUm: 3_000,
    coatsBase: false,
  })
  const pack = (name: string, supplyId: number, amount: number) =>
    addPack(studio, {
      name,
      makerId: null,
      codes: [],
      offers: [],
      contents: [{ supplyId, amount, containerCount: 1 }],
    })
  const carton = pack("Carton", blankSupplyId, 4)
  const { id: paintId } = studio.file.firstText<{ id: number }>(
    "INSERT INTO supply (name, kind, base_unit) VALUES ('Paint', 'paint', 'uL') RETURNING id",
  )!
  const bottle = pack("Bottle", paintId, 100_000)
  const comes = (
    receivedOn: string,
    packs: readonly [packId: number, supplyId: number, dollars: number][],
  ) => {
    const { deliveryId } = startDelivery(studio, someone(), { sellerId, receivedOn, note: "" }).answer
    const codes = packs.map(
      ([packId, supplyId, dollars]) =>
        receive(studio, someone(), {
          deliveryId,
          packId,
          count: 1,
          priceMicro: dollars * DOLLAR,
          lots: [{ supplyId, number: null, madeOn: null, expiresOn: null }],
        }).answer.containers[0]!.code,
    )
    return { deliveryId, codes }
  }

  studio.setNow("2025-12-20")
  const { deliveryId, codes } = comes("2025-12-20", [
    [bottle, paintId, 20],
    [carton, blankSupplyId, 24],
  ])
  const [paint = ""] = codes
  closeDelivery(studio, someone(), deliveryId, { shippingMicro: 4 * DOLLAR, taxMicro: 400_000 })
  const off = (amount: number, reason: string, kind: "waste" | "write-off", happenedAt?: string) =>
    writeOff(studio, someone({ happenedAt }), { code: paint, amount, kind, reason })
  studio.setNow("2025-12-28")
  off(10_000, "Knocked over", "waste")
  studio.setNow("2026-01-02")
  off(10_000, "Knocked over", "waste", "2025-12-30T10:00")

  studio.setNow("2026-01-10")
  const { designId, versionId } = addDesign(studio, {
    name: "Teal",
    version: {
      blankSupplyId,
      fullCureMin: 60,
      priceMicro: 30 * DOLLAR,
      layers: [
        {
          kind: "base-coat",
          name: "Paint",
          handsOnMin: 10,
          turnerMin: 0,
          recoatEarliestMin: 0,
          recoatLatestMin: null,
          band: null,
          uses: [{ how: "per-cup", supplyId: paintId, amount: 20_000, sharePpm: 1_000_000 }],
        },
      ],
    },
  })
  const { orderId } = addOrder(studio, someone(), {
    buyerId: null,
    buyerName: "Ana Brook",
    note: "",
    state: "planned",
    lines: [{ designId, quantity: 2, dueOn: "2026-02-01", note: "", priceMicro: 35 * DOLLAR }],
  }).answer
  const line = studio.file.firstText<{ id: number }>("SELECT id FROM order_line WHERE order_id = ?", [
    orderId,
  ])!
  const { batchId } = startBatch(studio, someone(), {
    versionId,
    cups: 2,
    note: "",
    orderLineId: line.id,
  }).answer
  finishBatch(studio, someone(), { batchId, exceptions: [] })
  studio.setNow("2026-01-15")
  comes("2026-01-15", [[bottle, paintId, 25]])
  studio.setNow("2026-01-20")
  undo(studio, someone(), off(40_000, "Gone off", "write-off").actionId)
  studio.setNow("2026-01-25")
  off(5_000, "Given away", "write-off")
  studio.setNow("2026-01-31")
  countContainer(studio, someone(), { code: paint, amount: 30_000, basis: "measured" })
  return { orderId }
}
const { orderId } = month()

const worth = (day: string | null) =>
  shelfValue(studio.file, day).map(({ supply, amount, micro }) => [supply, amount, micro])
const nothing = {
  opening: 0,
  begun: 0,
  bought: 0,
  extras: 0,
  cups: 0,
  "other use": 0,
  waste: 0,
  given: 0,
  counted: 0,
  late: 0,
}

test("the shelf on New Year's Eve knows what was written down later, and not what came later", () => {
  expect(worth("2025-12-19")).toEqual([])
  expect(worth("2025-12-31")).toEqual([
    ["Blank", 4, 26_400_000],
    ["Paint", 80_000, 17_600_000],
  ])
  expect(worth(null)).toEqual([
    ["Blank", 2, 13_200_000],
    ["Paint", 130_000, 31_600_000],
  ])
})

test("materials of two years, worked by hand", () => {
  const old = materials(studio.file, "2025-01-01", "2025-12-31")
  expect(old.total).toEqual({
    ...nothing,
    bought: 44 * DOLLAR,
    extras: 4_400_000,
    waste: 4_400_000,
    closing: 44 * DOLLAR,
  })
  const year = materials(studio.file, "2026-01-01", null)
  expect(year.kinds.map(({ kind }) => kind)).toEqual(["paint", "blank"])
  expect(year.total).toEqual({
    ...nothing,
    opening: 44 * DOLLAR,
    bought: 25 * DOLLAR,
    cups: 22 * DOLLAR,
    given: 1_100_000,
    counted: 1_100_000,
    closing: 44_800_000,
  })
  // whole cents stay as they are
  expect(rounded(year, 10_000)).toEqual(year)
})

test("what was undone is no waste, what was given away is none either, and what was missing is told with its bottle", () => {
  expect(
    losses(studio.file, "2026-01-01").map(({ day, flow, amount, micro }) => [day, flow, amount, micro]),
  ).toEqual([
    ["2026-01-31", "counted", 5_000, 1_100_000],
    ["2026-01-25", "given", 5_000, 1_100_000],
  ])
  expect(losses(studio.file, "2025-01-01", "2025-12-31").map(({ day, reason }) => [day, reason])).toEqual([
    ["2025-12-30", "Knocked over"],
    ["2025-12-28", "Knocked over"],
  ])
})

test("an order brings what its line says, not what its design says: 70.00 less 22.00 is 48.00", () => {
  const cups = finishedCups(studio, { orderId })
  expect(
    cups.map(({ materialsMicro, priceMicro, pricedBy }) => [materialsMicro, priceMicro, pricedBy]),
  ).toEqual([
    [11 * DOLLAR, 35 * DOLLAR, "order"],
    [11 * DOLLAR, 35 * DOLLAR, "order"],
  ])
  expect(marginOf(cups)).toMatchObject({ cups: 2, unpriced: 0, pricedByDesign: 0, leftMicro: 48 * DOLLAR })
  expect(finishedCups(studio, { from: "2026-01-11" })).toEqual([])
})

test("where the order says no price, the design does; where neither does, nothing is counted as brought", () => {
  studio.file.runText("UPDATE order_line SET price_micro = NULL")
  const cups = finishedCups(studio, { orderId })
  // by hand: 2 at 30.00 less 22.00
  expect(marginOf(cups)).toMatchObject({ pricedByDesign: 2, unpriced: 0, leftMicro: 38 * DOLLAR })
  const unpriced = cups.map((cup) => ({ ...cup, priceMicro: null, pricedBy: null }))
  expect(marginOf(unpriced)).toMatchObject({ unpriced: 2, priceMicro: 0, leftMicro: -22 * DOLLAR })
})
