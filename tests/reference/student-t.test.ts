import { describe, expect, test } from "vitest"
import { studentT } from "../../server/domain/student-t.ts"

describe("critical values of Student's t", () => {
  // NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.2, upper tail 0.025 and 0.005: three decimals as
  // printed; written down from memory, so checked again below by integrating the density
  test.each([
    [1, 12.706, 63.657],
    [2, 4.303, 9.925],
    [3, 3.182, 5.841],
    [4, 2.776, 4.604],
    [5, 2.571, 4.032],
    [6, 2.447, 3.707],
    [7, 2.365, 3.499],
    [8, 2.306, 3.355],
    [9, 2.262, 3.25],
    [10, 2.228, 3.169],
    [15, 2.131, 2.947],
    [20, 2.086, 2.845],
    [30, 2.042, 2.75],
    [60, 2.0, 2.66],
    [100, 1.984, 2.626],
  ])("%d degrees of freedom: %d at 95 %%, %d at 99 %%", (degrees, at95, at99) => {
    expect(Math.abs(studentT(degrees, 0.95) - at95)).toBeLessThanOrEqual(0.0005)
    expect(Math.abs(studentT(degrees, 0.99) - at99)).toBeLessThanOrEqual(0.0005)
  })

  test("with very many degrees it is the normal distribution's", () => {
    // z(0.975) = 1.959964, z(0.95) = 1.644854: any table of the standard normal; t exceeds z by (z³ + z) ÷ 4ν
    const [z95, z90, degrees] = [1.959964, 1.644854, 100_000]
    expect(studentT(degrees, 0.95)).toBeCloseTo(z95 + (z95 ** 3 + z95) / 4 / degrees, 5)
    expect(studentT(degrees, 0.9)).toBeCloseTo(z90 + (z90 ** 3 + z90) / 4 / degrees, 5)
  })
})

test("the density between −t and t adds up to the confidence, for 1 to 40 degrees of freedom", () => {
  // Simpson's rule over the density, written apart from the series in the code: the constant
  // Γ((ν+1)/2) ÷ (√(νπ) Γ(ν/2)) steps up by two from ν = 1 (1/π) and ν = 2 (1/(2√2))
  for (let degrees = 1; degrees <= 40; degrees++) {
    let constant = degrees % 2 === 1 ? 1 / Math.PI : 1 / (2 * Math.SQRT2)
    for (let v = degrees % 2 === 1 ? 1 : 2; v < degrees; v += 2) {
      constant *= ((v + 1) / v) * Math.sqrt(v / (v + 2))
    }
    const density = (t: number) => constant * (1 + (t * t) / degrees) ** (-(degrees + 1) / 2)
    for (const confidence of [0.5, 0.9, 0.95, 0.99]) {
      const t = studentT(degrees, confidence)
      const steps = 20_000
      const h = t / steps
      let sum = density(0) + density(t)
      for (let i = 1; i < steps; i++) sum += density(i * h) * (i % 2 === 1 ? 4 : 2)
      expect(2 * (h / 3) * sum).toBeCloseTo(confidence, 9)
    }
  }
})

test("no t without degrees of freedom, nor for certainty", () => {
  for (const degrees of [0, -1, 1.5, Number.NaN]) expect(() => studentT(degrees, 0.95)).toThrow(RangeError)
  for (const confidence of [0, 1, Number.NaN]) expect(() => studentT(5, confidence)).toThrow(RangeError)
})
