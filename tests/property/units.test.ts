import fc from "fast-check"
import { expect, test } from "vitest"
import { fieldAmount, formatAmount, parseAmount, UNITS, type UnitName } from "../../server/domain/units.ts"

const unitNames = Object.keys(UNITS) as UnitName[]

test("what an entry field shows is read back as exactly the same amount, in every unit", () => {
  fc.assert(
    fc.property(fc.integer({ min: 1, max: 1e10 }), fc.constantFrom(...unitNames), (amount, unit) => {
      const shown = fieldAmount(amount, unit)
      expect(parseAmount(shown, UNITS[unit].base, unit)).toEqual({ ok: true, amount })
      // with its unit, too; an "oz" is a weight here, since the supply is
      expect(parseAmount(`${shown} ${unit}`, UNITS[unit].base, unit)).toEqual({ ok: true, amount })
    }),
  )
})

test("whatever is typed gives a whole amount above zero or a sentence that ends with a full stop", () => {
  const typed = fc.oneof(
    fc.string({ unit: "binary", maxLength: 60 }),
    fc
      .tuple(fc.double(), fc.constantFrom(...unitNames, "", " ", "e5", "oz wt"))
      .map(([n, unit]) => `${n}${unit}`),
    fc.stringMatching(/^[0-9.,\s/½-]{0,12} ?(ml|oz|in|"|pcs)?$/),
  )
  const density = fc.option(fc.integer({ min: 100, max: 25_000 }))
  fc.assert(
    fc.property(typed, fc.constantFrom(...unitNames), density, (text, bareUnit, densityMgPerMl) => {
      const parsed = parseAmount(text, UNITS[bareUnit].base, bareUnit, densityMgPerMl)
      if (parsed.ok) {
        expect(Number.isSafeInteger(parsed.amount)).toBe(true)
        expect(parsed.amount).toBeGreaterThan(0)
        expect(parsed.amount).toBeLessThanOrEqual(1e12)
      } else {
        expect(parsed.message).toMatch(/^[^\n]{10,200}\.$/u)
      }
    }),
    { numRuns: 500 },
  )
})

test("what a page says is within half a hundredth of the amount", () => {
  const base = fc.constantFrom("uL", "mg", "um", "mm2" as const)
  const system = fc.constantFrom("metric", "us" as const)
  fc.assert(
    fc.property(fc.integer({ min: 1000, max: 1e9 }), base, system, (amount, baseUnit, units) => {
      const said = formatAmount(amount, baseUnit, units)
      const read = /^([\d.]+) (.+)$/.exec(said)!
      const back = Number(read[1]) * UNITS[read[2] as UnitName].size
      // two decimals of 0.1 of the unit at worst: 5 %; above 1 of the unit half a per cent
      const tolerance = Number(read[1]) >= 1 ? 0.0051 : 0.051
      expect(Math.abs(back - amount) / amount).toBeLessThanOrEqual(tolerance)
    }),
  )
})
