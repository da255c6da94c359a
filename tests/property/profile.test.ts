import fc from "fast-check"
import { expect, test } from "vitest"
import {
  baseDiscMm2,
  coatedAreaMm2,
  coveredBand,
  heightAtShareUm,
  heightUm,
  heightWithAreaUm,
  lateralAreaMm2,
  type Ring,
  volumeMm3,
} from "../../server/domain/profile.ts"

/** Any profile a cup could have: 2 to 8 rings, each up to 120 mm above the one below. */
const profiles: fc.Arbitrary<Ring[]> = fc
  .array(
    fc.record({
      riseUm: fc.integer({ min: 5_000, max: 120_000 }),
      diameterUm: fc.integer({ min: 20_000, max: 150_000 }),
    }),
    {
      minLength: 2,
      maxLength: 8,
    },
  )
  .map((steps) => {
    let height = 0
    return steps.map(({ riseUm, diameterUm }, i) => {
      height += i === 0 ? 0 : riseUm
      return { heightUm: height, diameterUm }
    })
  })

const share = fc.double({ min: 0, max: 1, noNaN: true })

test("two bands that meet have the area of the band they make", () => {
  fc.assert(
    fc.property(profiles, share, share, share, (profile, a, b, c) => {
      const top = heightUm(profile)
      const [from, between, to] = [a, b, c].map((s) => s * top).sort((x, y) => x - y) as [
        number,
        number,
        number,
      ]
      const whole = lateralAreaMm2(profile, from, to)
      const parts = lateralAreaMm2(profile, from, between) + lateralAreaMm2(profile, between, to)
      expect(Math.abs(whole - parts)).toBeLessThanOrEqual(1e-9 * (1 + whole))
    }),
  )
})

test("an extra ring on the straight line between two rings changes neither area nor volume", () => {
  fc.assert(
    fc.property(profiles, fc.nat(), share, (profile, nth, s) => {
      const at = 1 + (nth % (profile.length - 1))
      const [low, high] = [profile[at - 1]!, profile[at]!]
      const between = {
        heightUm: low.heightUm + (0.1 + 0.8 * s) * (high.heightUm - low.heightUm),
        diameterUm: low.diameterUm + (0.1 + 0.8 * s) * (high.diameterUm - low.diameterUm),
      }
      const more = [...profile.slice(0, at), between, ...profile.slice(at)]
      const top = heightUm(profile)
      const [area, volume] = [lateralAreaMm2(profile, 0, top), volumeMm3(profile)]
      expect(Math.abs(lateralAreaMm2(more, 0, top) - area)).toBeLessThanOrEqual(1e-9 * area)
      expect(Math.abs(volumeMm3(more) - volume)).toBeLessThanOrEqual(1e-9 * volume)
    }),
  )
})

test("a blank twice as large has four times the area and eight times the volume", () => {
  const small = profiles.filter((p) => heightUm(p) <= 450_000)
  fc.assert(
    fc.property(small, (profile) => {
      const double = profile.map((ring) => ({ heightUm: 2 * ring.heightUm, diameterUm: 2 * ring.diameterUm }))
      const area = lateralAreaMm2(profile, 0, heightUm(profile))
      expect(lateralAreaMm2(double, 0, heightUm(double)) / area).toBeCloseTo(4, 9)
      expect(volumeMm3(double) / volumeMm3(profile)).toBeCloseTo(8, 9)
    }),
  )
})

test("a band that is made to have an area has it, on any side: straight, tapered, stepped", () => {
  fc.assert(
    fc.property(profiles, share, share, (profile, start, s) => {
      const top = heightUm(profile)
      const from = start * top
      const area = s * lateralAreaMm2(profile, from, top)
      const to = heightWithAreaUm(profile, from, area)
      expect(to).toBeGreaterThanOrEqual(from)
      expect(to).toBeLessThanOrEqual(top)
      expect(Math.abs(lateralAreaMm2(profile, from, to) - area)).toBeLessThanOrEqual(1e-9 * (1 + area) + 1e-6)
    }),
  )
})

test("the whole coat ends where its band ends, not a rounding error above it", () => {
  const rings = [
    { heightUm: 0, diameterUm: 125_575 },
    { heightUm: 16_784, diameterUm: 20_000 },
  ]
  const blank = { rings, bareLipUm: 1_000, bareBaseUm: 2_000, coatsBase: false }
  expect(heightAtShareUm(blank, 1)).toBeLessThanOrEqual(coveredBand(blank).toUm)
})

test("below the height of a share of the coat lies that share of it", () => {
  fc.assert(
    fc.property(
      profiles,
      fc.double({ min: 0.01, max: 1, noNaN: true }),
      fc.boolean(),
      (rings, s, coatsBase) => {
        const blank = { rings, bareLipUm: 1_000, bareBaseUm: coatsBase ? 0 : 2_000, coatsBase }
        const { fromUm, toUm } = coveredBand(blank)
        const at = heightAtShareUm(blank, s)
        expect(at).toBeLessThanOrEqual(toUm)
        const whole = coatedAreaMm2(blank)
        // where the underside alone is more than the share, the height is the base
        if (at === fromUm) expect(s * whole).toBeLessThanOrEqual(baseDiscMm2(rings) + 1e-6)
        else expect(coatedAreaMm2(blank, { fromUm: 0, toUm: at }) / whole).toBeCloseTo(s, 9)
      },
    ),
  )
})
