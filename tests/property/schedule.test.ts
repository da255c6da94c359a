import fc from "fast-check"
import { describe, expect, test } from "vitest"
import {
  earliestReadyMin,
  type Job,
  mostCupsTogether,
  type PlannedStep,
  type Shop,
  type StepTimes,
  schedule,
  splitCups,
} from "../../server/domain/schedule.ts"
import { SLOT_MIN } from "../../server/domain/shop-hours.ts"

const minutes = (max: number) => fc.integer({ min: 0, max: max / SLOT_MIN }).map((slots) => slots * SLOT_MIN)

const shop: fc.Arbitrary<Shop> = fc
  .record({
    opensMin: minutes(12 * 60),
    lengthMin: fc.integer({ min: 24, max: 100 }).map((slots) => slots * SLOT_MIN),
    weekdaysOff: fc.uniqueArray(fc.integer({ min: 1, max: 7 }), { maxLength: 5 }),
    nowMin: minutes(20 * 60),
    turnerPlaces: fc.integer({ min: 1, max: 8 }),
    scuffMin: fc.constantFrom(0, 5, 10),
  })
  .map(({ opensMin, lengthMin, weekdaysOff, ...rest }) => ({
    ...rest,
    today: "2026-12-01",
    hours: {
      opensMin,
      closesMin: Math.min(opensMin + lengthMin, 1440),
      weekdaysOff,
      daysOff: ["2026-12-03"],
    },
  }))

const step: fc.Arbitrary<Omit<StepTimes, "position" | "name">> = fc
  .record({
    handsOnMin: fc.constantFrom(0, 5, 10, 15),
    turnerMin: fc.oneof(fc.constant(0), minutes(20 * 60)),
    recoatEarliestMin: minutes(24 * 60),
    wait: fc.option(minutes(48 * 60)),
  })
  .map(({ wait, ...times }) => ({
    ...times,
    recoatLatestMin: wait === null ? null : times.recoatEarliestMin + wait,
  }))

const jobsFor = (aShop: Shop, most = 5): fc.Arbitrary<Job[]> =>
  fc
    .array(
      fc.record({
        steps: fc.array(step, { minLength: 1, maxLength: 5 }),
        wish: fc.integer({ min: 1, max: 12 }),
        fullCureMin: minutes(72 * 60),
        priority: fc.integer({ min: 0, max: 3 }),
      }),
      { minLength: 1, maxLength: most },
    )
    .map((wishes) =>
      wishes.map(({ steps, wish, ...job }, id) => {
        const named = steps.map((times, index) => ({
          ...times,
          position: index + 1,
          name: `layer ${index + 1}`,
        }))
        return { ...job, id, steps: named, cups: Math.max(1, Math.min(wish, mostCupsTogether(named, aShop))) }
      }),
    )
    .filter((jobs) => jobs.every((job) => job.cups <= mostCupsTogether(job.steps, aShop)))

const work = shop.chain((aShop) => fc.tuple(fc.constant(aShop), jobsFor(aShop)))

