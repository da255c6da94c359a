import { describe, expect, test } from "vitest"
import { economicOrderQuantity, normalQuantile, reorderPoint } from "../../server/domain/reorder.ts"

describe("standard normal quantile", () => {
  // NIST/SEMATECH e-Handbook of Statistical Methods, table of the normal distribution
  test.each([
    [0.9, 1.2816],
    [0.95, 1.6449],
    [0.98, 2.0537],
    [0.99, 2.3263],
  ])("z(%d) = %d", (p, z) => expect(normalQuantile(p)).toBeCloseTo(z, 4))

  test("gives back the area under the curve, integrated numerically (Simpson), near the middle and in the tails", () => {
    for (const p of [0.0001, 0.001, 0.01, 0.1, 0.3, 0.5, 0.55, 0.8, 0.925, 0.975, 0.999, 0.9999]) {
      expect(areaBelow(normalQuantile(p))).toBeCloseTo(p, 9)
    }
  })

  test("is as far below the middle as above it", () => {
    for (const p of [0.6, 0.93, 0.9999999]) expect(normalQuantile(1 - p)).toBeCloseTo(-normalQuantile(p), 8)
  })
})

describe("reorder point", () => {
  test("carpet store: 30 a day, sd 5, 10 days, 95 % → safety stock 26.1, reorder point 326.1", () => {
    // R. Russell and B. Taylor, Operations Management, the carpet store example (z taken as 1.65 there)
    const demand = { meanPerDay: 30, sdPerDay: 5, leadDays: 10, sdLeadDays: 0 }
    const { safety, point, z } = reorderPoint(demand, 0.95)
    expect((safety / z) * 1.65).toBeCloseTo(26.1, 1)
    expect(point - safety + (safety / z) * 1.65).toBeCloseTo(326.1, 1)
  })
})

describe("economic order quantity", () => {
  test("K = 180, h = 0.40 a week, 157.5 a week → 377 to the unit above", () => {
    // S. Nahmias, Production and Operations Analysis, 5th ed., problem 7.11
    expect(Math.ceil(economicOrderQuantity({ perOrder: 180, use: 157.5, keeping: 0.4 }))).toBe(377)
  })

  test("carpet store: 10 000 a year, setup 150, holding 0.75 → 2 000", () => {
    // R. Russell and B. Taylor, from memory; recomputes
    expect(economicOrderQuantity({ perOrder: 150, use: 10_000, keeping: 0.75 })).toBeCloseTo(2000, 6)
  })
})

/** Area under the standard normal curve below z, by Simpson's rule in steps of 1/2000. */
function areaBelow(z: number): number {
  const from = -9
  const n = 2 * Math.ceil((z - from) * 1000)
  const h = (z - from) / n
  const f = (x: number) => Math.exp((-x * x) / 2) / Math.sqrt(2 * Math.PI)
  let sum = f(from) + f(z)
  for (let i = 1; i < n; i++) sum += (i % 2 === 1 ? 4 : 2) * f(from + i * h)
  return (sum * h) / 3
}
