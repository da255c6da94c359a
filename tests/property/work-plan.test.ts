import fc from "fast-check"
import { expect, test } from "vitest"
import {
  type Job,
  mostCupsTogether,
  type Shop,
  type StepTimes,
  splitCups,
} from "../../server/domain/schedule.ts"
import { type LineJobs, planWork } from "../../server/domain/work-plan.ts"

const SHOP: Shop = {
  hours: { opensMin: 540, closesMin: 900, weekdaysOff: [7], daysOff: ["2026-12-03"] },
  today: "2026-12-01",
  nowMin: 600,
  turnerPlaces: 4,
  scuffMin: 5,
}

const steps: fc.Arbitrary<StepTimes[]> = fc
  .array(
    fc.record({
      handsOnMin: fc.constantFrom(0, 5, 15),
      turnerMin: fc.constantFrom(0, 120, 480),
      recoatEarliestMin: fc.constantFrom(0, 600, 1440),
      recoatLatestMin: fc.constantFrom(null, 2880),
    }),
    { minLength: 1, maxLength: 4 },
  )
  .map((all) => all.map((one, i) => ({ ...one, position: i + 1, name: `layer ${i + 1}` })))

const lines: fc.Arbitrary<LineJobs[]> = fc
  .array(fc.record({ steps, cups: fc.integer({ min: 1, max: 14 }), day: fc.integer({ min: 0, max: 40 }) }), {
    minLength: 1,
    maxLength: 5,
  })
  .map((all) => {
    let id = 0
    return all
      .toSorted((a, b) => a.day - b.day)
      .map((one, index) => ({
        lineId: index + 1,
        dueMin: 1440 * one.day + SHOP.hours.closesMin,
        waits: true,
        jobs: splitCups(one.cups, mostCupsTogether(one.steps, SHOP)).map(
          (cups): Job => ({ id: ++id, cups, steps: one.steps, fullCureMin: 1440, priority: index }),
        ),
      }))
  })

test("waiting never makes fewer cups ready in time than beginning everything at once, and what waits is in time", () => {
  fc.assert(
    fc.property(lines, fc.integer({ min: 0, max: 10 }), (all, spare) => {
      const waiting = planWork([], all, SHOP, spare)
      const atOnce = planWork(
        [],
        all.map((line) => ({ ...line, waits: false })),
        SHOP,
        spare,
      )
      expect(cupsInTime(waiting)).toBeGreaterThanOrEqual(cupsInTime(atOnce))
      for (const { lineId, dueMin } of all) {
        const { readyMin, earliestMin } = waiting.lines.get(lineId)!
        if (readyMin !== earliestMin) expect(readyMin).toBeLessThanOrEqual(dueMin)
      }
    }),
    { numRuns: 200 },
  )
})

test("no two layers have the hands at once, no more cups turn than there are places, and no layer is before the one under it", () => {
  fc.assert(
    fc.property(lines, fc.integer({ min: 0, max: 10 }), (all, spare) => {
      const { steps } = planWork([], all, SHOP, spare)
      const hands = steps.filter((step) => step.handsOffMin > step.startMin)
      for (const [i, step] of hands.entries()) {
        const next = hands[i + 1]
        if (next) expect(next.startMin).toBeGreaterThanOrEqual(step.handsOffMin)
        expect(step.startMin % 1440).toBeGreaterThanOrEqual(SHOP.hours.opensMin)
        expect((step.handsOffMin - 1) % 1440).toBeLessThan(SHOP.hours.closesMin)
      }
      const turns = steps.filter((step) => step.turnedMin > step.handsOffMin)
      for (const { startMin } of turns) {
        const at = turns.filter((one) => one.startMin <= startMin && startMin < one.turnedMin)
        expect(at.reduce((cups, one) => cups + one.cups, 0)).toBeLessThanOrEqual(SHOP.turnerPlaces)
      }
      for (const { jobs } of all) {
        for (const job of jobs) {
          const own = steps
            .filter((step) => step.jobId === job.id)
            .toSorted((a, b) => a.position - b.position)
          expect(own).toHaveLength(job.steps.length)
          for (const [i, step] of own.entries()) {
            const under = own[i - 1]
            if (!under) continue
            expect(step.startMin).toBeGreaterThanOrEqual(
              Math.max(under.turnedMin, under.handsOffMin + job.steps[i - 1]!.recoatEarliestMin),
            )
          }
        }
      }
    }),
    { numRuns: 100 },
  )
})

test("begun on its latest start a line is in time, begun once it is due it is not; asking changes nothing", () => {
  fc.assert(
    fc.property(lines, (all) => {
      const plan = planWork([], all, SHOP, 2)
      for (const { lineId, dueMin } of all) {
        const day = plan.latestStart(lineId)
        if (day === null) {
          expect(plan.readyFrom(lineId, 0)).toBeGreaterThan(dueMin)
          continue
        }
        expect(plan.readyFrom(lineId, day * 1440)).toBeLessThanOrEqual(dueMin)
        expect(plan.readyFrom(lineId, dueMin + 1440)).toBeGreaterThan(dueMin)
        expect(plan.latestStart(lineId)).toBe(day)
        expect(plan.boundMin(lineId)).toBeLessThanOrEqual(
          plan.readyFrom(lineId, 0) ?? Number.POSITIVE_INFINITY,
        )
      }
    }),
    { numRuns: 100 },
  )
})

function cupsInTime(plan: ReturnType<typeof planWork>): number {
  return [...plan.lines.values()].reduce((sum, line) => sum + line.inTime, 0)
}
