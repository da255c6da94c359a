import { Temporal } from "temporal-polyfill"
import { beforeEach, describe, expect, test } from "vitest"
import { openStudioFile } from "../../db/migrate.ts"
import { coatedAreaMm2 } from "../../server/domain/profile.ts"
import { Refusal } from "../../server/domain/refusal.ts"
import { act } from "../../server/ledger/act.ts"
import { fillContainer, lotOf } from "../../server/ledger/fill.ts"
import { FIRST_SETTINGS, keepSettings, type Studio, settingsOf } from "../../server/ledger/studio.ts"
import {
  addBlank,
  addCodeToPack,
  addMaker,
  addNewThing,
  addPack,
  addResinSystem,
  addSeller,
  addSupply,
  blankOf,
  blanks,
  changeBlank,
  changeMaker,
  changePack,
  changeResinSystem,
  changeSeller,
  changeSettings,
  changeSupply,
  makers,
  type PackInput,
  packById,
  packs,
  packsByCode,
  packsOfSupply,
  type ResinSystemInput,
  resinSystemById,
  resinSystems,
  type SupplyInput,
  sellers,
  setOffer,
  suppliesList,
  supplyById,
} from "../../server/supplies/service.ts"

let studio: Studio
beforeEach(() => {
  studio = { file: openStudioFile(":memory:"), now: () => Temporal.Instant.from("2026-03-02T15:00:00Z") }
  keepSettings(studio, { ...FIRST_SETTINGS, timeZone: "America/Chicago" })
})

