import { beforeEach, describe, expect, test } from "vitest"
import { Refusal } from "../../server/domain/refusal.ts"
import { history, historyOfContainer, undo } from "../../server/history/service.ts"
import {
  bench,
  containerByCode,
  countContainer,
  decant,
  hold,
  holdLot,
  lowSupplies,
  openContainer,
  release,
  releaseLot,
  shelf,
  topUp,
  unbench,
  writeOff,
} from "../../server/shelf/service.ts"
import { addOne, halfUsed, receiveSome } from "../support/shelf-fixtures.ts"
import { someone, type TestStudio, TODAY, testStudio } from "../support/studio.ts"

let studio: TestStudio
let resin: number

beforeEach(() => {
  studio = testStudio()
  resin = addOne(studio, { name: "Clear part A" })
})

function received(number: string | null, expiresOn: string | null = "2027-06-30", count = 1) {
  return receiveSome(studio, resin, { number, expiresOn, receivedOn: TODAY }, { count })
}

function one(number: string | null, expiresOn: string | null = "2027-06-30"): string {
  return received(number, expiresOn).codes[0]!
}

describe("the shelf in words", () => {
  test("the use-by day itself is still good; the day after, it has expired", () => {
    one("L1", "2026-12-01")
    expect(shelf(studio).expired).toHaveLength(0)
    expect(shelf(studio).soon).toHaveLength(1)
    studio.setNow("2026-12-02")
    expect(shelf(studio).expired.map((c) => c.lotNumber)).toEqual(["L1"])
    expect(shelf(studio).soon).toHaveLength(0)
  })

  test("30 days from today is within 30, day 31 within 60, day 61 neither", () => {
    // 1 Dec + 30 days = 31 Dec; + 31 = 1 Jan; + 60 = 30 Jan; + 61 = 31 Jan
    for (const day of ["2026-12-31", "2027-01-01", "2027-01-30", "2027-01-31"]) one(`until ${day}`, day)
    const found = shelf(studio)
    expect(found.soon.map((c) => c.useBy)).toEqual(["2026-12-31"])
    expect(found.later.map((c) => c.useBy)).toEqual(["2027-01-01", "2027-01-30"])
    expect(found.count).toBe(4)
  })

  test("what is held or expired does not count towards the minimum", () => {
    studio.file.runText("UPDATE supply SET minimum_amount = 900000 WHERE id = ?", [resin])
    const [a] = received("L1", "2027-06-30", 2).codes
    expect(lowSupplies(studio)).toEqual([])
    hold(studio, someone(), a!)
    expect(lowSupplies(studio)).toEqual([
      { supplyId: resin, supply: "Clear part A", baseUnit: "uL", onHand: 500_000, minimum: 900_000 },
    ])
    release(studio, someone(), a!)
    studio.setNow("2027-07-01")
    expect(lowSupplies(studio).map((low) => low.onHand)).toEqual([0])
  })

  test("a supply below its minimum stands on the shelf even when nothing of it is left", () => {
    addOne(studio, { name: "Lids", kind: "packaging", baseUnit: "each", minimumAmount: 10 })
    expect(shelf(studio).supplies.map((s) => [s.supply, s.low, s.lots.length])).toEqual([["Lids", true, 0]])
    expect(shelf(studio, { kind: "paint" }).supplies).toEqual([])
    expect(shelf(studio, { show: "held" }).supplies).toEqual([])
  })

  test("a single letter is a word of its own: part A is found without part B, whatever its name and maker are", () => {
    const studio = testStudio()
    for (const name of ["Clear A", "Clear B", "Acetone", "Böhm Ä"])
      receiveSome(studio, addOne(studio, { name }), { number: "L-7", receivedOn: TODAY })
    const find = (search: string) => shelf(studio, { search }).supplies.map(({ supply }) => supply)
    expect(find("A")).toEqual(["Clear A"])
    expect(find("clear b")).toEqual(["Clear B"])
    expect(find("ä")).toEqual(["Böhm Ä"])
    // the lot's 7, and two letters or more anywhere in a word as before
    expect(find("7 clear")).toEqual(["Clear A", "Clear B"])
    expect(find("ceton")).toEqual(["Acetone"])
  })

  test("a search finds name, lot, maker and code, each word of it", () => {
    const code = one("BX-77")
    one("CY-12")
    const find = (search: string) =>
      shelf(studio, { search }).supplies.flatMap((s) =>
        s.lots.flatMap((l) => l.containers.map((c) => c.lotNumber)),
      )
    expect(find("bx")).toEqual(["BX-77"])
    expect(find(code.toLowerCase())).toEqual(["BX-77"])
    expect(find("clear maker")).toEqual(["BX-77", "CY-12"])
    expect(find("clear zz")).toEqual([])
  })

  test("filters: kind, held, open, on the bench", () => {
    const paint = addOne(studio, { name: "Teal", kind: "paint" })
    const [can] = receiveSome(studio, paint, {
      number: "P",
      expiresOn: "2027-01-15",
      receivedOn: TODAY,
    }).codes
    const bottle = one("L1")
    openContainer(studio, someone(), bottle)
    bench(studio, someone(), bottle)
    hold(studio, someone(), can!)
    const codes = (filter: Parameters<typeof shelf>[1]) =>
      shelf(studio, filter).supplies.flatMap((s) => s.lots.flatMap((l) => l.containers.map((c) => c.code)))
    expect(codes({ kind: "paint" })).toEqual([can])
    expect(codes({ show: "held" })).toEqual([can])
    expect(codes({ show: "open" })).toEqual([bottle])
    expect(codes({ show: "bench" })).toEqual([bottle])
    expect(codes({ show: "later" })).toEqual([can])
    expect(codes({ show: "soon" })).toEqual([])
  })
})

