import { expect, test } from "vitest"
import { plusDays } from "../../server/domain/dates.ts"
import { ask, BLANK, bottle, LID, lidOnly, line } from "../unit/forecast-fixtures.ts"

/*
 * S. Nahmias, Production and Operations Analysis, 5th ed., problem 7.4. Weeks 6 to 11: gross requirements 220, 165,
 * 180, 120, 75, 300; scheduled receipts 30 in week 8 and 10 in week 10; 75 on hand. Net, lot for lot: 145, 165,
 * 150, 120, 65, 300; two parts go into each: 290, 330, 300, 240, 130, 600.
 */
const weeks = [6, 7, 8, 9, 10, 11]
const day = (week: number) => plusDays("2026-12-01", 7 * week)
const gross = [220, 165, 180, 120, 75, 300]
const net = [145, 165, 150, 120, 65, 300]

test("netting example 7.4: what is on hand and what arrives cover the first needs, the rest is net", () => {
  const { shortfalls } = ask({
    lines: weeks.map((week, i) => line(week, day(week), gross[i]!)),
    shelf: [bottle(LID, 75), bottle(BLANK, 10_000)],
    arrivals: [
      { on: day(10), container: bottle(LID, 10) },
      { on: day(8), container: bottle(LID, 30) },
    ],
  })
  expect(shortfalls).toHaveLength(1)
  expect(shortfalls[0]).toMatchObject({
    supplyId: LID,
    firstOn: day(6),
    missing: 945,
    days: weeks.map((week, i) => ({ on: day(week), missing: net[i] })),
  })
})

test("netting example 7.4: two parts to each, none on hand", () => {
  const { shortfalls } = ask({
    lines: weeks.map((week, i) => line(week, day(week), net[i]!, lidOnly(2))),
    shelf: [bottle(BLANK, 10_000)],
  })
  expect(shortfalls[0]?.days.map((one) => one.missing)).toEqual([290, 330, 300, 240, 130, 600])
})
