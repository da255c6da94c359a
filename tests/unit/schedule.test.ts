import { describe, expect, test } from "vitest"
import {
  earliestReadyMin,
  type Job,
  mostCupsTogether,
  type Shop,
  schedule,
} from "../../server/domain/schedule.ts"
import { OpenDays } from "../../server/domain/shop-hours.ts"

/** A Tuesday, nine in the morning; the studio works from nine to five, Monday to Friday. */
const shop: Shop = {
  hours: { opensMin: 540, closesMin: 1020, weekdaysOff: [6, 7], daysOff: [] },
  today: "2026-12-01",
  nowMin: 540,
  turnerPlaces: 6,
  scuffMin: 10,
}
const at = (day: number, hour: number, minute = 0) => day * 1440 + hour * 60 + minute
const resin = {
  name: "seal coat",
  handsOnMin: 10,
  turnerMin: 480,
  recoatEarliestMin: 720,
  recoatLatestMin: 2880,
}
const job = (more: Partial<Job> = {}): Job => ({
  id: 1,
  cups: 6,
  steps: [
    { position: 1, ...resin },
    { position: 2, ...resin, name: "final coat" },
  ],
  fullCureMin: 4320,
  priority: 0,
  ...more,
})
const starts = (jobs: readonly Job[], there = shop) =>
  schedule(jobs, there).steps.map((step) => step.startMin)

describe("a batch of six with two resin coats", () => {
  test("is coated today at nine and, since a coat needs twelve hours, again tomorrow at nine", () => {
    expect(starts([job()])).toEqual([at(0, 9), at(1, 9)])
  })

  test("is ready when the last coat has cured: three days after it went on", () => {
    expect(schedule([job()], shop).readyMin.get(1)).toBe(at(1, 10) + 4320)
  })

  test("waits over a weekend: what is coated on Friday gets its next coat on Monday", () => {
    expect(starts([job()], { ...shop, nowMin: at(3, 9) })).toEqual([at(3, 9), at(6, 9)])
  })

  test("is scuffed and wiped first where Monday is past the latest recoat", () => {
    const friday = { ...shop, nowMin: at(3, 9) }
    const hasty = job({ steps: job().steps.map((step) => ({ ...step, recoatLatestMin: 1440 })) })
    const [first, second] = schedule([hasty], friday).steps
    expect([first?.scuffs, second?.scuffs]).toEqual([false, true])
    // ten minutes a cup of coating and ten of scuffing
    expect((second?.handsOffMin ?? 0) - (second?.startMin ?? 0)).toBe(120)
  })

  test("that comes too late in the day waits until tomorrow, since its hour must fit in one go", () => {
    expect(starts([job()], { ...shop, nowMin: at(0, 16, 5) })[0]).toBe(at(1, 9))
    expect(starts([job()], { ...shop, nowMin: at(0, 16) })[0]).toBe(at(0, 16))
  })
})

describe("two batches on one turner of six places", () => {
  test("the second waits for its place, not only for the person's hands", () => {
    const both = [job(), job({ id: 2, priority: 1 })]
    // places of the first are free at 10:00 + 8 h = 18:00, after closing
    expect(schedule(both, shop).steps.map((step) => [step.jobId, step.position, step.startMin])).toEqual([
      [1, 1, at(0, 9)],
      [1, 2, at(1, 9)],
      [2, 1, at(2, 9)],
      [2, 2, at(3, 9)],
    ])
  })

  test("with twelve places it follows an hour later", () => {
    const both = [job(), job({ id: 2, priority: 1 })]
    expect(starts(both, { ...shop, turnerPlaces: 12 })).toEqual([at(0, 9), at(0, 10), at(1, 9), at(1, 10)])
  })

  test("the one that is due first goes first, whatever its number", () => {
    const both = [job({ id: 1, priority: 5 }), job({ id: 2, priority: 1 })]
    expect(schedule(both, shop).steps[0]?.jobId).toBe(2)
  })
})

describe("how many cups go together", () => {
  test("no more than there are places, and no more than one day's work", () => {
    expect(mostCupsTogether(job().steps, shop)).toBe(6)
    // 480 minutes a day, 10 of coating and 10 of scuffing a cup
    expect(mostCupsTogether(job().steps, { ...shop, turnerPlaces: 100 })).toBe(24)
  })

  test("none where there is no turner for a coat that must turn", () => {
    expect(mostCupsTogether(job().steps, { ...shop, turnerPlaces: 0 })).toBe(0)
  })
})

describe("the bound that no plan beats", () => {
  test("one batch alone is as quick as it can be", () => {
    expect(earliestReadyMin([job()], shop)).toBe(schedule([job()], shop).readyMin.get(1))
  })

  test("ten batches cannot turn faster than the places allow", () => {
    const ten = Array.from({ length: 10 }, (_, id) => job({ id, priority: id }))
    // 10 batches × 2 coats × (60 + 480) minutes on all six places, then what is left of the cure
    expect(earliestReadyMin(ten, shop)).toBe(540 + 20 * 540 + (4320 - 480))
  })
})

test("hours that never open are a mistake of the caller", () => {
  expect(() => new OpenDays({ ...shop.hours, closesMin: 540 }, shop.today)).toThrow(RangeError)
  expect(() => new OpenDays({ ...shop.hours, weekdaysOff: [1, 2, 3, 4, 5, 6, 7] }, shop.today)).toThrow(
    RangeError,
  )
})