const paint: SupplyInput = {
  name: "Harbor blue",
  kind: "paint",
  baseUnit: "mg",
  densityMgPerMl: null,
  shelfLife: { unit: "months", value: 24 },
  openLife: { unit: "never" },
  leadTimeDays: null,
  minimumAmount: 50_000,
  hazards: ["flammable", "aerosol"],
  colour: "#1F6F8B",
  note: "",
}
const part = (name: string, over: Partial<SupplyInput> = {}): SupplyInput => ({
  ...paint,
  name,
  kind: "resin",
  baseUnit: "uL",
  hazards: [],
  colour: null,
  ...over,
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
const pack = (supplyId: number, over: Partial<PackInput> = {}): PackInput => ({
  name: "Harbor blue, 340 g can",
  makerId: null,
  codes: [],
  contents: [{ supplyId, amount: 340_000, containerCount: 1 }],
  offers: [],
  ...over,
})
const cup = {
  supply: { ...paint, name: "Slim 30", hazards: [] as string[] },
  rings: [
    { heightUm: 0, diameterUm: 70_000 },
    { heightUm: 240_000, diameterUm: 76_000 },
  ],
  bareLipUm: 10_000,
  bareBaseUm: 3_000,
}

/** A can of it on the shelf. */
function received(supplyId: number): void {
  act(studio, "receive", { device: "test", key: `received-${supplyId}` }, null, (underway) => {
    const lotId = lotOf(underway, {
      supplyId,
      makerId: null,
      number: null,
      madeOn: null,
      expiresOn: null,
      expiryBasis: "unknown",
    })
    fillContainer(underway, {
      supplyId,
      lotId,
      receiptLineId: null,
      kitUnit: null,
      fullAmount: 10,
      amount: 10,
      costMicro: 0,
      basis: "counted",
    })
    return { summary: "received", answer: null }
  })
}

/** The refusal that `work` is answered with. */
function refusalOf(work: () => unknown): Refusal {
  try {
    work()
  } catch (error) {
    if (error instanceof Refusal) return error
    throw error
  }
  throw new Error("it was not refused")
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
    expect(sellers(studio)).toEqual([{ id, name: "North Door Supply", leadTimeDays: 6 }])
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
      id,
      colour: "#1f6f8b",
      hazards: ["aerosol", "flammable"],
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
    received(id)
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
      supply: { id, name: "Slim 30", kind: "blank", baseUnit: "each", densityMgPerMl: null },
      rings: cup.rings,
      bareLipUm: 10_000,
      bareBaseUm: 3_000,
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

describe("packs", () => {
  test("a kit holds several supplies; each content knows what it is counted in and how long it keeps", () => {
    const parts = twoParts()
    const sellerId = addSeller(studio, { name: "North Door Supply", leadTimeDays: 4 })
    const makerId = addMaker(studio, { name: "Alder Coatings" })
    const id = addPack(studio, {
      name: "Clear cast kit, 2 × 473 mL",
      makerId,
      codes: ["9521234567899"],
      contents: [
        { supplyId: parts.partASupplyId, amount: 473_000, containerCount: 1 },
        { supplyId: parts.partBSupplyId, amount: 473_000, containerCount: 1 },
      ],
      offers: [{ sellerId, priceMicro: 38_500_000 }],
    })
    expect(packById(studio, id)).toMatchObject({
      maker: "Alder Coatings",
      codes: ["09521234567899"],
      contents: [
        { supply: "Clear A", baseUnit: "uL", amount: 473_000, shelfLife: { unit: "months", value: 24 } },
        { supply: "Clear B", openLife: { unit: "never" } },
      ],
      offers: [{ seller: "North Door Supply", priceMicro: 38_500_000 }],
    })
  })

  test("an item number is found in any of its forms: 12, 13 or 14 digits", () => {
    const id = addPack(studio, pack(addSupply(studio, paint), { codes: ["412345678903"] }))
    for (const read of ["412345678903", "0412345678903", "00412345678903", " 4123 4567 8903 "])
      expect(packsByCode(studio, read).map((found) => found.id)).toEqual([id])
    expect(packsByCode(studio, "412345678910")).toEqual([])
  })

  test("a code that is no item number is kept as it reads", () => {
    const id = addPack(studio, pack(addSupply(studio, paint), { codes: ["HB-340/a"] }))
    expect(packsByCode(studio, "HB-340/a").map((found) => found.id)).toEqual([id])
    expect(packsByCode(studio, "hb-340/a")).toEqual([])
  })

  test("one code may stand on two packs, and one pack may carry two codes", () => {
    const supplyId = addSupply(studio, paint)
    const one = addPack(studio, pack(supplyId, { codes: ["412345678903"] }))
    const six = addPack(studio, {
      ...pack(supplyId, { name: "Six cans", codes: ["412345678903"] }),
      contents: [{ supplyId, amount: 340_000, containerCount: 6 }],
    })
    addCodeToPack(studio, six, "SIX")
    addCodeToPack(studio, six, "SIX")
    expect(packsByCode(studio, "412345678903").map((found) => found.id)).toEqual([one, six])
    expect(packById(studio, six).codes).toEqual(["00412345678903", "SIX"])
    expect(packsOfSupply(studio, supplyId)).toHaveLength(2)
  })

  test("a change replaces contents, codes and prices", () => {
    const supplyId = addSupply(studio, paint)
    const sellerId = addSeller(studio, { name: "North Door Supply", leadTimeDays: 4 })
    const id = addPack(studio, pack(supplyId, { codes: ["OLD"], offers: [{ sellerId, priceMicro: 1 }] }))
    changePack(studio, id, pack(supplyId, { codes: ["NEW"] }))
    setOffer(studio, id, { sellerId, priceMicro: 2 })
    setOffer(studio, id, { sellerId, priceMicro: 3 })
    expect(packById(studio, id)).toMatchObject({ codes: ["NEW"], offers: [{ sellerId, priceMicro: 3 }] })
  })

  test.each([
    ["holds nothing", { contents: [] }, "contents[0][supplyId]"],
    [
      "holds a supply that is not there",
      { contents: [{ supplyId: 999, amount: 1, containerCount: 1 }] },
      "contents[0][supplyId]",
    ],
    ["is by a maker who is not there", { makerId: 999 }, "makerId"],
    [
      "is sold by someone who is not there",
      { offers: [{ sellerId: 999, priceMicro: 1 }] },
      "offers[0][sellerId]",
    ],
  ])("one that %s is refused whole", (_why, over, field) => {
    const supplyId = addSupply(studio, paint)
    expect(refusalOf(() => addPack(studio, pack(supplyId, over))).field).toBe(field)
    expect(packs(studio)).toEqual([])
  })

  test("a seller has one price for a pack", () => {
    const sellerId = addSeller(studio, { name: "North Door Supply", leadTimeDays: 4 })
    const offers = [1, 2].map((priceMicro) => ({ sellerId, priceMicro }))
    expect(refusalOf(() => addPack(studio, pack(addSupply(studio, paint), { offers }))).field).toBe(
      "offers[1][sellerId]",
    )
  })
})

describe("“what is it?”", () => {
  const thing = {
    code: "412345678903",
    supply: paint,
    packName: "Harbor blue, 340 g can",
    makerId: null,
    makerName: "Alder Coatings",
    amount: 340_000,
    containerCount: 1,
    sellerId: null,
    priceMicro: null,
  }

  test("adds supply, maker, pack and code at once, and the code is known from then on", () => {
    const id = addNewThing(studio, thing)
    expect(packsByCode(studio, "0412345678903")).toMatchObject([
      { id, maker: "Alder Coatings", contents: [{ supply: "Harbor blue", amount: 340_000 }], offers: [] },
    ])
  })

  test("takes a known supply by its id and a known maker by name", () => {
    const supplyId = addSupply(studio, paint)
    const makerId = addMaker(studio, { name: "Alder Coatings" })
    const sellerId = addSeller(studio, { name: "North Door Supply", leadTimeDays: 4 })
    const id = addNewThing(studio, {
      ...thing,
      code: null,
      supply: supplyId,
      makerName: " alder coatings ",
      sellerId,
      priceMicro: 9_990_000,
    })
    expect(packById(studio, id)).toMatchObject({ makerId, codes: [], contents: [{ supplyId }] })
    expect(packById(studio, id).offers).toEqual([
      { sellerId, seller: "North Door Supply", priceMicro: 9_990_000 },
    ])
    expect(makers(studio)).toHaveLength(1)
  })

  test("leaves nothing behind when a part of it is refused", () => {
    addPack(studio, pack(addSupply(studio, { ...paint, name: "Other" })))
    expect(refusalOf(() => addNewThing(studio, thing)).message).toContain("already there")
    expect(suppliesList(studio)).toHaveLength(1)
    expect(makers(studio)).toEqual([])
  })

  test("a price is someone's price", () => {
    expect(refusalOf(() => addNewThing(studio, { ...thing, priceMicro: 5 })).field).toBe("sellerId")
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
