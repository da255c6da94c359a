import { describe, expect, test } from "vitest"
import { leadTimeFrom, reorderPoint, spreadOf, usePerDay } from "../../server/domain/reorder.ts"

const steady = { meanPerDay: 10, sdPerDay: 0, leadDays: 7, sdLeadDays: 0 }

describe("when to order again", () => {
  test("where nothing varies it is what is used while waiting, with nothing to spare", () => {
    expect(reorderPoint(steady, 0.99)).toMatchObject({ whileWaiting: 70, safety: 0, point: 70 })
  })

  test("a seller that can be two days late asks for more on the shelf than one that never is", () => {
    expect(reorderPoint({ ...steady, sdLeadDays: 2 }, 0.95).safety).toBeCloseTo(1.6449 * 20, 1)
  })

  test("at one wait in two there is nothing to spare", () => {
    expect(reorderPoint({ ...steady, sdPerDay: 4 }, 0.5).safety).toBeCloseTo(0, 9)
  })

  test("surer is never less", () => {
    const levels = [0.5, 0.8, 0.9, 0.95, 0.98, 0.99, 0.9999]
    const points = levels.map((level) => reorderPoint({ ...steady, sdPerDay: 4, sdLeadDays: 1 }, level).point)
    expect(points).toEqual(points.toSorted((a, b) => a - b))
  })

  test.each([-0.1, 0.49, 1, Number.NaN])("there is no service level of %d", (level) => {
    expect(() => reorderPoint(steady, level)).toThrow(RangeError)
  })
})

describe("how long a seller takes", () => {
  test("is what was told while there are fewer than three deliveries, give or take a third", () => {
    expect(leadTimeFrom([3, 20], 10)).toEqual({ leadDays: 10, sdLeadDays: 3, from: "told" })
  })

  test("is what the record says from the third on", () => {
    expect(leadTimeFrom([6, 8, 10], 3)).toEqual({ leadDays: 8, sdLeadDays: 2, from: "record" })
  })
})

describe("use a day", () => {
  test("counts quiet weeks too", () => {
    expect(usePerDay([70, 0]).meanPerDay).toBe(5)
  })

  test("a day varies less than a week, but more than a seventh of it", () => {
    expect(usePerDay([63, 77]).sdPerDay).toBeCloseTo(spreadOf([63, 77]).sd / Math.sqrt(7), 9)
  })
})
