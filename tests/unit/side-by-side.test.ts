import { describe, expect, test } from "vitest"
import { beside, countOf, isOfAge, OPEN_AGES, sayOpenAge } from "../../server/domain/side-by-side.ts"
import { act } from "../../server/ledger/act.ts"
import { addCoat, changeCup, startBatch } from "../../server/ledger/cups.ts"
import { move } from "../../server/ledger/move.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { topUp } from "../../server/shelf/service.ts"
import {
  complain,
  sideBySide,
  sideBySideCsv,
  supplySideBySide,
  traceLot,
} from "../../server/tracing/service.ts"
import { bareDesign, receiveOne, supplyRow } from "../support/catalogue.ts"
import { someone, testStudio } from "../support/studio.ts"

/** A studio on 1 October with a batch of cups in work, numbered from 1. */
function cupsInWork(count: number) {
  const studio = testStudio()
  studio.setNow("2026-10-01")
  const { versionId, layerIds } = bareDesign(studio, 2)
  const { batchId, cups } = act(studio, "start", someone(), { count }, (now) => ({
    summary: "Started",
    answer: startBatch(now, { versionId, cups: count, note: "" }),
  })).answer
  const idsOf = (numbers: readonly number[]) => numbers.map((n) => cups[n - 1]!.id)
  return {
    studio,
    serialOf: (n: number) => cups[n - 1]!.serial,
    /** Puts a layer on cups, 10 mL a cup from each bottle. */
    coat: (layer: 1 | 2, numbers: readonly number[], ...from: readonly { id: number }[]) =>
      act(studio, "coat", someone(), { layer, numbers }, (now) => {
        const layerId = layerIds[layer - 1]!
        const facts = { batchId, layerId, cupIds: idsOf(numbers), workings: [], insisted: false }
        const coatId = addCoat(now, facts)
        for (const { id } of from)
          move(now, id, -10_000 * numbers.length, { kind: "use", basis: "planned", coatId })
        return { summary: `Coat ${layer}`, answer: coatId }
      }),
    /** A coat turns out to have taken so much less from a bottle. */
    measuredLess: (coatId: number, from: { id: number }, byUl: number) =>
      act(studio, "measure", someone(), { coatId, byUl }, (now) => {
        move(now, from.id, byUl, { kind: "use", basis: "measured", coatId })
        return { summary: "Measured", answer: null }
      }),
    become: (state: "good" | "scrapped" | "sent", ...numbers: readonly number[]) =>
      act(studio, "become", someone(), { state, numbers }, (now) => {
        for (const id of idsOf(numbers)) changeCup(now, id, { state })
        return { summary: state, answer: null }
      }),
  }
}

describe("counting", () => {
  test("3 of 14 against 9 of 386: what some are beside is the rest, not all", () => {
    expect(beside({ bad: 3, all: 14 }, { bad: 12, all: 400 })).toEqual({
      withIt: { bad: 3, all: 14 },
      others: { bad: 9, all: 386 },
    })
    expect(countOf([{ bad: true }, { bad: false }, { bad: false }])).toEqual({ bad: 1, all: 3 })
    expect(countOf([])).toEqual({ bad: 0, all: 0 })
  })

  test("a part with more cups, or more bad or more good ones, than the whole is a mistake of ours", () => {
    expect(() => beside({ bad: 0, all: 5 }, { bad: 0, all: 4 })).toThrow(RangeError)
    expect(() => beside({ bad: 2, all: 2 }, { bad: 1, all: 4 })).toThrow(RangeError)
    expect(() => beside({ bad: 0, all: 4 }, { bad: 2, all: 5 })).toThrow(RangeError)
  })

  test("every day since the opening is of one band: 14 and 15, 30 and 31, 60 and 61, 120 and 121 part them", () => {
    const bandOf = (days: number) => {
      const mine = OPEN_AGES.filter((age) => isOfAge(age, days))
      expect(mine).toHaveLength(1)
      return sayOpenAge(mine[0]!)
    }
    expect([0, 14, 15, 30, 31, 60, 61, 120, 121, 5_000].map(bandOf)).toEqual([
      ...["0 to 14 days", "0 to 14 days", "15 to 30 days", "15 to 30 days", "31 to 60 days", "31 to 60 days"],
      ...["61 to 120 days", "61 to 120 days", "over 120 days", "over 120 days"],
    ])
    for (let days = 0; days < 200; days++) bandOf(days)
  })
})

/*
 * Worked out by hand; nothing below is computed by the program. Two bottles of one resin, nine cups:
 *
 *               2 Oct          12 Oct        31 Oct               since
 *   K1, lot L1  coat 1         .             coat 2: 29 days      opened 2 Oct
 *   K2, lot L2  .              coat 1        .                    opened 12 Oct
 *
 *   cup  coat 1                  coat 2   became                     lots    open for, at most
 *   1    K1                      K1       scrapped            bad    L1      29
 *   2    K1                      .        sent, complained    bad    L1      0
 *   3    K1                      .        good                       L1      0
 *   4    K1                      .        good; its complaint undone L1      0
 *   5    K2                      K1       good                       L1 L2   29 (the longest, not the latest)
 *   6    K2                      .        scrapped            bad    L2      0
 *   7    K2, measured: nothing   .        scrapped            bad    none
 *   8    K2, undone              .        good                       none
 *   9    K1                      .        in work: not counted
 */
