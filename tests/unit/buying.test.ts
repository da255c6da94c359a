import fc from "fast-check"
import { expect, test } from "vitest"
import { type BuyablePack, type Lack, whatToBuy } from "../../server/domain/buying.ts"

const TODAY = "2026-12-01"
const lack = (supplyId: number, amount: number, over: Partial<Lack> = {}): Lack => ({
  supplyId,
  amount,
  neededOn: "2026-12-20",
  leadTimeDays: null,
  ...over,
})
const pack = (
  packId: number,
  contents: [number, number][],
  priceMicro: number,
  leadTimeDays = 5,
  sellerId = 1,
): BuyablePack => ({
  packId,
  contents: contents.map(([supplyId, amount]) => ({ supplyId, amount })),
  offers: [{ sellerId, priceMicro, leadTimeDays }],
})

test("whole packs: 1,100 mL missing in bottles of 500 is three bottles, not 2.2", () => {
  const { buys } = whatToBuy([lack(1, 1100)], [pack(1, [[1, 500]], 7)], TODAY)
  expect(buys).toEqual([
    {
      packId: 1,
      sellerId: 1,
      count: 3,
      costMicro: 21,
      supplyIds: [1],
      neededOn: "2026-12-20",
      leadTimeDays: 5,
      orderBy: "2026-12-15",
      late: false,
    },
  ])
})

test("the cheapest single size for the amount: one large rather than three small, two small rather than one large", () => {
  const sizes = [pack(1, [[1, 500]], 10), pack(2, [[1, 2000]], 25)]
  expect(whatToBuy([lack(1, 1100)], sizes, TODAY).buys).toMatchObject([
    { packId: 2, count: 1, costMicro: 25 },
  ])
  expect(whatToBuy([lack(1, 1000)], sizes, TODAY).buys).toMatchObject([
    { packId: 1, count: 2, costMicro: 20 },
  ])
})

test("the cheapest mix of sizes: one large and one small rather than two large or three small", () => {
  const sizes = [pack(1, [[1, 500]], 10), pack(2, [[1, 1000]], 18)]
  const { buys } = whatToBuy([lack(1, 1400)], sizes, TODAY)
  expect(buys.map((buy) => [buy.packId, buy.count, buy.costMicro])).toEqual([
    [1, 1, 10],
    [2, 1, 18],
  ])
})

test("a price that falls from so many packs on is counted: three at 8 rather than two at 10 and one elsewhere", () => {
  const many = pack(1, [[1, 500]], 10)
  const breaks = [{ fromCount: 3, priceMicro: 8 }]
  const sold = [
    { ...many, offers: many.offers.map((offer) => ({ ...offer, breaks })) },
    pack(2, [[1, 1500]], 26, 5, 2),
  ]
  expect(whatToBuy([lack(1, 1400)], sold, TODAY).buys).toMatchObject([{ packId: 1, count: 3, costMicro: 24 }])
})

test("the only pack there is is bought up to its break where that costs less: ten at 6 rather than nine at 8", () => {
  const bottles = pack(1, [[1, 500]], 8)
  const breaks = [{ fromCount: 10, priceMicro: 6 }]
  const sold = [{ ...bottles, offers: bottles.offers.map((offer) => ({ ...offer, breaks })) }]
  expect(whatToBuy([lack(1, 4500)], sold, TODAY).buys).toMatchObject([{ count: 10, costMicro: 60 }])
  // seven at 8 are 56
  expect(whatToBuy([lack(1, 3500)], sold, TODAY).buys).toMatchObject([{ count: 7, costMicro: 56 }])
})

test("a large pack that would go off half used is not bought where small ones cost less in all", () => {
  const sizes = [pack(1, [[1, 500]], 10), pack(2, [[1, 2000]], 25)]
  // 1,000 mL over 100 days; a bottle keeps 50 days, so of 2,000 mL only 500 would be used
  const slow = lack(1, 1000, { keeps: { usePerDay: 10, days: 50 } })
  expect(whatToBuy([slow], sizes, TODAY).buys).toMatchObject([{ packId: 1, count: 2, costMicro: 20 }])
  const lasting = lack(1, 1400, { keeps: { usePerDay: 10, days: null } })
  expect(whatToBuy([lasting], sizes, TODAY).buys).toMatchObject([{ packId: 2, count: 1, costMicro: 25 }])
})

test("a kit gives A and B: it is bought once for both, as many as the one that lacks most needs", () => {
  const packs = [
    pack(1, [[1, 500]], 30),
    pack(2, [[2, 500]], 30),
    pack(3, [[1, 500], [2, 500]], 40), // biome-ignore format: as pairs
  ]
  const { buys } = whatToBuy([lack(1, 400), lack(2, 900, { neededOn: "2026-12-18" })], packs, TODAY)
  expect(buys).toMatchObject([
    { packId: 3, count: 2, costMicro: 80, neededOn: "2026-12-18", orderBy: "2026-12-13" },
  ])
  expect(buys[0]?.supplyIds.toSorted()).toEqual([1, 2])
})

