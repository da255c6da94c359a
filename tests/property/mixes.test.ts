import fc from "fast-check"
import { expect, test } from "vitest"
import { mixedForCups } from "../../server/domain/films.ts"
import { planMixes } from "../../server/domain/mixes.ts"
import type { Measures, ResinUse } from "../../server/domain/plan.ts"
import { potLifeOfMixMin } from "../../server/domain/pot-life.ts"
import {
  leastOnMarks,
  RATIO_LIMIT_PPM,
  RATIO_TOLERANCE_PPM,
  ratioErrorPpm,
} from "../../server/domain/ratio.ts"
import { Refusal } from "../../server/domain/refusal.ts"
import { resinUse, supply, system } from "../unit/plan-fixtures.ts"

const uses: fc.Arbitrary<ResinUse> = fc
  .record({
    basis: fc.constantFrom("volume" as const, "mass" as const),
    ratioA: fc.integer({ min: 1, max: 10 }),
    ratioB: fc.integer({ min: 1, max: 10 }),
    potLifeMin: fc.integer({ min: 5, max: 120 }),
    largestMixUl: fc.integer({ min: 65_000, max: 500_000 }),
    amount: fc.integer({ min: 15_000, max: 60_000 }),
    residueUl: fc.integer({ min: 0, max: 5_000 }),
    densityA: fc.integer({ min: 900, max: 1300 }),
    densityB: fc.integer({ min: 900, max: 1300 }),
    counted: fc.constantFrom("uL" as const, "mg" as const),
  })
  .map((r) =>
    resinUse({
      amount: r.amount,
      residueUl: r.residueUl,
      system: system({
        ratioBasis: r.basis,
        ratioA: r.ratioA,
        ratioB: r.ratioB,
        potLifeMin: r.potLifeMin,
        largestMixUl: r.largestMixUl,
        partA: supply(1, { baseUnit: r.counted, densityMgPerMl: r.densityA }),
        partB: supply(2, { baseUnit: r.counted, densityMgPerMl: r.densityB }),
      }),
    }),
  )

const cupCounts = fc.integer({ min: 1, max: 60 })
const measures: fc.Arbitrary<Measures> = fc.record({
  volumeStepUl: fc.constantFrom(1, 100, 500, 5_000, 10_000),
  massStepMg: fc.constantFrom(1, 10, 100, 1_000),
  roomCelsius: fc.integer({ min: 15, max: 35 }),
})
const areaMm2 = 50_000

/** The mixes, or null where the plan is refused: then it must be for every number of cups. */
function mixesOf(use: ResinUse, cups: number, steps: Measures, area = areaMm2) {
  try {
    return planMixes(use, area, cups, steps)
  } catch (error) {
    if (error instanceof Refusal) return null
    throw error
  }
}

test("what is planned for some cups can be planned for fewer and for more", () => {
  fc.assert(
    fc.property(uses, cupCounts, measures, (use, cups, steps) => {
      expect(mixesOf(use, cups, steps) === null).toBe(mixesOf(use, 1, steps) === null)
    }),
  )
})

test("every cup is in one mix, sizes differ by one at most, no mix is too slow, too large or too little", () => {
  fc.assert(
    fc.property(uses, cupCounts, measures, (use, cups, steps) => {
      const mixes = mixesOf(use, cups, steps)
      fc.pre(mixes !== null)
      const sizes = mixes.map((mix) => mix.cups)
      expect(sizes.reduce((a, b) => a + b, 0)).toBe(cups)
      expect(Math.max(...sizes) - Math.min(...sizes)).toBeLessThanOrEqual(1)
      for (const mix of mixes) {
        const { system } = use
        const potLife = potLifeOfMixMin(system, mix.mixedUl, steps.roomCelsius)
        expect(system.mixingMin + mix.cups * system.cupWorkMin).toBeLessThanOrEqual(potLife)
        expect(mix.mixedUl).toBeLessThanOrEqual(system.largestMixUl)
        expect(mix.mixedUl).toBeGreaterThanOrEqual(mixedForCups(use, areaMm2, mix.cups) - 1)
        expect(Number.isInteger(mix.partA) && Number.isInteger(mix.partB)).toBe(true)
      }
    }),
  )
})

