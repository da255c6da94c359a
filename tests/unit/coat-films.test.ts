import { describe, expect, test } from "vitest"
import { coatFilms, coloursOf } from "../../server/domain/coat-films.ts"
import { pouredPerCupUl } from "../../server/domain/films.ts"
import type { Use } from "../../server/domain/plan.ts"
import { layer, resinUse, sprayUse, supply, supplyUse } from "./plan-fixtures.ts"

const surface = { mm2: 50_000, isBand: false }
const films = (...uses: Use[]) => coatFilms(layer(1, uses), surface)
const glitter = (over = {}) =>
  supply(4, { name: "Silver", kind: "glitter", baseUnit: "mg", densityMgPerMl: 1_380, ...over })
const paint = supply(6, { name: "Blue", kind: "paint", baseUnit: "mg" })

describe("a coat of resin is said in mL and in thickness", () => {
  test("25 mL mixed for one cup: 23.5 mL poured, three quarters of that stay, spread over the surface", () => {
    const [coat] = films(resinUse()).resin
    expect(coat).toMatchObject({ mixedUl: 25_000, pouredUl: 23_500, onCupUl: 17_625 })
    // 17.625 mL over 500 cm²
    expect(coat!.filmUm).toBeCloseTo(352.5, 9)
  })

  test("the same poured, and the same as a film, come to the same", () => {
    const mixed = films(resinUse()).resin[0]!
    const applied = films(resinUse({ how: "resin-applied", amount: 23_500 })).resin[0]!
    const film = films(resinUse({ how: "resin-film", amount: 352.5 })).resin[0]!
    for (const other of [applied, film]) {
      for (const what of ["mixedUl", "pouredUl", "onCupUl", "filmUm"] as const)
        expect(other[what]).toBeCloseTo(mixed[what], 6)
    }
  })

  test("the film's working ends in it, from its inputs alone", () => {
    const { working } = films(resinUse({ sharePpm: 500_000 })).resin[0]!
    const value = (name: string) => working.inputs.find((one) => one.name === name)!.value
    const um =
      (value("poured over a cup") * (1 - value("drips") / 1e6) * 1000) /
      (value("coated area") * (value("share") / 1e6))
    expect(working.result.value).toBeCloseTo(um, 6)
  })
})

describe("glitter adds its own volume: mass ÷ density, spread over the surface", () => {
  test("6.9 g at 1.38 g/mL are 5 mL: 100 µm on 500 cm²", () => {
    const {
      glitter: [silver],
      coatUm,
      resin,
    } = films(resinUse(), supplyUse({ supply: glitter(), amount: 6_900 }))
    expect(silver!.um).toBeCloseTo(100, 9)
    expect(silver!.working!.result.value).toBeCloseTo(100, 9)
    expect(coatUm).toBeCloseTo(resin[0]!.filmUm + 100, 9)
  })

  test("stirred in by the litre, as much stays on as of the resin", () => {
    const use = resinUse()
    const {
      glitter: [silver],
    } = films(use, supplyUse({ how: "per-resin", supply: glitter(), amount: 100_000 }))
    const mg = ((pouredPerCupUl(use, surface.mm2) * 0.75) / 1e6) * 100_000
    expect(silver!.um).toBeCloseTo(((mg / 1_380) * 1e6) / surface.mm2, 9)
  })

  test("sprinkled, what stays on a square metre", () => {
    const {
      glitter: [silver],
    } = films(
      resinUse(),
      supplyUse({ how: "sprinkled", supply: glitter(), amount: 138_000, sharePpm: 500_000 }),
    )
    expect(silver!.um).toBeCloseTo(50, 9)
  })

  test("without its density nobody can say, and the coat counts the resin alone", () => {
    const {
      glitter: [silver],
      coatUm,
      resin,
    } = films(resinUse(), supplyUse({ supply: glitter({ densityMgPerMl: null }), amount: 6_900 }))
    expect(silver).toMatchObject({ um: null, working: null })
    expect(coatUm).toBe(resin[0]!.filmUm)
  })
})

describe("paint", () => {
  test("by its data sheet dries to passes × film; weighed, nobody knows", () => {
    expect(films(sprayUse(), supplyUse({ supply: paint })).paint.map(({ um }) => um)).toEqual([24, null])
    expect(films(sprayUse()).coatUm).toBeNull()
  })

  test("several shares may lie over each other, leave some bare, or cover the surface once", () => {
    const shared = (...shares: number[]) =>
      coloursOf(
        layer(
          1,
          shares.map((sharePpm) => supplyUse({ supply: paint, sharePpm })),
        ),
      )
    expect(shared(500_000, 400_000, 250_000)).toMatchObject({ totalPpm: 1_150_000, meaning: "overlap" })
    expect(shared(500_000, 300_000)).toMatchObject({ meaning: "bare" })
    expect(shared(333_333, 333_333, 333_333)).toMatchObject({ meaning: "whole" })
    expect(shared(500_000)).toBeNull()
  })
})
