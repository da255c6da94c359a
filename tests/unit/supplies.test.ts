import { beforeEach, describe, expect, test } from "vitest"
import { coatedAreaMm2 } from "../../server/domain/profile.ts"
import { FIRST_SETTINGS, keepSettings, settingsOf } from "../../server/ledger/studio.ts"
import {
  addBlank,
  addMaker,
  addPack,
  addResinSystem,
  addSeller,
  addSupply,
  blankOf,
  blanks,
  changeBlank,
  changeMaker,
  changeResinSystem,
  changeSeller,
  changeSettings,
  changeSupply,
  makers,
  type ResinSystemInput,
  resinSystemById,
  resinSystems,
  sellers,
  suppliesList,
  supplyById,
} from "../../server/supplies/service.ts"
import { receiveOne } from "../support/catalogue.ts"
import { type TestStudio, testStudio } from "../support/studio.ts"
import { pack, paint, part, refusalOf } from "./supplies-fixtures.ts"

let studio: TestStudio
beforeEach(() => {
  studio = testStudio()
})

const twoParts = () => ({
  partASupplyId: addSupply(studio, part("Clear A")),
  partBSupplyId: addSupply(studio, part("Clear B", { kind: "hardener" })),
})
const system = (parts: { partASupplyId: number; partBSupplyId: number }): ResinSystemInput => ({
  name: "Clear cast",
  ...parts,
  ratioBasis: "volume",
  ratioA: 1,
  ratioB: 1,
  potLifeMin: 45,
  largestMixUl: 500_000,
  mixingMin: 5,
  cupWorkMin: 10,
  recoatEarliestMin: 480,
  recoatLatestMin: null,
  fullCureMin: 4320,
})
const cup = {
  supply: { ...paint, name: "Slim 30", hazards: [] as string[] },
  rings: [
    { heightUm: 0, diameterUm: 70_000 },
    { heightUm: 240_000, diameterUm: 76_000 },
  ],
  bareLipUm: 10_000,
  bareBaseUm: 3_000,
  coatsBase: false,
}

describe("makers and sellers", () => {
  test("are listed by name, whatever their capitals, and can be renamed", () => {
    const id = addMaker(studio, { name: "zinc works" })
    addMaker(studio, { name: "Alder Coatings" })
    changeMaker(studio, id, { name: "Aardvark Pigments" })
    expect(makers(studio).map((maker) => maker.name)).toEqual(["Aardvark Pigments", "Alder Coatings"])
  })

  test("keep one name each: capitals make no other name, keeping one's own is no clash", () => {
    const id = addSeller(studio, { name: "North Door Supply", leadTimeDays: 4 })
    const again = refusalOf(() => addSeller(studio, { name: "north door supply", leadTimeDays: 1 }))
    expect(again.message).toContain("“North Door Supply” is already there")
    expect(again.field).toBe("name")
    changeSeller(studio, id, { name: "North Door Supply", leadTimeDays: 6 })
    expect(sellers(studio)).toMatchObject([{ id, name: "North Door Supply", leadTimeDays: 6 }])
  })

  test("one that is not there cannot be changed", () => {
    expect(refusalOf(() => changeMaker(studio, 99, { name: "Nobody" })).status).toBe(404)
    expect(refusalOf(() => changeSeller(studio, 99, { name: "Nobody", leadTimeDays: 1 })).status).toBe(404)
  })
})

