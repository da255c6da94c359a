import { beforeEach, describe, expect, test } from "vitest"
import { coatLayer, finishBatch, startBatch } from "../../../server/batches/service.ts"
import { undo } from "../../../server/history/service.ts"
import { receive, receiveOpening, startDelivery } from "../../../server/receiving/service.ts"
import {
  bench,
  containerByCode,
  countContainer,
  decant,
  hold,
  topUp,
  unbench,
  writeOff,
} from "../../../server/shelf/service.ts"
import { addPack } from "../../../server/supplies/service.ts"
import { traceCup, traceLot } from "../../../server/tracing/service.ts"
import { verify } from "../../../server/verify/service.ts"
import { planningStudio, stock } from "../../support/planning-fixtures.ts"
import { addOne, receiveSome } from "../../support/shelf-fixtures.ts"
import { someone, type TestStudio, testStudio } from "../../support/studio.ts"

let studio: TestStudio
let resin: number
beforeEach(() => {
  studio = testStudio()
  resin = addOne(studio, { name: "Thin resin" })
})

const bottles = (count: number, number: string | null = "L1", receivedOn = "2026-11-20") =>
  receiveSome(studio, resin, { number, receivedOn }, { count })
const waste = (code: string, amount: number | null, happenedAt?: string) =>
  writeOff(studio, someone({ happenedAt }), { code, amount, kind: "waste", reason: "" })
const pour = (fromCode: string, toCode: string, amount: number | null, happenedAt?: string) =>
  topUp(studio, someone({ happenedAt }), { fromCode, toCode, amount })
const onBench = (codes: readonly string[]) => codes.filter((code) => containerByCode(studio, code).onBench)

describe("recorded late", () => {
  test("a bottle that was poured from before the day it was opened by the book was open then already", () => {
    const [one = "", two = ""] = bottles(2).codes
    const today = pour(one, two, 1_000)
    const late = pour(one, two, 1_000, "2026-11-25T09:00")
    expect(containerByCode(studio, one).openedOn).toBe("2026-11-25")
    undo(studio, someone(), late.actionId)
    expect(containerByCode(studio, one).openedOn).toBe("2026-12-01")
    undo(studio, someone(), today.actionId)
    expect(containerByCode(studio, one).openedOn).toBeNull()
  })

  test("a bottle that was filled from another cannot have been used before the day it was filled", () => {
    const [one = ""] = bottles(1).codes
    const { code } = decant(studio, someone(), { fromCode: one, amount: 100_000 }).answer
    expect(() => waste(code, 1, "2026-11-25T09:00")).toThrow("came on 2026-12-01")
  })

  test("a coat of last week comes from what was there last week, not from the bottle that came since", () => {
    const { versionId, ids } = planningStudio(studio)
    studio.setNow("2026-11-20")
    for (const supplyId of [ids.partA, ids.partB, ids.blank]) stock(studio, supplyId, 20_000)
    const { batchId } = startBatch(studio, someone(), { versionId, cups: 2, note: "" }).answer
    studio.setNow("2026-12-01")
    // opened, and sooner to go off: it would be taken first
    const late = receiveSome(studio, ids.partA, {
      number: "L7",
      expiresOn: "2026-12-24",
      receivedOn: "2026-12-01",
    })
    bench(studio, someone(), late.codes[0]!)
    const coat = coatLayer(studio, someone({ happenedAt: "2026-11-25T09:00" }), { batchId, position: 1 })
    expect(coat.answer.cups).toBe(2)
    expect(containerByCode(studio, late.codes[0]!).amountLeft).toBe(500_000)
  })
})

test("what stood on the shelf opened today is put in once, also when the form comes again after midnight", () => {
  const by = someone()
  const input = {
    supplyId: resin,
    fullAmount: 500_000,
    amount: 250_000,
    opened: true,
    openedOn: "2026-12-01",
    expiresOn: null,
  }
  const first = receiveOpening(studio, by, input)
  studio.setNow("2026-12-02T06:30:00Z")
  expect(receiveOpening(studio, by, input)).toEqual({ ...first, again: true })
})