describe("nine cups, two bottles of one resin", () => {
  const { studio, serialOf, coat, measuredLess, become } = cupsInWork(9)
  const resin = supplyRow(studio, { name: "Clear A" })
  const [K1] = receiveOne(studio, [resin], "L1")
  const [K2] = receiveOne(studio, [resin], "L2")
  if (!K1 || !K2) throw new Error("Nothing was received.")
  studio.setNow("2026-10-02")
  coat(1, [1, 2, 3, 4, 9], K1)
  studio.setNow("2026-10-12")
  coat(1, [5, 6], K2)
  const nothing = coat(1, [7], K2)
  measuredLess(nothing.answer, K2, 10_000)
  reverse(studio, someone(), coat(1, [8], K2).actionId)
  studio.setNow("2026-10-31")
  coat(2, [1, 5], K1)
  become("scrapped", 1, 6, 7)
  become("good", 2, 3, 4, 5, 8)
  become("sent", 2)
  complain(studio, someone(), { serial: serialOf(2), what: "Yellow at the rim" })
  const mistaken = complain(studio, someone(), { serial: serialOf(4), what: "Meant the other cup" })
  reverse(studio, someone(), mistaken.actionId)
  const counts = supplySideBySide(studio, resin)

  test("cups with any of it: 1 to 6, against 7 and 8", () => {
    expect(counts.any).toEqual({ withIt: { bad: 3, all: 6 }, others: { bad: 1, all: 2 } })
  })

  test("lot by lot, each against the rest of the supply's cups; cup 5 counts with both", () => {
    expect(counts.lots).toEqual([
      {
        lotId: K2.lotId,
        number: "L2",
        maker: null,
        withIt: { bad: 1, all: 2 },
        others: { bad: 2, all: 4 },
      },
      {
        lotId: K1.lotId,
        number: "L1",
        maker: null,
        withIt: { bad: 2, all: 5 },
        others: { bad: 1, all: 1 },
      },
    ])
  })

  test("the lot's own page counts the same", () => {
    for (const { lotId, withIt, others } of counts.lots)
      expect(sideBySide(studio, traceLot(studio, lotId))).toEqual({ withIt, others })
  })

  test("by the age of the container that had been open longest, each against the rest; empty bands are left out", () => {
    expect(counts.ages).toEqual([
      { age: { fromDays: 0, toDays: 14 }, withIt: { bad: 2, all: 4 }, others: { bad: 1, all: 2 } },
      { age: { fromDays: 15, toDays: 30 }, withIt: { bad: 1, all: 2 }, others: { bad: 2, all: 4 } },
    ])
    expect(counts.ageNotKnown.all).toBe(0)
  })

  test("the CSV says the same", () => {
    expect(sideBySideCsv(counts).split("\r\n")).toEqual([
      "supply,compared_by,with,with_bad,with_all,rest_bad,rest_all",
      "Clear A,supply,any of it,3,6,1,2",
      "Clear A,lot,L2,1,2,2,4",
      "Clear A,lot,L1,2,5,1,1",
      "Clear A,open for,0 to 14 days,2,4,1,2",
      "Clear A,open for,15 to 30 days,1,2,2,4",
      "",
    ])
    expect(sideBySideCsv({ ...counts, supply: "=1+1" })).toContain("\r\n'=1+1,supply")
  })

  test("a supply that no cup has is beside nothing; one that is not there is refused", () => {
    const unused = supplyRow(studio, { name: "Clear B" })
    expect(supplySideBySide(studio, unused)).toMatchObject({
      any: { withIt: { bad: 0, all: 0 }, others: { bad: 4, all: 8 } },
      lots: [],
      ages: [],
    })
    expect(() => supplySideBySide(studio, 999_999)).toThrow("There is no such supply.")
  })
})

test("ages are told of resin, hardener and what has a life once opened, and of nothing else", () => {
  const { studio } = cupsInWork(1)
  const none = { open_life: null, open_life_unit: null }
  const never = { open_life: null, open_life_unit: "never" } as const
  const told = (row: Parameters<typeof supplyRow>[1]) =>
    supplySideBySide(studio, supplyRow(studio, row)).ages !== null
  expect(told({ name: "Resin", kind: "resin", ...none })).toBe(true)
  expect(told({ name: "Hardener", kind: "hardener", ...never })).toBe(true)
  expect(told({ name: "Paint that dries up", kind: "paint" })).toBe(true)
  expect(told({ name: "Paint", kind: "paint", ...none })).toBe(false)
  expect(told({ name: "Glitter", kind: "glitter", ...never })).toBe(false)
})

test("a bottle topped up from its own lot keeps the cup that was measured down by half after it", () => {
  const { studio, coat, measuredLess, become } = cupsInWork(1)
  const resin = supplyRow(studio, { name: "Clear A" })
  const [K1] = receiveOne(studio, [resin], "L1")
  const [K2] = receiveOne(studio, [resin], "L1")
  if (!K1 || !K2) throw new Error("Nothing was received.")
  const { answer } = coat(1, [1], K1)
  topUp(studio, someone(), { fromCode: K2.code, toCode: K1.code, amount: 50_000 })
  measuredLess(answer, K1, 5_000)
  become("scrapped", 1)
  expect(traceLot(studio, K1.lotId).cups).toHaveLength(1)
  expect(supplySideBySide(studio, resin).any.withIt).toEqual({ bad: 1, all: 1 })
})