describe("opening", () => {
  test("opened today, a six-month life after opening ends on the same day of the sixth month", () => {
    const code = one("L1")
    const done = openContainer(studio, someone(), code)
    expect(done.answer.useBy).toBe("2027-06-01")
    expect(containerByCode(studio, code)).toMatchObject({ useBy: "2027-06-01", useByReason: "after-opening" })
  })

  test("the label wins where it comes first", () => {
    const code = one("L1", "2027-01-15")
    expect(openContainer(studio, someone(), code).answer.useBy).toBe("2027-01-15")
    expect(containerByCode(studio, code).useByReason).toBe("label")
  })

  test("what is open is not opened again, and not before it came", () => {
    const code = one("L1")
    expect(() => openContainer(studio, someone({ happenedAt: "2026-11-30T10:00" }), code)).toThrow(/came on/)
    openContainer(studio, someone(), code)
    expect(() => openContainer(studio, someone(), code)).toThrow(/opened before/)
  })

  test("the same key again gives the same answer and does nothing", () => {
    const code = one("L1")
    const by = someone()
    const first = openContainer(studio, by, code)
    const second = openContainer(studio, by, code)
    expect(second).toEqual({ ...first, again: true })
    expect(() => hold(studio, by, code)).toThrow(/already sent with other contents/)
  })

  test("undone, it is sealed again and its use-by day is the label's", () => {
    const code = one("L1")
    undo(studio, someone(), openContainer(studio, someone(), code).actionId)
    expect(containerByCode(studio, code)).toMatchObject({
      openedOn: null,
      useBy: "2027-06-30",
      useByReason: "label",
    })
  })
})

describe("holding and the bench", () => {
  test("a lot on hold holds its bottles and what was topped up from it", () => {
    const from = received("BAD")
    const to = one("GOOD")
    topUp(studio, someone(), { fromCode: from.codes[0]!, toCode: to, amount: 100_000 })
    const done = holdLot(studio, someone(), from.lotId)
    expect(shelf(studio).held).toBe(2)
    expect(containerByCode(studio, to)).toMatchObject({ held: true, lotHeld: false, heldItself: false })
    expect(() => holdLot(studio, someone(), from.lotId)).toThrow(/held already/)
    undo(studio, someone(), done.actionId)
    expect(shelf(studio).held).toBe(0)
    expect(() => releaseLot(studio, someone(), from.lotId)).toThrow(/not held/)
  })

  test("what is held does not come free by being poured on, nor onto the bench", () => {
    const code = one("L1")
    const other = one("L2")
    hold(studio, someone(), code)
    expect(() => topUp(studio, someone(), { fromCode: code, toCode: other, amount: 1_000 })).toThrow(/held/)
    expect(() => decant(studio, someone(), { fromCode: code, amount: 1_000 })).toThrow(/held/)
    expect(() => bench(studio, someone(), code)).toThrow(/held/)
    expect(() => hold(studio, someone(), code)).toThrow(/held already/)
    release(studio, someone(), code)
    expect(() => release(studio, someone(), code)).toThrow(/not held by itself/)
  })

  test("the bench takes one container of a supply; the other makes place and comes back on undo", () => {
    const [a, b] = received("L1", "2027-06-30", 2).codes
    bench(studio, someone(), a!)
    const done = bench(studio, someone(), b!)
    const onBench = () => [a, b].map((code) => containerByCode(studio, code!).onBench)
    expect(onBench()).toEqual([false, true])
    undo(studio, someone(), done.actionId)
    expect(onBench()).toEqual([true, false])
    unbench(studio, someone(), a!)
    expect(onBench()).toEqual([false, false])
    expect(() => unbench(studio, someone(), a!)).toThrow(/not on the bench/)
  })
})

