import { expect, test } from "vitest"
import { lateralAreaMm2, type Ring } from "../../server/domain/profile.ts"
import { wrapPiece } from "../../server/domain/wraps.ts"

const taper = (lowMm: number, highMm: number, tallMm: number): Ring[] => [
  { heightUm: 0, diameterUm: lowMm * 1000 },
  { heightUm: tallMm * 1000, diameterUm: highMm * 1000 },
]

const TAPERS = [
  [70, 76, 240],
  [60, 90, 150],
  [90, 60, 150],
  [40, 120, 60],
  [50, 65, 10],
] as const

test.each(TAPERS)(
  "from %d to %d mm over %d mm, the unrolled side keeps both rims and the area",
  (low, high, tall) => {
    // Development keeps lengths along the surface, so the arcs are the two circumferences and the ring's part has
    // the frustum's lateral area, π (R + r) s: CRC Standard Mathematical Tables, mensuration
    const rings = taper(low, high, tall)
    const { arc } = wrapPiece({ rings, overlapUm: 0 })
    const [a, b, angle] = [
      arc!.innerRadiusUm / 1000,
      arc!.outerRadiusUm / 1000,
      (arc!.turnPpm / 1e6) * 2 * Math.PI,
    ]
    // radii are kept to the µm and the angle to a millionth of a turn
    const near = (value: number, truth: number) => expect(Math.abs(value / truth - 1)).toBeLessThan(1e-4)
    near(a * angle, Math.PI * Math.min(low, high))
    near(b * angle, Math.PI * Math.max(low, high))
    near((angle / 2) * (b * b - a * a), lateralAreaMm2(rings, 0, tall * 1000))
  },
)

test.each(TAPERS)(
  "from %d to %d mm over %d mm, the rectangle is the one around the drawn outline",
  (low, high, tall) => {
    // no formula: the cone is unrolled point by point, a fold of the paper after another, and measured
    const [r, R] = [Math.min(low, high) / 2, Math.max(low, high) / 2]
    const steps = 20_000
    for (const overlapMm of [0, 5, 12]) {
      const { widthUm, heightUm } = wrapPiece({ rings: taper(low, high, tall), overlapUm: overlapMm * 1000 })
      const slant = Math.hypot(tall, R - r)
      const chord = (radius: number) => 2 * radius * Math.sin(Math.PI / steps)
      // each fold turns the outline by the angle between the two edges of a thin trapezium
      const fold = 2 * Math.asin((chord(R) - chord(r)) / 2 / slant)
      const apex = chord(r) / 2 / Math.sin(fold / 2)
      const folds = steps * (1 + overlapMm / (2 * Math.PI * r))
      const points: [number, number][] = []
      for (let i = 0; i <= folds; i++) {
        const turn = (i - folds / 2) * fold
        for (const radius of [apex, apex + slant])
          points.push([radius * Math.sin(turn), radius * Math.cos(turn)])
      }
      const spread = (axis: 0 | 1) => {
        const values = points.map((point) => point[axis])
        return values.reduce((a, b) => Math.max(a, b)) - values.reduce((a, b) => Math.min(a, b))
      }
      expect(Math.abs(widthUm / 1000 / spread(0) - 1)).toBeLessThan(1e-3)
      expect(Math.abs(heightUm / 1000 / spread(1) - 1)).toBeLessThan(1e-3)
    }
  },
)

test("a taper that is all but straight takes what a straight side takes", () => {
  const straight = wrapPiece({ rings: taper(75, 75, 200), overlapUm: 5_000 })
  const almost = wrapPiece({ rings: taper(75, 75.001, 200), overlapUm: 5_000 })
  expect(almost.arc).not.toBeNull()
  expect(Math.abs(almost.widthUm - straight.widthUm)).toBeLessThan(20)
  expect(Math.abs(almost.heightUm - straight.heightUm)).toBeLessThan(20)
})
