import { beforeEach, describe, expect, test } from "vitest"
import {
  addCodeToPack,
  addMaker,
  addNewThing,
  addPack,
  addSeller,
  addSupply,
  changePack,
  makers,
  packById,
  packs,
  packsByCode,
  packsOfSupply,
  setOffer,
  suppliesList,
} from "../../server/supplies/service.ts"
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
    expect(packById(studio, id).offers).toMatchObject([
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