describe("amounts", () => {
  test("a top-up moves amount and cost, brings the lot along and the earlier use-by day", () => {
    const from = one("OLD", "2027-01-15")
    const to = one("NEW")
    topUp(studio, someone(), { fromCode: from, toCode: to, amount: 200_000 })
    const page = containerByCode(studio, to)
    expect(page).toMatchObject({
      amountLeft: 700_000,
      costLeftMicro: 28_000_000,
      useBy: "2027-01-15",
      useByReason: "poured-in",
    })
    expect(page.pouredIn).toMatchObject([{ number: "OLD", from }])
    expect(containerByCode(studio, from)).toMatchObject({ amountLeft: 300_000, costLeftMicro: 12_000_000 })
  })

  test("a top-up carries the source's life after opening, not only its label", () => {
    const from = one("OLD", "2027-12-31")
    const to = one("NEW", "2028-12-31")
    studio.setNow("2026-12-05")
    openContainer(studio, someone(), from)
    studio.setNow("2027-03-01")
    topUp(studio, someone(), { fromCode: from, toCode: to, amount: null })
    // opened 5 Dec + 6 months, earlier than 1 Mar + 6 months of the bottle it went into
    expect(containerByCode(studio, to).useBy).toBe("2027-06-05")
    expect(containerByCode(studio, from).amountLeft).toBe(0)
  })

  test("never more than is left, never into itself, never into another supply", () => {
    const a = one("L1")
    const b = one("L2")
    const paint = addOne(studio, { name: "Teal", kind: "paint" })
    const [can] = receiveSome(studio, paint, { number: null, receivedOn: TODAY }).codes
    expect(() => topUp(studio, someone(), { fromCode: a, toCode: b, amount: 500_001 })).toThrow(
      /The book says/,
    )
    expect(() => topUp(studio, someone(), { fromCode: a, toCode: a, amount: 1 })).toThrow(/itself/)
    expect(() => topUp(studio, someone(), { fromCode: can!, toCode: a, amount: 1 })).toThrow(/same supply/)
    expect(() => topUp(studio, someone(), { fromCode: a, toCode: b, amount: 0 })).toThrow(/above zero/)
    expect([a, b].map((code) => containerByCode(studio, code).amountLeft)).toEqual([500_000, 500_000])
  })

  test("decanting makes a bottle with a code of its own, same lot, full; undone, it is gone from the shelf", () => {
    const from = one("L1")
    const done = decant(studio, someone(), { fromCode: from, amount: 120_000 })
    const bottle = containerByCode(studio, done.answer.code)
    expect(bottle).toMatchObject({
      lotNumber: "L1",
      amountLeft: 120_000,
      fullAmount: 120_000,
      openedOn: TODAY,
    })
    expect(shelf(studio).count).toBe(2)
    undo(studio, someone(), done.actionId)
    expect(shelf(studio).count).toBe(1)
    expect(containerByCode(studio, from)).toMatchObject({ amountLeft: 500_000, openedOn: null })
  })

  test("a count down takes its part of the cost along; a count up costs nothing", () => {
    const code = one("L1")
    expect(
      countContainer(studio, someone(), { code, amount: 250_000, basis: "measured" }).answer.difference,
    ).toBe(-250_000)
    expect(containerByCode(studio, code)).toMatchObject({ amountLeft: 250_000, costLeftMicro: 10_000_000 })
    countContainer(studio, someone(), { code, amount: 400_000, basis: "estimated" })
    expect(containerByCode(studio, code)).toMatchObject({ amountLeft: 400_000, costLeftMicro: 10_000_000 })
  })

  test("a count that agrees with the book is kept, without a movement", () => {
    const code = one("L1")
    const before = studio.file.allText("SELECT id FROM movement").length
    const done = countContainer(studio, someone(), { code, amount: 500_000, basis: "measured" })
    expect(done.summary).toMatch(/as the book says/)
    expect(studio.file.allText("SELECT id FROM movement")).toHaveLength(before)
    expect(history(studio, 1).entries[0]?.actionId).toBe(done.actionId)
    undo(studio, someone(), done.actionId)
  })

  test("a count of far more than fits is a slip of the keyboard", () => {
    const code = one("L1")
    expect(() => countContainer(studio, someone(), { code, amount: 1_000_001, basis: "measured" })).toThrow(
      /cannot be in it/,
    )
    expect(() => countContainer(studio, someone(), { code, amount: -1, basis: "measured" })).toThrow(Refusal)
    expect(() => countContainer(studio, someone(), { code, amount: 0.5, basis: "measured" })).toThrow(Refusal)
  })

  test("thrown away whole, it leaves shelf and bench; undone, it is back on both", () => {
    const code = one("L1")
    bench(studio, someone(), code)
    const done = writeOff(studio, someone(), { code, amount: null, kind: "write-off", reason: "Gone off" })
    expect(shelf(studio).count).toBe(0)
    expect(containerByCode(studio, code)).toMatchObject({ amountLeft: 0, costLeftMicro: 0, onBench: false })
    expect(() => writeOff(studio, someone(), { code, amount: null, kind: "waste", reason: "" })).toThrow(
      /is empty/,
    )
    undo(studio, someone(), done.actionId)
    expect(containerByCode(studio, code)).toMatchObject({
      amountLeft: 500_000,
      costLeftMicro: 20_000_000,
      onBench: true,
    })
  })
})

