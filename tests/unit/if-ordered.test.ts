import { beforeEach, describe, expect, test } from "vitest"
import { forecast, whatIf } from "../../server/forecast/service.ts"
import { whatIfSentence } from "../../server/forecast/words.ts"
import { addOrder } from "../../server/orders/service.ts"
import { orderPacks } from "../../server/purchasing/service.ts"
import { changeSeller } from "../../server/supplies/service.ts"
import { planningStudio, ROOMY, stock } from "../support/planning-fixtures.ts"
import { someone, type TestStudio, TODAY, testStudio } from "../support/studio.ts"

/*
 * Cups go through in rounds of 40: coated on one day, on the turners over night, lids on two days later, three days
 * of cure, two of shipping. Resin and lids are brought by Near & Co in two days; nobody sells blanks.
 */
let studio: TestStudio
let here: ReturnType<typeof planningStudio>
beforeEach(() => {
  studio = testStudio({ shippingDays: 2, ...ROOMY })
  here = planningStudio(studio)
})

/** So much of each on the shelf, in cups. */
const shelf = (cups: { resin: number; lids: number; blanks: number }) => {
  stock(studio, here.ids.partA, cups.resin * 10_000)
  stock(studio, here.ids.partB, cups.resin * 10_000)
  stock(studio, here.ids.lid, cups.lids)
  stock(studio, here.ids.blank, cups.blanks)
}
const ask = (quantity: number, dueOn: string) =>
  whatIf(studio, [{ designId: here.designId, quantity, dueOn }])

describe("What if I take this one, and order today what is missing?", () => {
  test("resin comes the day after the first 40 are begun: their 20, and all 40 of the second round", () => {
    shelf({ resin: 20, lids: 100, blanks: 100 })
    // a second order of the same makes it a plan that is followed as it stands
    const answer = whatIf(studio, [
      { designId: here.designId, quantity: 40, dueOn: "2026-12-09" },
      { designId: here.designId, quantity: 40, dueOn: "2026-12-12" },
    ])
    expect(answer.asked.map((line) => line.ordered?.able)).toEqual([20, 40])
    expect(whatIfSentence(answer)).toContain(
      "In time: 20 of 80 cups. Ordered today, what is missing is here by Thu 3 Dec: then 60 of 80.",
    )
  })

  test("what is missing and was ordered already is waited for, not ordered again", () => {
    shelf({ resin: 20, lids: 100, blanks: 100 })
    const lines = ["2026-12-09", "2026-12-12"].map((dueOn) => ({
      designId: here.designId,
      quantity: 40,
      dueOn,
    }))
    for (const { packId, sellerId, count, hereOn } of whatIf(studio, lines).with.buys)
      orderPacks(studio, someone(), { packId, sellerId, count, orderedOn: TODAY, expectedOn: hereOn })
    const answer = whatIf(studio, lines)
    expect(answer.with.buys).toEqual([])
    expect(whatIfSentence(answer)).not.toContain("Ordered today")
  })

  test("it is what the forecast says once those packs are really ordered", () => {
    shelf({ resin: 20, lids: 100, blanks: 100 })
    const lines = ["2026-12-09", "2026-12-12"].map((dueOn) => ({
      designId: here.designId,
      quantity: 40,
      dueOn,
    }))
    const asked = whatIf(studio, lines)
    for (const { packId, sellerId, count, hereOn } of asked.with.buys)
      orderPacks(studio, someone(), { packId, sellerId, count, orderedOn: TODAY, expectedOn: hereOn })
    for (const line of lines) {
      const order = { buyerId: null, state: "planned" as const, note: "", lines: [{ ...line, note: "" }] }
      addOrder(studio, someone(), order)
    }
    expect(forecast(studio).lines.map((line) => line.able)).toEqual(
      asked.asked.map((line) => line.ordered?.able),
    )
  })

  test("an order that the forecast plans as one is begun in two parts, where more are in time so", () => {
    shelf({ resin: 20, lids: 60, blanks: 60 })
    // 20 on the 2nd and 20 on the 3rd: three hours' work each, so their lids go on a day after, not two
    expect(whatIfSentence(ask(40, "2026-12-09"))).toBe(
      "Yes, if you order today: all 40 can be in time for Wed 9 Dec. With what you have, 20. From Wed 2 Dec you lack Clear A. Begin 20 at once and the rest on Thu 3 Dec. All ready Mon 7 Dec at the earliest.",
    )
  })

  test("kept as two orders and ordered as told, both parts are in time by the forecast too", () => {
    shelf({ resin: 20, lids: 100, blanks: 100 })
    const asked = ask(80, "2026-12-11")
    const { able, atOnce } = asked.asked[0]!.ordered!
    // as one order it would have begun 40 before the resin is here, and stopped at 40 in time
    expect(atOnce).toBe(20)
    expect(able).toBeGreaterThan(40)
    for (const { packId, sellerId, count, hereOn } of asked.with.buys)
      orderPacks(studio, someone(), { packId, sellerId, count, orderedOn: TODAY, expectedOn: hereOn })
    const parts = (first: number, rest: number) =>
      whatIf(studio, [
        { designId: here.designId, quantity: first, dueOn: "2026-12-09" },
        { designId: here.designId, quantity: rest, dueOn: "2026-12-11" },
      ]).asked.map((line) => line.able)
    expect(parts(20, able - 20)).toEqual([20, able - 20])
  })

  test("where hours end it before supplies do, that is said", () => {
    shelf({ resin: 20, lids: 100, blanks: 100 })
    // coated on the 3rd, lids two days on, three of cure, two of shipping: the 10th, and no second round by then
    expect(whatIfSentence(ask(80, "2026-12-09"))).toContain(
      "then 40 of 80, all that your hours and turners allow.",
    )
  })

  test("what nobody sells does not come: 30 blanks make 30 cups", () => {
    shelf({ resin: 20, lids: 60, blanks: 30 })
    const sentence = whatIfSentence(ask(40, "2026-12-13"))
    expect(sentence).toContain("Ordered today, what can be bought is here by Thu 3 Dec: then 30 of 40.")
    expect(sentence).toContain("nobody sells Slim blank")
  })

  test("blanks alone are missing and nobody sells them: nothing is said of ordering", () => {
    shelf({ resin: 60, lids: 60, blanks: 30 })
    const answer = ask(40, "2026-12-13")
    expect(answer.asked[0]?.ordered).toBeNull()
    expect(whatIfSentence(answer)).not.toContain("rdered today")
  })

  test("lids that come while the cups turn make it a yes, though not all could wait for them", () => {
    shelf({ resin: 60, lids: 10, blanks: 60 })
    // begun on the 3rd, when they are here, all would be ready on the 8th and with the buyer on the 10th
    expect(whatIfSentence(ask(40, "2026-12-09"))).toBe(
      "Yes, if you order today: all 40 can be in time for Wed 9 Dec. With what you have, 10. From Fri 4 Dec you lack Lids <b>wide</b>. All ready Mon 7 Dec at the earliest.",
    )
  })

  test("what costs least comes too late: then it is reckoned with who brings it sooner, and said", () => {
    // neither has them here by the 4th, the near one for the second round
    changeSeller(studio, here.near, { name: "Near & Co", leadTimeDays: 5 })
    shelf({ resin: 100, lids: 10, blanks: 100 })
    expect(whatIfSentence(ask(80, "2026-12-12"))).toContain(
      "Ordered today from whoever brings it soonest, what is missing is here by Sun 6 Dec: then 50 of 80.",
    )
  })
})
