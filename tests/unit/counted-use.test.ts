import { expect, test } from "vitest"
import { countedUse } from "../../server/batches/counted.ts"
import { coatLayer, startBatch } from "../../server/batches/service.ts"
import { countLine, endStocktake, startStocktake } from "../../server/counting/service.ts"
import { type Event, stretches } from "../../server/domain/counted-use.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import { countContainer, writeOff } from "../../server/shelf/service.ts"
import { planningStudio, stock } from "../support/planning-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"

test("by hand: filled, used, looked at, measured, counted, used, counted", () => {
  const used = (amount: number, isPlanned = true): Event => ({ what: "used", amount, isPlanned })
  const counted = (on: string, difference: number, isExact = true): Event => ({
    what: "counted",
    on,
    difference,
    isExact,
  })
  expect(
    stretches([
      { what: "filled", on: "2026-11-01", isKnown: true },
      used(100),
      // a look found 10 less: the book is put right, and that much more was used
      counted("2026-11-03", -10, false),
      used(50),
      // measured afterwards: 4 less went on than planned
      used(-4, false),
      // 3 more were there than the book said
      counted("2026-11-08", 3),
      used(30),
      counted("2026-11-09", 0),
      // nothing was used since: no row
      counted("2026-11-10", -5),
    ]),
  ).toEqual([
    // 150 by plan; 100 + 10 + 50 − 4 − 3 gone
    { from: "2026-11-01", to: "2026-11-08", sinceFilled: true, planned: 150, counted: 153 },
    { from: "2026-11-08", to: "2026-11-09", sinceFilled: false, planned: 30, counted: 30 },
  ])
})

test("what a guess filled begins with its first exact count", () => {
  expect(
    stretches([
      { what: "filled", on: "2026-11-01", isKnown: false },
      { what: "used", amount: 7, isPlanned: true },
      { what: "counted", on: "2026-11-02", difference: -1, isExact: true },
    ]),
  ).toEqual([])
})

test("in the book: coats, a spill, a count of the shelf pinned before a coat, one that agrees, an undone one", () => {
  const studio = testStudio()
  const { ids, versionId } = planningStudio(studio)
  for (const id of Object.values(ids)) stock(studio, id, 5_000_000)
  const [bottle] = studio.file.allText<{ code: string; left: number }>(
    `SELECT c.code, c.amount_left AS "left" FROM container c JOIN supply s ON s.id = c.supply_id WHERE s.kind = 'resin'`,
  )
  const code = bottle!.code
  const left = () =>
    studio.file.firstText<{ n: number }>("SELECT amount_left AS n FROM container WHERE code = ?", [code])!.n
  const coat = () => {
    const before = left()
    const { batchId } = startBatch(studio, someone(), { versionId, cups: 1, note: "" }).answer
    coatLayer(studio, someone(), { batchId, position: 1 })
    return before - left()
  }
  const rows = () => countedUse(studio).flatMap((one) => one.bottles.filter((row) => row.code === code))

  const first = coat()
  // what is spilled is used by neither
  writeOff(studio, someone(), { code, amount: 1_000, kind: "waste", reason: "" })
  studio.setNow("2026-12-02")
  countContainer(studio, someone(), { code, amount: left() - 500, basis: "weighed" })
  expect(rows()).toMatchObject([
    { from: "2026-12-01", to: "2026-12-02", planned: first, counted: first + 500 },
  ])

  const second = coat()
  studio.setNow("2026-12-03")
  const { id } = startStocktake(studio, someone(), { kind: null, place: null, blind: true }).answer
  countLine(studio, someone(), { stocktakeId: id, code, amount: left() - 200, basis: "weighed" })
  // used after it was counted and before that was accepted: belongs to the next row
  const third = coat()
  const accepted = endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })
  expect(rows()[1]).toMatchObject({
    from: "2026-12-02",
    to: "2026-12-03",
    planned: second,
    counted: second + 200,
  })

  studio.setNow("2026-12-04")
  const agreed = countContainer(studio, someone(), { code, amount: left(), basis: "weighed" })
  expect(rows()[2]).toMatchObject({ from: "2026-12-03", to: "2026-12-04", planned: third, counted: third })

  reverse(studio, someone(), agreed.actionId)
  expect(rows()).toHaveLength(2)
  reverse(studio, someone(), accepted.actionId)
  expect(rows()).toHaveLength(1)
})
