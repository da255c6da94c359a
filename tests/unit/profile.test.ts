import { describe, expect, test } from "vitest"
import {
  baseDiscMm2,
  coatedAreaMm2,
  coveredBand,
  heightUm,
  heightWithAreaUm,
  lateralAreaMm2,
  ProfileError,
  type Ring,
} from "../../server/domain/profile.ts"

/** Rings from millimetres: [height, width]. */
const rings = (...mm: [number, number][]): Ring[] =>
  mm.map(([height, width]) => ({ heightUm: height * 1000, diameterUm: width * 1000 }))

const tumbler = rings([0, 70], [240, 76])

describe("a profile that cannot be a cup is refused in a sentence", () => {
  test.each<[string, Ring[], RegExp]>([
    ["no ring", [], /at least two rings/],
    ["one ring", rings([0, 70]), /at least two rings/],
    ["a first ring above the base", rings([5, 70], [100, 70]), /height is 0/],
    ["two rings at one height", rings([0, 70], [100, 75], [100, 80]), /Ring 3 must be higher/],
    ["falling heights", rings([0, 70], [100, 75], [90, 80]), /Ring 3 must be higher/],
    ["a width that shrinks to nothing", rings([0, 70], [100, 0]), /width at ring 2 must be more than zero/],
    ["a width below zero", rings([0, -70], [100, 70]), /width at ring 1 must be more than zero/],
    ["metres typed for millimetres", rings([0, 70_000], [240, 76]), /over 1 m/],
    ["a blank as tall as a house", rings([0, 70], [24_000, 76]), /over 1 m/],
    ["a blank as thin as a thread", rings([0, 0.07], [240, 76]), /under 5 mm wide/],
    ["a blank as flat as paper", rings([0, 70], [0.24, 76]), /under 5 mm tall/],
    ["not a number", [{ heightUm: 0, diameterUm: Number.NaN }, ...tumbler.slice(1)], /Ring 1 needs a number/],
  ])("%s", (_, profile, sentence) => {
    expect(() => lateralAreaMm2(profile, 0, 1)).toThrow(ProfileError)
    expect(() => lateralAreaMm2(profile, 0, 1)).toThrow(sentence)
  })

  test("bare bands that leave nothing to coat", () => {
    const blank = { rings: tumbler, bareLipUm: 200_000, bareBaseUm: 40_000, coatsBase: false }
    expect(() => coatedAreaMm2(blank)).toThrow("The bands left bare at lip and base leave nothing to coat.")
    expect(coatedAreaMm2({ ...blank, bareBaseUm: 39_999 })).toBeGreaterThan(0)
    expect(() => coatedAreaMm2({ ...blank, bareLipUm: -1 })).toThrow(ProfileError)
  })
})

test("a band below the base or above the lip counts only to the base or the lip", () => {
  const whole = lateralAreaMm2(tumbler, 0, heightUm(tumbler))
  expect(lateralAreaMm2(tumbler, -50_000, 900_000)).toBe(whole)
  expect(lateralAreaMm2(tumbler, 300_000, 400_000)).toBe(0)
})

test("a band that ends below its start is a programmer's mistake, not a refusal", () => {
  expect(() => lateralAreaMm2(tumbler, 2, 1)).toThrow(RangeError)
  expect(() => lateralAreaMm2(tumbler, Number.NaN, 1)).toThrow(RangeError)
})

test("bare lip and base bands are left out of the coated area", () => {
  const straight = rings([0, 80], [200, 80])
  // a cylinder: π d times what is left of its height
  expect(
    coatedAreaMm2({ rings: straight, bareLipUm: 10_000, bareBaseUm: 3_000, coatsBase: false }),
  ).toBeCloseTo(Math.PI * 80 * 187, 6)
})

test("the height of a blank is where its lip is", () => {
  expect(heightUm(tumbler)).toBe(240_000)
})

describe("a layer's band", () => {
  const straight = {
    rings: rings([0, 80], [200, 80]),
    bareLipUm: 10_000,
    bareBaseUm: 3_000,
    coatsBase: false,
  }

  test("covers only its own heights", () => {
    // a cylinder: π d times the height of the band
    expect(coatedAreaMm2(straight, { fromUm: 50_000, toUm: 90_000 })).toBeCloseTo(Math.PI * 80 * 40, 6)
  })

  test("leaves bare what the blank leaves bare", () => {
    expect(coveredBand(straight, { fromUm: 0, toUm: 70_000 })).toEqual({ fromUm: 3_000, toUm: 70_000 })
    expect(coveredBand(straight, { fromUm: 150_000, toUm: 900_000 })).toEqual({
      fromUm: 150_000,
      toUm: 190_000,
    })
    expect(coveredBand(straight)).toEqual({ fromUm: 3_000, toUm: 190_000 })
  })

  test("is refused in a sentence where nothing of it can be coated", () => {
    for (const band of [
      { fromUm: 190_000, toUm: 200_000 },
      { fromUm: 0, toUm: 3_000 },
      { fromUm: 300_000, toUm: 400_000 },
    ]) {
      expect(() => coatedAreaMm2(straight, band)).toThrow("This band lies where the cup stays bare")
    }
    expect(() => coatedAreaMm2(straight, { fromUm: 9, toUm: 9 })).toThrow(
      "A band must end higher than it begins.",
    )
  })

  test("has no more surface than there is above its start", () => {
    expect(heightWithAreaUm(straight.rings, 100_000, Math.PI * 80 * 50)).toBeCloseTo(150_000, 6)
    expect(() => heightWithAreaUm(straight.rings, 100_000, Math.PI * 80 * 101)).toThrow(/less surface/)
  })
})

describe("the underside", () => {
  const dipped = { rings: rings([0, 80], [200, 80]), bareLipUm: 10_000, bareBaseUm: 0, coatsBase: true }
  const disc = Math.PI * 40 * 40

  test("is a disc, counted when it is coated and the band begins at the base", () => {
    expect(baseDiscMm2(dipped.rings)).toBeCloseTo(disc, 9)
    expect(coatedAreaMm2(dipped)).toBeCloseTo(Math.PI * 80 * 190 + disc, 6)
    expect(coatedAreaMm2(dipped, { fromUm: 0, toUm: 20_000 })).toBeCloseTo(Math.PI * 80 * 20 + disc, 6)
    expect(coatedAreaMm2(dipped, { fromUm: 1, toUm: 20_001 })).toBeCloseTo(Math.PI * 80 * 20, 6)
    expect(coatedAreaMm2({ ...dipped, coatsBase: false })).toBeCloseTo(Math.PI * 80 * 190, 6)
  })

  test("cannot be coated while a band above it stays bare", () => {
    expect(() => coatedAreaMm2({ ...dipped, bareBaseUm: 1 })).toThrow(
      "The underside cannot be coated while a band above it stays bare.",
    )
  })
})
