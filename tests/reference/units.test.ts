import { describe, expect, test } from "vitest"
import { fromUnit, toUnit, UNITS } from "../../server/domain/units.ts"

// NIST SP 811 and NIST Handbook 44 appendix C: these conversions are exact by definition.
describe("exact conversions of NIST SP 811 and Handbook 44 appendix C", () => {
  test("1 in = 25.4 mm, 1 mil = 25.4 µm", () => {
    expect(UNITS.in.size / UNITS.mm.size).toBe(25.4)
    expect(UNITS.mil.size / UNITS.µm.size).toBe(25.4)
    expect(fromUnit(1, "in")).toBe(25_400)
  })

  test("1 ft² = 0.09290304 m²", () => {
    expect(UNITS["ft²"].size).toBe(92_903.04)
    expect(toUnit(UNITS["ft²"].size, "m²")).toBeCloseTo(0.09290304, 15)
    expect(UNITS["ft²"].size).toBeCloseTo(144 * UNITS["in²"].size, 9)
    expect(UNITS["in²"].size).toBeCloseTo(25.4 ** 2, 12)
  })

  test("1 US fl oz = 29.5735295625 mL, of which 128 make a gallon", () => {
    expect(toUnit(UNITS["fl oz"].size, "mL")).toBe(29.5735295625)
    expect(128 * UNITS["fl oz"].size).toBeCloseTo(UNITS.gal.size, 9)
  })

  test("1 US gal = 3.785411784 L = 231 in³", () => {
    expect(toUnit(UNITS.gal.size, "L")).toBe(3.785411784)
    // 1 in³ = 2.54³ mL
    expect(toUnit(UNITS.gal.size, "mL")).toBeCloseTo(231 * 2.54 ** 3, 9)
  })

  test("1 US qt = 0.946352946 L, 2 US pt", () => {
    expect(toUnit(UNITS.qt.size, "L")).toBe(0.946352946)
    expect(2 * UNITS.pt.size).toBe(UNITS.qt.size)
    expect(4 * UNITS.qt.size).toBe(UNITS.gal.size)
  })

  test("1 oz = 28.349523125 g, 1 lb = 453.59237 g = 16 oz", () => {
    expect(toUnit(UNITS.oz.size, "g")).toBe(28.349523125)
    expect(toUnit(UNITS.lb.size, "g")).toBe(453.59237)
    expect(16 * UNITS.oz.size).toBe(UNITS.lb.size)
  })

  test("1 ft = 12 in, 1 yd = 3 ft", () => {
    expect(UNITS.ft.size).toBe(12 * UNITS.in.size)
    expect(UNITS.yd.size).toBe(3 * UNITS.ft.size)
  })
})