describe("codes", () => {
  test("a code is found as typed, small and with spaces; a wrong one gets a sentence", () => {
    const code = one("L1")
    expect(containerByCode(studio, ` ${code.slice(0, 3).toLowerCase()} ${code.slice(3)}`).code).toBe(code)
    expect(() => containerByCode(studio, "hello")).toThrow(/no container with the code/)
    expect(() => containerByCode(studio, `${code.slice(0, -1)}${code.endsWith("0") ? "1" : "0"}`)).toThrow(
      /a character is wrong/,
    )
  })
})

describe("history", () => {
  test("newest first, with reason, and a day written down later", () => {
    const code = halfUsed(studio, resin, null)
    studio.setNow("2026-12-05")
    writeOff(studio, someone({ happenedAt: "2026-12-03T10:00" }), {
      code,
      amount: 1_000,
      kind: "waste",
      reason: "Knocked over",
    })
    const [last, first] = history(studio, 1).entries
    expect(last).toMatchObject({
      reason: "Knocked over",
      happenedOn: "2026-12-03",
      recordedOn: "2026-12-05",
      recordedLater: true,
      undo: { possible: true, why: null },
    })
    expect(first).toMatchObject({ recordedLater: false })
  })

  test("Undo is offered exactly where it would succeed, and asking changes nothing", () => {
    const bottle = received("L1")
    const open = openContainer(studio, someone(), bottle.codes[0]!)
    const state = () =>
      JSON.stringify(
        ["action", "movement", "mark", "container", "sqlite_sequence"].map((t) =>
          studio.file.allText(`SELECT * FROM ${t}`),
        ),
      )
    const before = state()
    const byId = new Map(history(studio, 1).entries.map((entry) => [entry.actionId, entry]))
    expect(state()).toBe(before)
    expect(byId.get(open.actionId)?.undo.possible).toBe(true)
    expect(byId.get(bottle.actionId)?.undo.possible).toBe(false)
    expect(byId.get(bottle.actionId)?.undo.why).toMatch(/Undo first: “Opened/)
    expect(() => undo(studio, someone(), bottle.actionId)).toThrow(/Undo first/)
    undo(studio, someone(), open.actionId)
    expect(history(studio, 1).entries.find((e) => e.actionId === bottle.actionId)?.undo.possible).toBe(true)
  })

  test("what is undone says by what, and neither it nor the undo can be undone", () => {
    const code = one("L1")
    const held = hold(studio, someone(), code)
    const undone = undo(studio, someone({ device: "phone" }), held.actionId)
    const [theUndo, theHold] = historyOfContainer(studio, containerByCode(studio, code).containerId, 10)
    expect(theUndo).toMatchObject({
      actionId: undone.actionId,
      undoes: held.actionId,
      undo: { possible: false, why: null },
    })
    expect(theHold).toMatchObject({
      undoneBy: { actionId: undone.actionId, device: "phone" },
      undo: { possible: false },
    })
  })

  test("a container's history shows what each action did to its amount, and its lot's holds", () => {
    const { codes, lotId } = received("L1")
    holdLot(studio, someone(), lotId)
    releaseLot(studio, someone(), lotId)
    countContainer(studio, someone(), { code: codes[0]!, amount: 400_000, basis: "measured" })
    const entries = historyOfContainer(studio, containerByCode(studio, codes[0]!).containerId, 10)
    expect(entries.map((entry) => [entry.kind, entry.amount])).toEqual([
      ["count", -100_000],
      ["release", 0],
      ["hold", 0],
      ["receive", 500_000],
    ])
  })

  test("pages of 25; past the end is the last", () => {
    const code = one("L1")
    for (let n = 0; n < 30; n++)
      countContainer(studio, someone(), { code, amount: 500_000 - n, basis: "measured" })
    expect(history(studio, 1)).toMatchObject({ page: 1, pages: 2, total: 32 })
    expect(history(studio, 1).entries).toHaveLength(25)
    expect(history(studio, 99)).toMatchObject({ page: 2 })
    expect(history(studio, 2).entries.at(-1)?.kind).toBe("begin delivery")
  })
})