describe("whatever the shop and the orders", () => {
  test("a person works on one thing at a time, within the hours of an open day, and never before now", () => {
    fc.assert(
      fc.property(work, ([aShop, jobs]) => {
        const { steps } = schedule(jobs, aShop)
        const hands = steps.filter((one) => one.handsOffMin > one.startMin)
        for (const [index, one] of hands.entries()) {
          const day = Math.floor(one.startMin / 1440)
          expect(one.startMin).toBeGreaterThanOrEqual(aShop.nowMin)
          expect(one.startMin - day * 1440).toBeGreaterThanOrEqual(aShop.hours.opensMin)
          expect(one.handsOffMin - day * 1440).toBeLessThanOrEqual(aShop.hours.closesMin)
          // 2026-12-01 is a Tuesday; the 3rd is off
          expect(aShop.hours.weekdaysOff).not.toContain(((1 + day) % 7) + 1)
          expect(day).not.toBe(2)
          const next = hands[index + 1]
          if (next) expect(next.startMin).toBeGreaterThanOrEqual(one.handsOffMin)
        }
      }),
    )
  })

  test("there are never more cups on the turners than places", () => {
    fc.assert(
      fc.property(work, ([aShop, jobs]) => {
        const turning = schedule(jobs, aShop).steps.filter((one) => one.turnedMin > one.handsOffMin)
        for (const { startMin } of turning) {
          const at = turning.filter((one) => one.startMin <= startMin && startMin < one.turnedMin)
          expect(at.reduce((cups, one) => cups + one.cups, 0)).toBeLessThanOrEqual(aShop.turnerPlaces)
        }
      }),
    )
  })

  test("layers come in order, none before the coat below allows, none past its latest without scuffing", () => {
    fc.assert(
      fc.property(work, ([aShop, jobs]) => {
        const { steps } = schedule(jobs, aShop)
        for (const job of jobs) {
          const own = steps.filter((one) => one.jobId === job.id).sort((a, b) => a.position - b.position)
          expect(own.map((one) => one.position)).toEqual(job.steps.map((one) => one.position))
          for (const [index, later] of own.entries()) {
            const before = own[index - 1]
            if (!before) continue
            const times = job.steps[index - 1] as StepTimes
            const gap = later.startMin - before.handsOffMin
            expect(gap).toBeGreaterThanOrEqual(times.recoatEarliestMin)
            expect(later.startMin).toBeGreaterThanOrEqual(before.turnedMin)
            const isLate = times.recoatLatestMin !== null && gap > times.recoatLatestMin
            expect(later.scuffs || !isLate).toBe(true)
            if (later.scuffs) expect(workOf(later)).toBe(workMin(job, index) + aShop.scuffMin * job.cups)
          }
        }
      }),
    )
  })

  test("no job is ready before the bound that no plan beats", () => {
    fc.assert(
      fc.property(work, ([aShop, jobs]) => {
        const { readyMin } = schedule(jobs, aShop)
        const last = Math.max(...jobs.map((job) => readyMin.get(job.id) ?? Number.POSITIVE_INFINITY))
        expect(earliestReadyMin(jobs, aShop)).toBeLessThanOrEqual(last)
      }),
    )
  })

  test("what is under way keeps its places, and its next coat waits until it may go on", () => {
    fc.assert(
      fc.property(work, minutes(72 * 60), ([aShop, jobs], mayFromMin) => {
        const [first, ...others] = jobs
        if (!first || first.cups > aShop.turnerPlaces) return
        const underWay = { mayFromMin, mustByMin: null, turnsUntilMin: mayFromMin }
        const { steps } = schedule([{ ...first, underWay }, ...others], aShop)
        for (const one of steps) {
          if (one.jobId === first.id) expect(one.startMin).toBeGreaterThanOrEqual(mayFromMin)
          else if (one.turnedMin > one.handsOffMin && one.startMin < mayFromMin)
            expect(one.cups + first.cups).toBeLessThanOrEqual(aShop.turnerPlaces)
        }
      }),
    )
  })

  test("cups are shared out over jobs without one too many or too few", () => {
    fc.assert(
      fc.property(fc.integer({ min: 1, max: 500 }), fc.integer({ min: 1, max: 40 }), (cups, most) => {
        const sizes = splitCups(cups, most)
        expect(sizes.reduce((a, b) => a + b, 0)).toBe(cups)
        expect(Math.max(...sizes)).toBeLessThanOrEqual(most)
        expect(Math.max(...sizes) - Math.min(...sizes)).toBeLessThanOrEqual(1)
      }),
    )
  })
})

function workOf(one: PlannedStep): number {
  return one.handsOffMin - one.startMin
}

function workMin(job: Job, index: number): number {
  return Math.ceil(((job.steps[index]?.handsOnMin ?? 0) * job.cups) / SLOT_MIN) * SLOT_MIN
}