test("what stood part-used on the shelf carries the part of its price that is in it, and the book's check agrees", () => {
  const input = {
    supplyId: resin,
    fullAmount: 300_000,
    amount: 100_000,
    opened: true,
    expiresOn: null,
    count: 2,
    priceMicro: 9_999_999,
  }
  const [one] = receiveOpening(studio, someone(), input).answer.containers
  expect(containerByCode(studio, one!.code).costLeftMicro).toBe(3_333_333)
  expect(verify(studio.file)).toEqual([])
})

describe("on the bench", () => {
  test("there is one bottle of a supply, whatever is undone", () => {
    const [one = "", two = ""] = bottles(2).codes
    bench(studio, someone(), one)
    const off = unbench(studio, someone(), one)
    const swapped = bench(studio, someone(), two)
    undo(studio, someone(), off.actionId)
    expect(onBench([one, two])).toEqual([two])
    expect(verify(studio.file)).toEqual([])
    undo(studio, someone(), swapped.actionId)
    expect(onBench([one, two])).toEqual([one])
  })

  test("no empty bottle stays, whether it was spilled, poured over, used up or filled by mistake", () => {
    const [one = "", two = "", three = ""] = bottles(3).codes
    bench(studio, someone(), one)
    const spilled = waste(one, null)
    expect(onBench([one])).toEqual([])
    undo(studio, someone(), spilled.actionId)
    expect(onBench([one])).toEqual([one])
    pour(one, two, null)
    expect(onBench([one])).toEqual([])
    const back = pour(three, one, 1_000)
    bench(studio, someone(), one)
    undo(studio, someone(), back.actionId)
    expect(onBench([one])).toEqual([])

    const { versionId, ids } = planningStudio(studio)
    for (const supplyId of [ids.partA, ids.partB]) stock(studio, supplyId, 10_000)
    stock(studio, ids.blank, 1)
    const { code } = studio.file.firstText<{ code: string }>(
      "SELECT code FROM container WHERE supply_id = ?",
      [ids.partA],
    )!
    bench(studio, someone(), code)
    const { batchId } = startBatch(studio, someone(), { versionId, cups: 1, note: "" }).answer
    coatLayer(studio, someone(), { batchId, position: 1 })
    expect(containerByCode(studio, code)).toMatchObject({ amountLeft: 0, onBench: false })
  })
})

test("what came in is undone although another bottle took its place on the bench, once it is not put there", () => {
  const { codes, actionId } = bottles(1)
  const [other = ""] = bottles(1, "L2").codes
  const put = bench(studio, someone(), codes[0]!)
  bench(studio, someone(), other)
  expect(() => undo(studio, someone(), actionId)).toThrow("Undo first")
  undo(studio, someone(), put.actionId)
  undo(studio, someone(), actionId)
  expect(onBench([...codes, other])).toEqual([other])
})

describe("what came in and was undone", () => {
  test("is not on the shelf: nothing is counted into it, poured into it, held or put on the bench", () => {
    const { codes, actionId } = bottles(1)
    const [gone = ""] = codes
    const [other = ""] = bottles(1, "L2").codes
    undo(studio, someone(), actionId)
    for (const deed of [
      () => countContainer(studio, someone(), { code: gone, amount: 1_000, basis: "counted" }),
      () => pour(other, gone, 1_000),
      () => hold(studio, someone(), gone),
      () => bench(studio, someone(), gone),
    ])
      expect(deed).toThrow(`${gone} (Thin resin) is not on the shelf`)
  })

  test("leaves no date behind: a lot whose every delivery was undone takes its day from the next label", () => {
    const day = (lotId: number) => traceLot(studio, lotId).expiresOn
    const wrong = receiveSome(studio, resin, {
      number: "L9",
      expiresOn: "2036-05-01",
      receivedOn: "2026-12-01",
    })
    undo(studio, someone(), wrong.actionId)
    const deliver = (expiresOn: string | null) => {
      const packId = studio.file.firstText<{ id: number }>("SELECT id FROM pack")!.id
      const begun = { sellerId: null, receivedOn: "2026-12-01", note: "" }
      const { deliveryId } = startDelivery(studio, someone(), begun).answer
      const lots = [{ supplyId: resin, number: "L9", madeOn: null, expiresOn }]
      return receive(studio, someone(), { deliveryId, packId, count: 1, priceMicro: 0, lots })
    }
    deliver("2026-12-05")
    expect(day(wrong.lotId)).toBe("2026-12-05")
    expect(() => deliver("2036-05-01")).toThrow("in the book with expiry Sat 5 Dec")
  })

  test("a bottle that was filled from another and then used is not undone, even if it was counted full since", () => {
    const [one = ""] = bottles(1).codes
    const filled = decant(studio, someone(), { fromCode: one, amount: 100_000 })
    const { code } = filled.answer
    const spilled = waste(code, 60_000)
    const counted = countContainer(studio, someone(), { code, amount: 100_000, basis: "counted" })
    expect(() => undo(studio, someone(), filled.actionId)).toThrow("opened, used or moved after it")
    undo(studio, someone(), counted.actionId)
    undo(studio, someone(), spilled.actionId)
    undo(studio, someone(), filled.actionId)
    expect(containerByCode(studio, one).amountLeft).toBe(500_000)
  })
})

