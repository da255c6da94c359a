import { expect, test } from "vitest"
import {
  filmUm,
  mixedForCups,
  pouredPerCupUl,
  practicalSpreadingRate,
  theoreticalSpreadingRate,
  wetFilmUm,
} from "../../server/domain/films.ts"
import { Refusal } from "../../server/domain/refusal.ts"
import { resinUse } from "./plan-fixtures.ts"

const areaMm2 = 50_000

test("an amount mixed for one cup alone holds the residue: one cup takes it as it stands", () => {
  expect(mixedForCups(resinUse(), areaMm2, 1)).toBe(25_000)
})

test("cups that share a mix lose the residue once: 25 mL with 1.5 mL residue is 72 mL for three", () => {
  expect(mixedForCups(resinUse(), areaMm2, 3)).toBe(3 * 23_500 + 1_500)
})

test("an applied amount has the residue added, once a mix", () => {
  const use = resinUse({ how: "resin-applied", amount: 20_000 })
  expect(mixedForCups(use, areaMm2, 1)).toBe(21_500)
  expect(mixedForCups(use, areaMm2, 4)).toBe(81_500)
})

test("a film is poured with its drips: 300 µm on 500 cm² is 15 mL on the cup, 20 mL poured at 25 % drip", () => {
  const use = resinUse({ how: "resin-film", amount: 300 })
  expect(pouredPerCupUl(use, areaMm2)).toBeCloseTo(20_000, 9)
  expect(mixedForCups(use, areaMm2, 2)).toBeCloseTo(41_500, 9)
})

test("half the surface takes half the coating and the whole residue", () => {
  const half = { sharePpm: 500_000 }
  expect(mixedForCups(resinUse(half), areaMm2, 2)).toBe(23_500 + 1_500)
  expect(mixedForCups(resinUse({ ...half, how: "resin-applied" }), areaMm2, 2)).toBe(25_000 + 1_500)
  expect(mixedForCups(resinUse({ ...half, how: "resin-film", amount: 300 }), areaMm2, 2)).toBeCloseTo(
    21_500,
    9,
  )
})

test("the film on the cup is what was poured less drips, over the covered part", () => {
  expect(filmUm(resinUse(), areaMm2)).toBeCloseTo((23_500 * 0.75 * 1000) / areaMm2, 9)
  expect(filmUm(resinUse({ sharePpm: 500_000 }), areaMm2)).toBeCloseTo((23_500 * 0.75 * 1000) / areaMm2, 9)
  for (const sharePpm of [1_000_000, 300_000]) {
    expect(filmUm(resinUse({ how: "resin-film", amount: 300, sharePpm }), areaMm2)).toBeCloseTo(300, 9)
  }
})

test("a mix that only wets the mixing cup is refused", () => {
  expect(() => mixedForCups(resinUse({ amount: 1_500 }), areaMm2, 1)).toThrow(Refusal)
  expect(() => mixedForCups(resinUse({ amount: 1_500 }), areaMm2, 1)).toThrow(/more than what stays/)
  expect(mixedForCups(resinUse({ amount: 1_501 }), areaMm2, 1)).toBe(1_501)
})

test("no amount, or a coat that all drips off, is refused", () => {
  expect(() => pouredPerCupUl(resinUse({ how: "resin-applied", amount: 0 }), areaMm2)).toThrow(/Say how much/)
  expect(() => pouredPerCupUl(resinUse({ dripPpm: 1_000_000 }), areaMm2)).toThrow(/none stays/)
})

test("no area, and parts of cups, are programmer's mistakes", () => {
  expect(() => pouredPerCupUl(resinUse(), 0)).toThrow(RangeError)
  expect(() => mixedForCups(resinUse(), areaMm2, 0)).toThrow(RangeError)
  expect(() => mixedForCups(resinUse(), areaMm2, 1.5)).toThrow(RangeError)
})

test("solids and transfer are shares of one, never percent", () => {
  expect(() => theoreticalSpreadingRate({ solids: 65, dryUm: 125 })).toThrow(RangeError)
  expect(() => theoreticalSpreadingRate({ solids: 0.65, dryUm: 0 })).toThrow(RangeError)
  expect(() => practicalSpreadingRate({ solids: 0.65, dryUm: 125, transfer: 0 })).toThrow(RangeError)
  expect(() => wetFilmUm({ solids: 0.65, dryUm: 100, thinner: -0.1 })).toThrow(RangeError)
})

test("thinned by a tenth, the wet film is laid a tenth thicker", () => {
  expect(wetFilmUm({ solids: 0.5, dryUm: 50, thinner: 0.1 })).toBeCloseTo(110, 9)
})
