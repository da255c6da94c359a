import { describe, expect, test } from "vitest"
import type { Working } from "../../server/domain/plan.ts"
import { readableWorking } from "../../server/domain/readable-working.ts"

const working = (value: number, unit: string): Working => ({
  title: "Blue for 1 cup",
  formula: "cups × amount a cup",
  inputs: [{ name: "amount a cup", value, unit, from: "design" }],
  result: { value, unit },
})

describe("a working in the units people read", () => {
  test.each([
    [25_000, "uL", 25, "mL"],
    [12_345, "mg", 12.345, "g"],
    [52_700.4, "mm2", 527, "cm²"],
    [300, "um", 0.3, "mm"],
    [90_000, "um", 9, "cm"],
    [250_000, "ppm", 25, "%"],
    [1150, "mg/mL", 1.15, "g/mL"],
    [20_000, "mg/L", 20, "g a litre"],
    [120_000, "uL/m2", 120, "mL a m²"],
    [3, "each/m2", 3, "pieces a m²"],
    [6, "each", 6, ""],
    [1, "cups", 1, "cup"],
    [2, "mixes", 2, "mixes"],
    [1, "mixes", 1, "mix"],
    [1, "parts", 1, "part"],
  ])("%d %s is %d %s", (value, unit, readValue, readUnit) => {
    const read = readableWorking(working(value, unit), "metric")
    expect(read.inputs[0]).toEqual({ name: "amount a cup", value: readValue, unit: readUnit, from: "design" })
    expect(read.result).toEqual({ value: readValue, unit: readUnit })
    expect(read.formula).toBe("cups × amount a cup")
  })

  test("in US units: fluid ounces, ounces, mil and inches", () => {
    const us = (value: number, unit: string) => readableWorking(working(value, unit), "us").result
    // 1 US fl oz = 29.5735295625 mL, 1 mil = 25.4 µm, 1 oz = 28.349523125 g (NIST Handbook 44 appendix C)
    expect(us(29_574, "uL")).toEqual({ value: 1, unit: "fl oz" })
    expect(us(28_350, "mg")).toEqual({ value: 1, unit: "oz" })
    expect(us(254, "um")).toEqual({ value: 10, unit: "mil" })
    expect(us(101_600, "um")).toEqual({ value: 4, unit: "in" })
  })
})
