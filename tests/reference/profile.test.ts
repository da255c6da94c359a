import { expect, test } from "vitest"
import { heightUm, lateralAreaMm2, type Ring, volumeMm3 } from "../../server/domain/profile.ts"

const frustum = (bottomMm: number, topMm: number, tallMm: number): Ring[] => [
  { heightUm: 0, diameterUm: bottomMm * 1000 },
  { heightUm: tallMm * 1000, diameterUm: topMm * 1000 },
]

/** A tumbler with a foot, a shoulder and a drawn-in lip. */
const shaped: Ring[] = [
  { heightUm: 0, diameterUm: 66_000 },
  { heightUm: 8_000, diameterUm: 71_500 },
  { heightUm: 120_000, diameterUm: 73_000 },
  { heightUm: 150_000, diameterUm: 91_000 },
  { heightUm: 205_000, diameterUm: 96_000 },
  { heightUm: 212_000, diameterUm: 93_500 },
]

const relativeError = (value: number, truth: number) => Math.abs(value / truth - 1)

test.each([
  [70, 76, 240],
  [80, 80, 200],
  [60, 120, 40],
])("a frustum %d to %d mm wide, %d mm tall, has the handbook's area and volume", (bottom, top, tall) => {
  // π (R + r) √((R − r)² + h²) and π h (R² + R r + r²) ÷ 3: CRC Standard Mathematical Tables, mensuration
  const [R, r, h] = [top / 2, bottom / 2, tall]
  const profile = frustum(bottom, top, tall)
  expect(lateralAreaMm2(profile, 0, tall * 1000)).toBeCloseTo(
    Math.PI * (R + r) * Math.sqrt((R - r) ** 2 + h ** 2),
    6,
  )
  expect(volumeMm3(profile)).toBeCloseTo((Math.PI * h * (R * R + R * r + r * r)) / 3, 5)
})

test("a 3-4-5 frustum adds up by hand: r 10 to 13 mm over 4 mm has slant 5, area 115 π, volume 532 π", () => {
  // 23 · 5 = 115; 4 · (169 + 130 + 100) ÷ 3 = 532: worked by hand from the same handbook formulas
  const rings = [
    { heightUm: 0, diameterUm: 20_000 },
    { heightUm: 4_000, diameterUm: 26_000 },
    { heightUm: 8_000, diameterUm: 20_000 },
  ]
  expect(lateralAreaMm2(rings, 0, 4_000)).toBeCloseTo(115 * Math.PI, 9)
  expect(lateralAreaMm2(rings, 0, 8_000)).toBeCloseTo(230 * Math.PI, 9)
  expect(volumeMm3(rings)).toBeCloseTo(2 * 532 * Math.PI, 9)
})

/** Width of the profile at a height, by straight lines between rings: written apart from the code under test. */
function radiusMm(rings: readonly Ring[], atUm: number): number {
  const above = Math.max(
    1,
    rings.findIndex((ring) => ring.heightUm >= atUm),
  )
  const [a, b] = [rings[above - 1]!, rings[above]!]
  const slope = (b.diameterUm - a.diameterUm) / (b.heightUm - a.heightUm)
  return (a.diameterUm + slope * (atUm - a.heightUm)) / 2000
}

test("area and volume agree with numerical integration of the profile to one in a million", () => {
  const stepUm = 20 // divides every ring height and both bands, so no step straddles a corner
  const [from, to] = [3_000, 202_000]
  let area = 0
  let volume = 0
  for (let z = 0; z < heightUm(shaped); z += stepUm) {
    const [r1, r2] = [radiusMm(shaped, z), radiusMm(shaped, z + stepUm)]
    const middle = radiusMm(shaped, z + stepUm / 2)
    // arc length times circumference for the surface, discs by the midpoint rule for the volume
    if (z >= from && z < to) area += 2 * Math.PI * middle * Math.sqrt((r2 - r1) ** 2 + (stepUm / 1000) ** 2)
    volume += Math.PI * middle * middle * (stepUm / 1000)
  }
  expect(relativeError(lateralAreaMm2(shaped, from, to), area)).toBeLessThan(1e-6)
  expect(relativeError(volumeMm3(shaped), volume)).toBeLessThan(1e-6)
})