test("A and B land on marks, within 2 % of the ratio, or flagged and within 5 %", () => {
  fc.assert(
    fc.property(uses, cupCounts, measures, (use, cups, steps) => {
      const mixes = mixesOf(use, cups, steps)
      fc.pre(mixes !== null)
      const { ratioBasis, ratioA, ratioB } = use.system
      const step = ratioBasis === "volume" ? steps.volumeStepUl : steps.massStepMg
      for (const { measured, ratioErrorPpm: stated, flag } of mixes) {
        expect([measured.basis, measured.a % step, measured.b % step]).toEqual([ratioBasis, 0, 0])
        const off = Math.abs(ratioErrorPpm(measured.a, measured.b, ratioA / ratioB))
        expect(Math.abs(stated)).toBe(off)
        expect(off).toBeLessThanOrEqual(flag === "ratio" ? RATIO_LIMIT_PPM : RATIO_TOLERANCE_PPM)
      }
    }),
  )
})

test("one mix never takes less of either part for more cups, more film or more area", () => {
  const oneMix = (use: ResinUse, area: number, cups: number, steps: Measures) =>
    planMixes(
      { ...use, system: { ...use.system, largestMixUl: 1e9, potLifeMin: 1e7 } },
      area,
      cups,
      steps,
    )[0]!
  const more = fc.integer({ min: 0, max: 20_000 })
  fc.assert(
    fc.property(
      uses,
      fc.integer({ min: 1, max: 20 }),
      measures,
      more,
      more,
      (use, cups, steps, film, area) => {
        const film_ = { ...use, how: "resin-film" as const, amount: use.amount / 100 }
        const before = oneMix(film_, areaMm2, cups, steps)
        for (const after of [
          oneMix(film_, areaMm2, cups + 1, steps),
          oneMix({ ...film_, amount: film_.amount + film / 100 }, areaMm2, cups, steps),
          oneMix(film_, areaMm2 + area, cups, steps),
        ]) {
          expect(after.partA).toBeGreaterThanOrEqual(before.partA)
          expect(after.partB).toBeGreaterThanOrEqual(before.partB)
        }
      },
    ),
  )
})

test("all mixes together never take less for more cups, but for what smaller mixes round up less", () => {
  fc.assert(
    fc.property(uses, cupCounts, (use, cups) => {
      const toTheDrop = { volumeStepUl: 1, massStepMg: 1 }
      const total = (count: number) =>
        (mixesOf(use, count, toTheDrop) ?? []).reduce((sum, mix) => sum + mix.mixedUl, 0)
      // to the µL or mg, each mix rounds up by a few µL at most
      expect(total(cups + 1)).toBeGreaterThanOrEqual(total(cups) - 5 * cups)
    }),
  )
})

test("fewer mixes than planned would break the pot life or the largest safe mix", () => {
  fc.assert(
    fc.property(uses, cupCounts, (use, cups) => {
      const toTheDrop = { volumeStepUl: 1, massStepMg: 1 }
      const mixes = mixesOf(use, cups, toTheDrop)
      fc.pre(mixes !== null && mixes.length > 1)
      const { system } = use
      const fuller = Math.ceil(cups / (mixes.length - 1))
      // rounding both parts up to the µL or mg adds a few µL at most
      const mixedUl = mixedForCups(use, areaMm2, fuller) + 5
      const tooSlow = system.mixingMin + fuller * system.cupWorkMin > potLifeOfMixMin(system, mixedUl)
      expect(tooSlow || mixedUl > system.largestMixUl).toBe(true)
    }),
  )
})

test("no pair of marks that keeps the ratio has less of A or less of B (against trying them all)", () => {
  const part = fc.integer({ min: 1, max: 12 })
  const wanted = fc.double({ min: 0.1, max: 60, noNaN: true })
  const tolerance = fc.constantFrom(RATIO_TOLERANCE_PPM, RATIO_LIMIT_PPM)
  fc.assert(
    fc.property(part, part, wanted, wanted, tolerance, (ratioA, ratioB, a, b, tolerancePpm) => {
      const ratio = ratioA / ratioB
      const found = leastOnMarks([a, b], 1, ratio, tolerancePpm)
      const keeps = (x: number, y: number) => Math.abs(x / y / ratio - 1) <= tolerancePpm / 1e6 + 1e-9
      expect(found[0] >= a - 1e-6 && found[1] >= b - 1e-6 && keeps(...found)).toBe(true)
      for (let x = Math.ceil(a); x <= found[0]; x++) {
        for (let y = Math.ceil(b); y <= found[1]; y++) {
          if (keeps(x, y)) expect([x, y]).toEqual([...found])
        }
      }
    }),
  )
})
