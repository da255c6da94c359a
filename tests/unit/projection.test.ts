import { expect, test } from "vitest"
import { projection } from "../../server/domain/projection.ts"
import { scrapShare, spareCups } from "../../server/domain/scrap.ts"
import { ask, BLANK, bottle, LID, line, TODAY } from "./forecast-fixtures.ts"

const lidsOver = (input: Parameters<typeof ask>[0], days: number) => {
  const { takes } = ask(input)
  const arrivals = (input.arrivals ?? []).filter((one) => one.container.supplyId === LID)
  const shelf = (input.shelf ?? []).filter((one) => one.supplyId === LID)
  return projection(TODAY, shelf, arrivals, takes(LID), days)
}

test("a supply over the days: what comes joins on its day, what is used goes on its day, what goes off leaves the day after", () => {
  const days = lidsOver(
    {
      lines: [line(1, "2026-12-03", 4)],
      shelf: [bottle(LID, 6), bottle(LID, 5, { useBy: "2026-12-04" }), bottle(BLANK, 99)],
      arrivals: [{ on: "2026-12-02", container: bottle(LID, 10) }],
    },
    6,
  )
  expect(days.map((day) => [day.on.slice(8), day.left, day.received, day.used, day.expired])).toEqual([
    ["01", 11, 0, 0, 0],
    ["02", 21, 10, 0, 0],
    // the one that goes off first is used first
    ["03", 17, 0, 4, 0],
    ["04", 17, 0, 0, 0],
    ["05", 16, 0, 0, 1],
    ["06", 16, 0, 0, 0],
  ])
})

test("what is held never counts; what is opened goes off by its life after opening", () => {
  const openLife = { unit: "days" as const, value: 2 }
  const days = lidsOver(
    {
      lines: [line(1, "2026-12-02", 1)],
      shelf: [bottle(LID, 7, { openLife }), bottle(LID, 50, { held: true }), bottle(BLANK, 9)],
    },
    6,
  )
  expect(days.map((day) => day.left)).toEqual([7, 6, 6, 6, 0, 0])
  expect(days[4]).toMatchObject({ expired: 6 })
})

test("of twenty cups one is taken to be scrapped until the record says otherwise", () => {
  // common practice, no source
  expect(scrapShare({ made: 0, scrapped: 0 })).toBeCloseTo(0.05)
  expect(scrapShare({ made: 180, scrapped: 3 })).toBeCloseTo(4 / 200)
  expect([1, 9, 10, 40].map((cups) => spareCups(cups, { made: 0, scrapped: 0 }))).toEqual([0, 0, 1, 2])
  expect(spareCups(40, { made: 80, scrapped: 19 })).toBe(10)
})