test("a label's day is the lot's own, even where it agrees with the day worked out: another label is questioned", () => {
  const packId = addPack(studio, {
    name: "Bottle",
    makerId: null,
    codes: [],
    contents: [{ supplyId: resin, amount: 500_000, containerCount: 1 }],
    offers: [],
  })
  const begun = { sellerId: null, receivedOn: "2026-12-01", note: "" }
  const { deliveryId } = startDelivery(studio, someone(), begun).answer
  const deliver = (expiresOn: string | null) => {
    const lots = [{ supplyId: resin, number: "L5", madeOn: null, expiresOn }]
    receive(studio, someone(), { deliveryId, packId, count: 1, priceMicro: 0, lots })
  }
  deliver(null)
  deliver("2028-12-01")
  expect(() => deliver("2027-12-01")).toThrow("in the book with expiry Fri 1 Dec 2028")
})

describe("tracing", () => {
  test("a bottle that a lot was poured into twice is one place of the lot, and its amount counts once", () => {
    const { codes, lotId } = bottles(2, "L1")
    const [one = "", two = ""] = codes
    const [other = ""] = bottles(1, "L2").codes
    pour(one, other, 1_000)
    pour(two, other, 1_000)
    pour(two, other, 1_000)
    const traced = traceLot(studio, lotId)
    expect(traced.containers.map((place) => [place.code, place.toppedUpFrom])).toEqual([
      [one, null],
      [two, null],
      [other, `${one}, ${two}`],
    ])
    // of the third bottle only what was poured into it
    expect(traced.amountLeft).toBe(499_000 + 498_000 + 3_000)
  })

  test("cups from two cartons of blanks: each pays for its own, and what the cups cost is what was taken", () => {
    const { versionId, ids } = planningStudio(studio)
    for (const supplyId of [ids.partA, ids.partB]) stock(studio, supplyId, 100_000)
    stock(studio, ids.lid, 9)
    const packId = addPack(studio, {
      name: "One blank",
      makerId: null,
      codes: [],
      contents: [{ supplyId: ids.blank, amount: 1, containerCount: 1 }],
      offers: [],
    })
    const begun = { sellerId: null, receivedOn: "2026-12-01", note: "" }
    const { deliveryId } = startDelivery(studio, someone(), begun).answer
    for (const priceMicro of [8_000_000, 5_000_000]) {
      const lots = [{ supplyId: ids.blank, number: null, madeOn: null, expiresOn: null }]
      receive(studio, someone(), { deliveryId, packId, count: 1, priceMicro, lots })
    }
    const { batchId, cups } = startBatch(studio, someone(), { versionId, cups: 2, note: "" }).answer
    finishBatch(studio, someone(), { batchId, exceptions: [] })
    const costs = cups.map((cup) => traceCup(studio, cup.serial).costMicro)
    expect(costs).toEqual([8_000_000, 5_000_000])
  })
})