test("only B missing and B sold alone for less than the kit: B alone", () => {
  const packs = [pack(2, [[2, 500]], 30), pack(3, [[1, 500], [2, 500]], 40)] // biome-ignore format: as pairs
  expect(whatToBuy([lack(2, 400)], packs, TODAY).buys).toMatchObject([{ packId: 2, count: 1 }])
})

test("a kit for both and the small rest alone, where that is cheaper than one more kit", () => {
  const packs = [pack(2, [[2, 100]], 5), pack(3, [[1, 500], [2, 500]], 40)] // biome-ignore format: as pairs
  const { buys } = whatToBuy([lack(1, 500), lack(2, 590)], packs, TODAY)
  expect(buys.map((buy) => [buy.packId, buy.count])).toEqual([
    [2, 1],
    [3, 1],
  ])
})

test("who delivers in time goes before who is cheaper and late; when all are late, the cheapest, said to be late", () => {
  const packs = [pack(1, [[1, 500]], 10, 30, 1), pack(2, [[1, 500]], 15, 3, 2)]
  expect(whatToBuy([lack(1, 400)], packs, TODAY).buys).toMatchObject([{ sellerId: 2, late: false }])
  expect(whatToBuy([lack(1, 400, { neededOn: "2026-12-02" })], packs, TODAY).buys).toMatchObject([
    { sellerId: 1, late: true, orderBy: "2026-11-02" },
  ])
})

test("the supply's own lead time goes before the seller's", () => {
  const packs = [pack(1, [[1, 500]], 10, 5)]
  expect(whatToBuy([lack(1, 1, { leadTimeDays: 14 })], packs, TODAY).buys[0]?.orderBy).toBe("2026-12-06")
})

test("what nobody sells is named", () => {
  const unpriced: BuyablePack = { packId: 1, contents: [{ supplyId: 1, amount: 5 }], offers: [] }
  expect(whatToBuy([lack(1, 1), lack(2, 1)], [unpriced], TODAY)).toEqual({ buys: [], nobodySells: [1, 2] })
})

test("what is bought covers all that is missing; one supply alone costs what trying every pack finds", () => {
  const packs = fc
    .array(
      fc.record({
        contents: fc.uniqueArray(fc.tuple(fc.integer({ min: 1, max: 3 }), fc.integer({ min: 1, max: 50 })), {
          minLength: 1,
          maxLength: 2,
          selector: ([supplyId]) => supplyId,
        }),
        price: fc.integer({ min: 0, max: 40 }),
      }),
      { minLength: 1, maxLength: 6 },
    )
    .map((all) => all.map(({ contents, price }, i) => pack(i + 1, contents, price)))
  const lacks = fc
    .uniqueArray(fc.tuple(fc.integer({ min: 1, max: 3 }), fc.integer({ min: 1, max: 120 })), {
      minLength: 1,
      selector: ([supplyId]) => supplyId,
    })
    .map((all) => all.map(([supplyId, amount]) => lack(supplyId, amount)))
  fc.assert(
    fc.property(lacks, packs, (missing, sold) => {
      const { buys, nobodySells } = whatToBuy(missing, sold, TODAY)
      const inPack = (packId: number, supplyId: number) =>
        sold[packId - 1]!.contents.find((content) => content.supplyId === supplyId)?.amount ?? 0
      for (const { supplyId, amount } of missing) {
        const bought = buys.reduce((sum, buy) => sum + buy.count * inPack(buy.packId, supplyId), 0)
        if (nobodySells.includes(supplyId)) expect(bought).toBe(0)
        else expect(bought).toBeGreaterThanOrEqual(amount)
      }
      if (missing.length !== 1 || buys.length === 0) return
      const { supplyId, amount } = missing[0]!
      const holding = sold.filter((one) => inPack(one.packId, supplyId) > 0)
      const oneSize = holding.map(
        (one) => Math.ceil(amount / inPack(one.packId, supplyId)) * one.offers[0]!.priceMicro,
      )
      // every mix of packs that hold nothing else: the least that covers so much, from 0 up
      const least = [0]
      for (let need = 1; need <= amount; need++) {
        least[need] = Math.min(
          ...holding
            .filter((one) => one.contents.length === 1)
            .map((one) => one.offers[0]!.priceMicro + least[Math.max(0, need - one.contents[0]!.amount)]!),
        )
      }
      const cost = buys.reduce((sum, buy) => sum + buy.costMicro, 0)
      expect(cost).toBe(Math.min(...oneSize, least[amount]!))
    }),
  )
})
