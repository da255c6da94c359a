import fc from "fast-check"
import { expect, test } from "vitest"
import { openPool, type Shelved } from "../../server/domain/allocation.ts"
import { plusDays } from "../../server/domain/dates.ts"
import { layerNeed, needTotals, planNeed } from "../../server/domain/layers.ts"
import type { Plan } from "../../server/domain/plan.ts"
import { wantsOf } from "../../server/domain/wants.ts"
import { A, ask, B, BLANK, bottle, LID, line, SHOP, TODAY } from "../unit/forecast-fixtures.ts"
import { fine, layer, plan, resinUse, supply, supplyUse, system } from "../unit/plan-fixtures.ts"

const GLITTER = 4
const A2 = 5
const SUPPLIES = [A, B, LID, GLITTER, A2, BLANK]

/** The second system shares its B with the first, as one hardener may serve two resins. */
const systems = [system(), system({ id: 2, partA: supply(A2), ratioA: 2, ratioB: 1, largestMixUl: 130_000 })]

const use = fc.oneof(
  fc
    .record({ amount: fc.integer({ min: 3_000, max: 40_000 }), which: fc.integer({ min: 0, max: 1 }) })
    .map(({ amount, which }) => resinUse({ amount, system: systems[which]! })),
  fc
    .integer({ min: 1, max: 3 })
    .map((amount) => supplyUse({ supply: supply(LID, { baseUnit: "each" }), amount })),
  fc
    .record({
      amount: fc.integer({ min: 1, max: 90_000 }),
      how: fc.constantFrom("per-cup", "per-resin", "per-batch"),
    })
    .map(({ amount, how }) => supplyUse({ supply: supply(GLITTER, { baseUnit: "mg" }), amount, how })),
)
const plans: fc.Arbitrary<Plan> = fc
  .array(fc.record({ uses: fc.array(use, { maxLength: 3 }), hours: fc.integer({ min: 0, max: 60 }) }), {
    minLength: 1,
    maxLength: 4,
  })
  .map((layers) =>
    plan(
      layers.map(({ uses, hours }, i) =>
        layer(i + 1, uses, { recoatEarliestMin: hours * 60, turnerMin: 60 }),
      ),
    ),
  )

const shelves: fc.Arbitrary<Shelved[]> = fc
  .array(
    fc.record({
      supplyId: fc.constantFrom(...SUPPLIES),
      amountLeft: fc.integer({ min: 0, max: 400_000 }),
      openedOn: fc.option(fc.constant("2026-11-20")),
      useBy: fc.option(fc.integer({ min: -3, max: 30 }).map((n) => plusDays(TODAY, n))),
      held: fc.boolean(),
      onBench: fc.boolean(),
      kitUnit: fc.option(fc.integer({ min: 1, max: 4 })),
      openLife: fc.option(
        fc.record({ unit: fc.constant("days" as const), value: fc.integer({ min: 1, max: 9 }) }),
      ),
    }),
    { maxLength: 24 },
  )
  .map((rows) =>
    rows.map((row, i) => {
      // lids and blanks are counted in tens, not in hundred thousands
      const counted = row.supplyId === LID || row.supplyId === BLANK
      return { ...row, containerId: i + 1, amountLeft: counted ? row.amountLeft % 40 : row.amountLeft }
    }),
  )

const orders = fc.array(
  fc.record({ plan: plans, cups: fc.integer({ min: 1, max: 15 }), days: fc.integer({ min: 0, max: 40 }) }),
  { minLength: 1, maxLength: 6 },
)

test("needs of a forecast are exactly the sum of its plans' needs", () => {
  fc.assert(
    fc.property(orders, shelves, (lines, shelf) => {
      const { needs, neededBy } = ask({
        lines: lines.map((one, i) => line(i + 1, plusDays(TODAY, one.days), one.cups, one.plan)),
        shelf,
      })
      for (const { on, supplyId, amount } of needs) {
        const own = neededBy(supplyId).filter((need) => need.on === on)
        expect(own.reduce((total, need) => total + need.amount, 0)).toBe(amount)
        expect(own.every((need) => need.lineId !== null && need.design !== null)).toBe(true)
      }
      const sum = new Map<number, number>()
      for (const need of needs) sum.set(need.supplyId, (sum.get(need.supplyId) ?? 0) + need.amount)
      const expected = needTotals(lines.flatMap((one) => planNeed(one.plan, one.cups, fine)))
      expect([...sum].toSorted()).toEqual([...expected].toSorted())
      const days = needs.map((need) => `${need.on} ${need.supplyId}`)
      expect(new Set(days).size).toBe(days.length)
    }),
    { numRuns: 150 },
  )
})

test("what is taken and what is missing make up the need, and no container gives more than it holds", () => {
  fc.assert(
    fc.property(orders, shelves, (lines, shelf) => {
      const { needs, shortfalls, takenFrom } = ask({
        lines: lines.map((one, i) => line(i + 1, plusDays(TODAY, one.days), one.cups, one.plan)),
        shelf,
      })
      for (const supplyId of SUPPLIES) {
        const own = shelf.filter((one) => one.supplyId === supplyId)
        for (const one of own) expect(takenFrom.get(one.containerId) ?? 0).toBeLessThanOrEqual(one.amountLeft)
        const taken = own.reduce((sum, one) => sum + (takenFrom.get(one.containerId) ?? 0), 0)
        const short = shortfalls.find((one) => one.supplyId === supplyId)
        const needed = needs.reduce((sum, need) => sum + (need.supplyId === supplyId ? need.amount : 0), 0)
        expect(taken + (short?.missing ?? 0)).toBe(needed)
        expect(short?.days.reduce((sum, one) => sum + one.missing, 0) ?? 0).toBe(short?.missing ?? 0)
      }
    }),
    { numRuns: 150 },
  )
})