test("any band agrees with adaptive Simpson integration of the surface of revolution to one in a million", () => {
  // A = ∫ 2 π r √(1 + r′²) dz; the rule and its error estimate: J. N. Lyness, "Notes on the Adaptive Simpson
  // Quadrature Routine", J. ACM 16 (1969), from memory. r and r′ come from `radiusMm` alone, no frustum formula.
  const surface = (l: number, r: number) => {
    // no corner between l and r: the slope anywhere is that between two points inside
    const [z1, z2] = [l + (r - l) / 3, l + (2 * (r - l)) / 3]
    const slope = ((radiusMm(shaped, z2) - radiusMm(shaped, z1)) * 1000) / (z2 - z1)
    return (z: number) => 2 * Math.PI * radiusMm(shaped, z) * Math.hypot(1, slope)
  }
  for (const [from, to] of [
    [0, 212_000],
    [1_234, 9_876],
    [117_000, 153_500],
    [60_500, 211_999],
  ] as const) {
    // corners of the profile are where the integrand jumps: integrated between them
    const corners = shaped.map((ring) => ring.heightUm).filter((z) => z > from && z < to)
    const ends = [from, ...corners, to]
    let area = 0
    for (const [i, end] of ends.slice(1).entries())
      area += simpson(surface(ends[i]!, end), ends[i]!, end, 1e-9)
    expect(relativeError(lateralAreaMm2(shaped, from, to), area / 1000)).toBeLessThan(1e-6)
  }
})

/** Adaptive Simpson: halves until the two halves agree with the whole to 15 times the tolerance. */
function simpson(f: (x: number) => number, a: number, b: number, tolerance: number): number {
  const rule = (l: number, r: number) => ((r - l) / 6) * (f(l) + 4 * f((l + r) / 2) + f(r))
  const refine = (l: number, r: number, whole: number, within: number, depth: number): number => {
    const m = (l + r) / 2
    const [left, right] = [rule(l, m), rule(m, r)]
    const off = left + right - whole
    if (depth === 0 || Math.abs(off) <= 15 * within * Math.abs(whole)) return left + right + off / 15
    return refine(l, m, left, within / 2, depth - 1) + refine(m, r, right, within / 2, depth - 1)
  }
  return refine(a, b, rule(a, b), tolerance, 40)
}

test("the surface agrees with a mesh of flat triangles around the cup to one in a million", () => {
  // needs no formula for a frustum at all: only the cross product
  const around = 6000
  let mesh = 0
  for (let i = 1; i < shaped.length; i++) {
    const [low, high] = [shaped[i - 1]!, shaped[i]!]
    const point = (ring: Ring, turn: number): [number, number, number] => [
      (ring.diameterUm / 2000) * Math.cos((2 * Math.PI * turn) / around),
      (ring.diameterUm / 2000) * Math.sin((2 * Math.PI * turn) / around),
      ring.heightUm / 1000,
    ]
    const facet =
      triangle(point(low, 0), point(low, 1), point(high, 0)) +
      triangle(point(low, 1), point(high, 1), point(high, 0))
    mesh += facet * around // every facet around the ring is the same
  }
  expect(relativeError(lateralAreaMm2(shaped, 0, heightUm(shaped)), mesh)).toBeLessThan(1e-6)
})

function triangle(a: number[], b: number[], c: number[]): number {
  const [u, v] = [b.map((x, i) => x - a[i]!), c.map((x, i) => x - a[i]!)] as [number[], number[]]
  const cross = [u[1]! * v[2]! - u[2]! * v[1]!, u[2]! * v[0]! - u[0]! * v[2]!, u[0]! * v[1]! - u[1]! * v[0]!]
  return Math.hypot(...cross) / 2
}

test("a zone of a sphere built from rings has Archimedes' area, 2 π R times its height", () => {
  // zone of a sphere: CRC Standard Mathematical Tables, mensuration
  const [R, half, rings] = [60, 40, 2000]
  const zone = Array.from({ length: rings + 1 }, (_, i) => {
    const z = -half + (2 * half * i) / rings
    return { heightUm: (z + half) * 1000, diameterUm: 2000 * Math.sqrt(R * R - z * z) }
  })
  expect(relativeError(lateralAreaMm2(zone, 0, 2 * half * 1000), 2 * Math.PI * R * 2 * half)).toBeLessThan(
    1e-6,
  )
})