describe("supplies", () => {
  test("come back as they were put in: lives known, unknown and endless, hazards, colour", () => {
    const id = addSupply(studio, paint)
    expect(supplyById(studio, id)).toEqual({
      ...paint,
      keptBack: 0,
      sheet: null,
      rollWidthUm: null,
      id,
      colour: "#1f6f8b",
      hazards: ["aerosol", "flammable-liquid"],
    })
    const unknown = addSupply(studio, { ...paint, name: "Plain", shelfLife: null, hazards: [] })
    expect(suppliesList(studio).find((supply) => supply.id === unknown)).toMatchObject({
      shelfLife: null,
      hazards: [],
    })
  })

  test("a change replaces everything, hazards too", () => {
    const id = addSupply(studio, paint)
    changeSupply(studio, id, { ...paint, openLife: { unit: "hours", value: 48 }, hazards: ["aerosol"] })
    expect(supplyById(studio, id)).toMatchObject({
      openLife: { unit: "hours", value: 48 },
      hazards: ["aerosol"],
    })
  })

  test("what a supply is counted in may change while nothing is written in it", () => {
    const id = addSupply(studio, paint)
    changeSupply(studio, id, { ...paint, baseUnit: "uL" })
    expect(supplyById(studio, id).baseUnit).toBe("uL")
  })

  test("what a supply is counted in stays once it has containers", () => {
    const id = addSupply(studio, paint)
    receiveOne(studio, [id], null)
    const refusal = refusalOf(() => changeSupply(studio, id, { ...paint, baseUnit: "uL", name: "Other" }))
    expect(refusal).toMatchObject({ field: "baseUnit" })
    expect(refusal.message).toContain("there are containers of it")
    expect(supplyById(studio, id)).toMatchObject({ baseUnit: "mg", name: "Harbor blue" })
  })

  test("what a supply is counted in stays once packs contain it or a resin is mixed from it", () => {
    const id = addSupply(studio, paint)
    addPack(studio, pack(id))
    expect(refusalOf(() => changeSupply(studio, id, { ...paint, baseUnit: "each" })).message).toContain(
      "packs contain it",
    )
    const parts = twoParts()
    addResinSystem(studio, system(parts))
    const change = () => changeSupply(studio, parts.partBSupplyId, part("Clear B", { baseUnit: "mg" }))
    expect(refusalOf(change).message).toContain("a resin system is mixed from it")
  })

  test("blanks are counted by the piece", () => {
    expect(refusalOf(() => addSupply(studio, { ...paint, kind: "blank" })).field).toBe("baseUnit")
  })

  test("a refused supply leaves nothing behind", () => {
    addSupply(studio, paint)
    refusalOf(() => addSupply(studio, { ...paint, name: "HARBOR BLUE" }))
    expect(suppliesList(studio)).toHaveLength(1)
  })
})

describe("resin systems", () => {
  test("carry their parts as the computations want them", () => {
    const parts = twoParts()
    const id = addResinSystem(studio, system(parts))
    expect(resinSystemById(studio, id)).toMatchObject({
      name: "Clear cast",
      partA: { id: parts.partASupplyId, name: "Clear A", kind: "resin", baseUnit: "uL" },
      partB: { id: parts.partBSupplyId, kind: "hardener" },
      recoatLatestMin: null,
    })
    changeResinSystem(studio, id, { ...system(parts), ratioB: 2, recoatLatestMin: 1440 })
    expect(resinSystems(studio)).toMatchObject([{ id, ratioA: 1, ratioB: 2, recoatLatestMin: 1440 }])
  })

  test("a ratio by weight needs both densities, since 1:1 by volume is not 1:1 by mass", () => {
    const parts = twoParts()
    const refusal = refusalOf(() => addResinSystem(studio, { ...system(parts), ratioBasis: "mass" }))
    expect(refusal).toMatchObject({ field: "partASupplyId" })
    expect(refusal.message).toContain("density of Clear A")
    changeSupply(studio, parts.partASupplyId, part("Clear A", { densityMgPerMl: 1150 }))
    changeSupply(studio, parts.partBSupplyId, part("Clear B", { kind: "hardener", densityMgPerMl: 970 }))
    addResinSystem(studio, { ...system(parts), ratioBasis: "mass", ratioA: 100, ratioB: 83 })
    expect(resinSystems(studio)).toHaveLength(1)
  })

  test.each([
    [
      "the parts are one supply",
      (parts: ReturnType<typeof twoParts>) => ({ partBSupplyId: parts.partASupplyId }),
      "two supplies",
    ],
    ["stirring takes the whole pot life", () => ({ mixingMin: 45 }), "pot life"],
    ["the latest next coat is before the earliest", () => ({ recoatLatestMin: 60 }), "before the earliest"],
    ["a part is not there", () => ({ partASupplyId: 999 }), "Part A"],
  ])("are refused when %s", (_why, over, said) => {
    const parts = twoParts()
    expect(refusalOf(() => addResinSystem(studio, { ...system(parts), ...over(parts) })).message).toContain(
      said,
    )
    expect(resinSystems(studio)).toEqual([])
  })

  test("a part counted by the piece is none", () => {
    const parts = twoParts()
    const partASupplyId = addSupply(studio, part("Tablets", { baseUnit: "each" }))
    expect(refusalOf(() => addResinSystem(studio, system({ ...parts, partASupplyId }))).message).toContain(
      "by volume or by weight",
    )
  })
})

