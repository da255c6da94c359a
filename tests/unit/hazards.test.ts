import { describe, expect, test } from "vitest"
import { cautionsFor, HAZARD_CLASSES, isHazard, USUAL_HAZARDS } from "../../server/domain/hazards.ts"
import { LAYER_KINDS } from "../../server/domain/plan.ts"

const codesOf = (hazards: readonly string[]) =>
  HAZARD_CLASSES.filter(({ hazard }) => hazards.includes(hazard))
    .flatMap(({ statements }) => statements.map((statement) => statement.split(" ")[0]))
    .sort()

describe("hazard classes carry the GHS statements usual for the trade", () => {
  // Statement codes: UN Globally Harmonized System; usual for the trade, the product's own SDS overrides
  test.each([
    ["epoxy resin", ["H315", "H317", "H319", "H411"]],
    ["amine hardener", ["H302", "H314", "H317"]],
    ["aerosol", ["H222", "H229"]],
    ["acetone", ["H225", "H319", "H336"]],
    ["isopropyl alcohol", ["H225", "H319", "H336"]],
    ["glitter or abrasive", []],
  ] as const)("%s: %o", (supply, codes) => {
    expect(codesOf(USUAL_HAZARDS[supply])).toEqual(codes)
  })

  test("names that are no class are not taken for one", () => {
    expect(isHazard("aerosol")).toBe(true)
    for (const text of ["", "toString", "__proto__", "Aerosol"]) expect(isHazard(text)).toBe(false)
  })
})

describe("cautions stand where the work can hurt", () => {
  const all = HAZARD_CLASSES.map(({ hazard }) => hazard)

  test("the last always defers to the safety data sheet and local rules", () => {
    for (const layerKind of LAYER_KINDS) {
      for (const hazards of [[], all]) {
        const said = cautionsFor(hazards, { layerKind, mixes: [{ mixedUl: 150_000, system: null }] })
        expect(said.at(-1)).toMatch(/safety data sheet/)
        expect(new Set(said).size).toBe(said.length)
      }
    }
    expect(cautionsFor([])).toHaveLength(1)
  })

  test("gravest first, whatever order the supplies came in, each once", () => {
    const forward = cautionsFor(["aquatic", "flammable-liquid", "skin-corrosive", "aquatic"])
    expect(forward).toEqual(cautionsFor(["skin-corrosive", "flammable-liquid", "aquatic"]))
    expect(forward[0]).toMatch(/burns skin and eyes/)
    expect(forward[1]).toMatch(/catch fire/)
    expect(forward).toHaveLength(4)
  })

  test("a graver class says what a lesser one would: no glove sentence twice", () => {
    const said = cautionsFor(["skin-irritant", "eye-irritant", "skin-corrosive"])
    expect(said).toHaveLength(2)
    expect(cautionsFor(["skin-irritant", "eye-irritant"])).toHaveLength(3)
  })

  test("uncured resin warns of the allergy even when the supplies' hazards were never entered", () => {
    expect(cautionsFor([], { layerKind: "resin" }).join(" ")).toMatch(/allergy/)
    expect(
      cautionsFor([], { layerKind: "final-coat", mixes: [{ mixedUl: 25_000, system: null }] }).join(" "),
    ).toMatch(/allergy/)
    expect(cautionsFor([], { layerKind: "counted" }).join(" ")).not.toMatch(/allergy/)
  })

  // common practice, no source: from half of the system's own largest safe mix; 100 mL where no system is known
  test.each([
    [60_000, 120_000, true],
    [59_999, 120_000, false],
    [150_000, 400_000, false],
    [200_000, 400_000, true],
    [100_000, null, true],
    [99_999, null, false],
  ])("a mix of %d µL, at most %d in one cup: warned of heating up %s", (mixedUl, largestMixUl, warned) => {
    const big = { mixedUl, system: largestMixUl === null ? null : { largestMixUl } }
    const small = { mixedUl: 10_000, system: { largestMixUl: 500_000 } }
    const said = cautionsFor([], { layerKind: "resin", mixes: [small, big] }).join(" ")
    expect(/heats up/.test(said)).toBe(warned)
  })

  test("no mix, no word of it heating up", () => {
    expect(cautionsFor([], { layerKind: "resin" }).join(" ")).not.toMatch(/heats up/)
  })

  test("coatings stay off the lip; a lid in its box needs no such word", () => {
    for (const layerKind of ["base-coat", "spray", "resin", "final-coat"] as const) {
      expect(cautionsFor([], { layerKind }).join(" ")).toMatch(/off the lip/)
    }
    expect(cautionsFor([], { layerKind: "counted" }).join(" ")).not.toMatch(/lip/)
  })

  test("sanding warns of dust, spraying of flame and heaters", () => {
    expect(cautionsFor([], { layerKind: "prep" }).join(" ")).toMatch(/dust mask/)
    expect(cautionsFor([], { layerKind: "spray" }).join(" ")).toMatch(/away from flame, heaters/)
    expect(cautionsFor(["aerosol"]).join(" ")).toMatch(/away from flame and heaters/)
  })
})