/** Makes the cups layer by layer, as a batch does, each on its day. */
function makes(
  of: Plan,
  cups: number,
  shelf: readonly Shelved[],
  onOf: (position: number) => string,
): boolean {
  const pool = openPool(shelf)
  return of.layers.every(
    (one) =>
      pool.takeAll(wantsOf(layerNeed(of, one, cups, fine), cups), onOf(one.position)).missing.length === 0,
  )
}

test("where the forecast says enough for a number of cups, making them on the days it gives succeeds", () => {
  fc.assert(
    fc.property(plans, fc.integer({ min: 1, max: 15 }), shelves, (of, cups, shelf) => {
      const { lines, steps } = ask({ lines: [line(1, TODAY, cups, of)], shelf })
      const { covered } = lines[0]!
      const onOf = (position: number) => steps.find((step) => step.position === position)!.on
      if (covered > 0) expect(makes(of, covered, shelf, onOf)).toBe(true)
      if (covered === cups) return
      expect(makes(of, cups, shelf, onOf)).toBe(false)
      expect(lines[0]!.stops).not.toBeNull()
    }),
    { numRuns: 300 },
  )
})

test("an order that is covered on later days is covered when it alone is walked through them", () => {
  fc.assert(
    fc.property(orders, shelves, (lines, shelf) => {
      const open = lines.map((one, i) => line(i + 1, plusDays(TODAY, one.days), one.cups, one.plan))
      const whole = ask({ lines: open, shelf })
      for (const outlook of whole.lines) {
        if (outlook.covered === 0) continue
        const fewer = open.map((one) =>
          one.lineId === outlook.lineId
            ? line(one.lineId, one.dueOn, outlook.covered, one.work[0]!.plan)
            : one,
        )
        const again = ask({ lines: fewer, shelf }).lines.find((one) => one.lineId === outlook.lineId)!
        expect(again.covered).toBe(outlook.covered)
        expect(again.stops).toBeNull()
      }
    }),
    { numRuns: 150 },
  )
})

test("a later use-by day never makes an order of one day reach less far", () => {
  fc.assert(
    fc.property(
      plans,
      fc.integer({ min: 1, max: 15 }),
      shelves,
      fc.nat({ max: 23 }),
      (of, cups, shelf, which) => {
        const before = ask({ lines: [line(1, TODAY, cups, of)], shelf }).lines[0]!.covered
        const longer = shelf.map((one, i) => (i === which ? { ...one, useBy: null } : one))
        expect(
          ask({ lines: [line(1, TODAY, cups, of)], shelf: longer }).lines[0]!.covered,
        ).toBeGreaterThanOrEqual(before)
      },
    ),
    { numRuns: 150 },
  )
})

test("a later use-by day of a sealed lot never makes the shortfalls of many days worse", () => {
  const lots = fc.array(
    fc.record({ amount: fc.integer({ min: 1, max: 12 }), day: fc.integer({ min: 0, max: 30 }) }),
    { minLength: 1, maxLength: 8 },
  )
  const asked = fc.array(
    fc.record({ cups: fc.integer({ min: 1, max: 9 }), day: fc.integer({ min: 0, max: 30 }) }),
    { minLength: 1, maxLength: 8 },
  )
  fc.assert(
    fc.property(lots, asked, fc.nat(), fc.integer({ min: 1, max: 20 }), (given, lines, which, later) => {
      const missing = (extra: number) => {
        const shelf = given.map(({ amount, day }, i) =>
          bottle(LID, amount, { useBy: plusDays(TODAY, day + (i === which % given.length ? extra : 0)) }),
        )
        const { shortfalls } = ask({
          lines: lines.map(({ cups, day }, i) => line(i + 1, plusDays(TODAY, day), cups)),
          shelf: [...shelf, bottle(BLANK, 1000)],
        })
        return shortfalls.reduce((sum, short) => sum + short.missing, 0)
      }
      expect(missing(later)).toBeLessThanOrEqual(missing(0))
    }),
    { numRuns: 200 },
  )
})

test("few turners split the work into jobs: needs are exactly those of making each job", () => {
  fc.assert(
    fc.property(orders, shelves, fc.integer({ min: 1, max: 6 }), (lines, shelf, turnerPlaces) => {
      const { needs, steps } = ask({
        lines: lines.map((one, i) => line(i + 1, plusDays(TODAY, one.days), one.cups, one.plan)),
        shelf,
        shop: { ...SHOP, turnerPlaces },
      })
      const planOf = (lineId: number | null) => lines[(lineId ?? 0) - 1]!.plan
      const expected = needTotals(
        steps.map((step) => {
          const of = planOf(step.lineId)
          return layerNeed(of, of.layers.find((one) => one.position === step.position)!, step.cups, fine)
        }),
      )
      const sum = new Map<number, number>()
      for (const need of needs) sum.set(need.supplyId, (sum.get(need.supplyId) ?? 0) + need.amount)
      expect([...sum].toSorted()).toEqual([...expected].toSorted())
      // and every cup goes through each of its layers once
      for (const [i, one] of lines.entries()) {
        for (const { position } of one.plan.layers) {
          const here = steps.filter((step) => step.lineId === i + 1 && step.position === position)
          expect(here.reduce((cups, step) => cups + step.cups, 0)).toBe(one.cups)
        }
      }
    }),
    { numRuns: 100 },
  )
})