describe("blanks", () => {
  test("come back with the profile they were given, base to lip", () => {
    const id = addBlank(studio, cup)
    const blank = blankOf(studio, id)
    expect(blank).toEqual({
      supply: {
        id,
        name: "Slim 30",
        kind: "blank",
        baseUnit: "each",
        densityMgPerMl: null,
        sheet: null,
        rollWidthUm: null,
      },
      rings: cup.rings,
      bareLipUm: 10_000,
      bareBaseUm: 3_000,
      coatsBase: false,
    })
    // frustum by hand: π (35.0375+37.875) × √(227² + 2.8375²) mm, between 3 and 230 mm above the base
    const area = Math.PI * (35.0375 + 37.875) * Math.hypot(227, 2.8375)
    expect(coatedAreaMm2(blank)).toBeCloseTo(area, 3)
    expect(blanks(studio)).toEqual([blank])
  })

  test("a changed profile takes the place of the old one", () => {
    const id = addBlank(studio, cup)
    const rings = [...cup.rings, { heightUm: 260_000, diameterUm: 80_000 }]
    changeBlank(studio, id, { ...cup, rings, bareLipUm: 0 })
    expect(blankOf(studio, id)).toMatchObject({ rings, bareLipUm: 0 })
  })

  test("one whose bare bands leave nothing to coat is refused, and its supply is not kept either", () => {
    expect(refusalOf(() => addBlank(studio, { ...cup, bareLipUm: 240_000 })).message).toContain(
      "nothing to coat",
    )
    expect(suppliesList(studio)).toEqual([])
  })

  test("one without a profile says where to give it one, and is no blank to plan on yet", () => {
    const id = addSupply(studio, { ...paint, kind: "blank", baseUnit: "each" })
    expect(refusalOf(() => blankOf(studio, id)).message).toContain("no profile yet")
    expect(blanks(studio)).toEqual([])
  })

  test("stay blanks once they have a profile, and nothing else takes one", () => {
    const id = addBlank(studio, cup)
    expect(refusalOf(() => changeSupply(studio, id, { ...paint, baseUnit: "each" })).field).toBe("kind")
    const notACup = addSupply(studio, { ...paint, name: "Lids", kind: "packaging", baseUnit: "each" })
    changeSupply(studio, notACup, { ...paint, name: "Lids", kind: "packaging", baseUnit: "each" })
    expect(blanks(studio)).toHaveLength(1)
  })
})

describe("settings", () => {
  test("are kept, and a demo stays a demo", () => {
    keepSettings(studio, { ...FIRST_SETTINGS, isDemo: true })
    changeSettings(studio, { ...FIRST_SETTINGS, name: "Blue Door Cups", units: "us", currency: "EUR" })
    expect(settingsOf(studio)).toMatchObject({
      name: "Blue Door Cups",
      units: "us",
      currency: "EUR",
      isDemo: true,
    })
  })

  test("a time zone or currency that does not exist is refused", () => {
    const change = (over: object) => () => changeSettings(studio, { ...FIRST_SETTINGS, ...over })
    expect(refusalOf(change({ timeZone: "Mars/Olympus" })).field).toBe("timeZone")
    expect(refusalOf(change({ timeZone: "+05:00" })).field).toBe("timeZone")
    expect(refusalOf(change({ currency: "ZZZ" })).field).toBe("currency")
  })
})
