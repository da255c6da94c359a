import { describe, expect, test } from "vitest"
import { allocate, type Choice, openPool, type Shelved, type Want } from "../../server/domain/allocation.ts"

const today = "2026-03-10"

/** 100 mL of supply 1, sealed, good for long, on the shelf. */
const bottle = (containerId: number, over: Partial<Shelved> = {}): Shelved => ({
  containerId,
  supplyId: 1,
  amountLeft: 100,
  openedOn: null,
  useBy: "2027-01-01",
  held: false,
  onBench: false,
  kitUnit: null,
  ...over,
})
const want = (amount: number, over: Partial<Want> = {}): Want => ({
  supplyId: 1,
  amount,
  wholeCoat: 10,
  ...over,
})
const order = (shelf: Shelved[], choice: Choice = {}, wants = [want(shelf.length * 100)]) =>
  allocate(wants, shelf, today, choice).picks.map((pick) => pick.containerId)

describe("offcuts", () => {
  const shelf = [bottle(1, { isOffcut: true }), bottle(2)]

  test("are never a part of whole sheets, not even when they are chosen or on the bench", () => {
    expect(allocate([want(150, { wholeSheets: true })], shelf, today)).toMatchObject({
      kind: "short",
      picks: [{ containerId: 2, amount: 100 }],
    })
    const chosen = [bottle(1, { isOffcut: true, onBench: true }), bottle(2)]
    expect(order(chosen, { prefer: [1] }, [want(100, { wholeSheets: true })])).toEqual([2])
  })

  test("give what was fitted on them, and nothing else stands in for that", () => {
    expect(order(shelf, {}, [want(60, { only: 1 })])).toEqual([1])
    expect(allocate([want(160, { only: 1 })], shelf, today)).toMatchObject({
      kind: "short",
      missing: [{ supplyId: 1, amount: 60 }],
    })
    expect(allocate([want(10, { only: 1 })], [bottle(1, { useBy: "2026-03-09" })], today).kind).toBe("short")
  })

  test("serve what is counted by its area alone, like any other", () => {
    expect(order(shelf, {}, [want(150)])).toEqual([1, 2])
  })
})

describe("what a container keeps back", () => {
  const can = (id: number, amountLeft: number) => bottle(id, { amountLeft, keptBack: 20 })

  test("is never taken: a can of 100 that keeps 20 gives 80", () => {
    expect(allocate([want(90)], [can(1, 100)], today)).toEqual({
      kind: "short",
      picks: [{ want: 0, containerId: 1, amount: 80, pastItsDay: false }],
      missing: [{ supplyId: 1, amount: 10 }],
    })
  })

  test("is all there is in a spent can, so that it is not proposed", () => {
    expect(order([can(1, 20), can(2, 15), bottle(3)], {}, [want(100)])).toEqual([3])
  })

  test("leaves less than a cup takes: then it is a remnant and comes last", () => {
    expect(order([can(1, 29), bottle(2)], {}, [want(100)])).toEqual([2])
    expect(order([can(1, 30), bottle(2)], {}, [want(100)])).toEqual([1, 2])
  })
})

describe("which container comes first", () => {
  const plain = bottle(1)
  test.each<[string, Shelved[], number[]]>([
    ["on the bench before open", [bottle(2, { openedOn: today }), bottle(3, { onBench: true })], [3, 2, 1]],
    [
      "open before sealed, whatever the use-by",
      [bottle(2, { openedOn: today, useBy: "2028-01-01" })],
      [2, 1],
    ],
    ["earliest use-by first", [bottle(2, { useBy: "2026-12-31" })], [2, 1]],
    [
      "no use-by known comes last",
      [bottle(2, { useBy: null }), bottle(3, { useBy: "2099-01-01" })],
      [1, 3, 2],
    ],
    [
      "a remnant too small for one cup comes last, even open",
      [bottle(2, { amountLeft: 9, openedOn: today })],
      [1, 2],
    ],
    ["what just does for one cup is no remnant", [bottle(2, { amountLeft: 10, openedOn: today })], [2, 1]],
    [
      "a remnant on the bench is used before the shelf",
      [bottle(2, { amountLeft: 9, onBench: true })],
      [2, 1],
    ],
    ["the lowest id where all else is the same", [bottle(3), bottle(2)], [1, 2, 3]],
  ])("%s", (_, others, expected) => {
    expect(order([plain, ...others])).toEqual(expected)
  })

  test("what the person would rather use comes before the bench, in the person's order", () => {
    const shelf = [bottle(1, { onBench: true }), bottle(2), bottle(3), bottle(4)]
    expect(order(shelf, { prefer: [4, 3] })).toEqual([4, 3, 1, 2])
  })

  test("a preferred container of another supply is left alone", () => {
    expect(order([bottle(1), bottle(2, { supplyId: 2 })], { prefer: [2] })).toEqual([1])
  })
})

describe("what is never proposed", () => {
  test("held, empty, or past its day; on the use-by day itself it is good", () => {
    const shelf = [
      bottle(1, { held: true }),
      bottle(2, { amountLeft: 0 }),
      bottle(3, { useBy: "2026-03-09" }),
      bottle(4, { useBy: today }),
    ]
    expect(allocate([want(150)], shelf, today)).toEqual({
      kind: "short",
      picks: [{ want: 0, containerId: 4, amount: 100, pastItsDay: false }],
      missing: [{ supplyId: 1, amount: 50 }],
    })
  })

  test("preferring one does not make it good", () => {
    const shelf = [bottle(1, { held: true }), bottle(2, { useBy: "2026-03-09" })]
    expect(order(shelf, { prefer: [1, 2] })).toEqual([])
  })

  test("one past its day is used when the person insists, first, and the pick says so", () => {
    const shelf = [bottle(1, { onBench: true }), bottle(2, { useBy: "2026-03-09" })]
    expect(allocate([want(120)], shelf, today, { insist: new Set([2]) })).toEqual({
      kind: "enough",
      picks: [
        { want: 0, containerId: 2, amount: 100, pastItsDay: true },
        { want: 0, containerId: 1, amount: 20, pastItsDay: false },
      ],
    })
  })

  test("insisting on a held one does not help, and on a good one changes nothing", () => {
    expect(order([bottle(1, { held: true }), bottle(2)], { insist: new Set([1]) })).toEqual([2])
    expect(order([bottle(1), bottle(2)], { insist: new Set([2]) })).toEqual([1, 2])
  })
})

describe("A and B of one kit stay together", () => {
  const a = (id: number, over: Partial<Shelved> = {}) => bottle(id, { supplyId: 1, ...over })
  const b = (id: number, over: Partial<Shelved> = {}) => bottle(id, { supplyId: 2, ...over })
  const pair = (amount: number): Want[] => [want(amount), want(amount, { supplyId: 2, pairWith: 0 })]

  test("B comes out of the kit its A came from, before one that goes off sooner", () => {
    const shelf = [
      a(1, { kitUnit: 70, useBy: "2026-06-01" }),
      a(2, { kitUnit: 71 }),
      b(3, { kitUnit: 71, useBy: "2026-04-01" }),
      b(4, { kitUnit: 70 }),
    ]
    expect(order(shelf, {}, pair(50))).toEqual([1, 4])
  })

  test("the bench and an open bottle outrank the kit", () => {
    const kit = [a(1, { kitUnit: 70 }), b(2, { kitUnit: 70 })]
    expect(order([...kit, b(3, { onBench: true })], {}, pair(50))).toEqual([1, 3])
    expect(order([...kit, b(3, { openedOn: today })], {}, pair(50))).toEqual([1, 3])
  })

  test("an A from two kits lets B come from both", () => {
    const shelf = [
      a(1, { kitUnit: 70 }),
      a(2, { kitUnit: 71 }),
      b(3, { useBy: "2026-04-01" }),
      b(4, { kitUnit: 71 }),
      b(5, { kitUnit: 70 }),
    ]
    expect(order(shelf, {}, pair(150))).toEqual([1, 2, 4, 5])
  })

  test("an A that came in no kit pairs with nothing", () => {
    expect(order([a(1), b(2), b(3, { kitUnit: 70, useBy: "2027-06-01" })], {}, pair(50))).toEqual([1, 2])
  })

  test("pairing with a later want is a programmer's mistake", () => {
    expect(() => allocate([want(1, { pairWith: 0 })], [], today)).toThrow(RangeError)
  })
})

describe("wants share what is there", () => {
  test("amounts run down from want to want, and what is missing is added up for each supply", () => {
    const shelf = [bottle(1), bottle(2, { supplyId: 2, amountLeft: 5 })]
    expect(allocate([want(70), want(70), want(9, { supplyId: 2 }), want(3)], shelf, today)).toEqual({
      kind: "short",
      picks: [
        { want: 0, containerId: 1, amount: 70, pastItsDay: false },
        { want: 1, containerId: 1, amount: 30, pastItsDay: false },
        { want: 2, containerId: 2, amount: 5, pastItsDay: false },
      ],
      missing: [
        { supplyId: 1, amount: 43 },
        { supplyId: 2, amount: 4 },
      ],
    })
  })

  test("a bottle opened for one want is the open one for the next", () => {
    // both sealed; the first takes from 1, and 1 stays first although 2 is on hand with the same day
    const shelf = [bottle(2, { useBy: "2026-06-01" }), bottle(1, { useBy: "2026-05-01" })]
    expect(order(shelf, {}, [want(10), want(10), want(10)])).toEqual([1, 1, 1])
  })

  test("wanting nothing takes nothing, and half a drop is a programmer's mistake", () => {
    expect(allocate([want(0)], [bottle(1)], today)).toEqual({ kind: "enough", picks: [] })
    expect(() => allocate([want(0.5)], [bottle(1)], today)).toThrow(RangeError)
    expect(() => allocate([want(-1)], [bottle(1)], today)).toThrow(RangeError)
  })
})

describe("a pool runs down day by day", () => {
  test("a sealed container is open from its first take, and its life after opening runs from then", () => {
    const pool = openPool([bottle(1, { openLife: { unit: "days", value: 30 } })])
    expect(pool.take(want(10), "2026-03-10").missing).toEqual([])
    expect(pool.take(want(10), "2026-04-09").missing).toEqual([])
    expect(pool.take(want(10), "2026-04-10").missing).toEqual([{ supplyId: 1, amount: 10 }])
  })

  test("opening never makes a container last longer than its label", () => {
    const pool = openPool([bottle(1, { useBy: "2026-03-20", openLife: { unit: "months", value: 6 } })])
    pool.take(want(10), "2026-03-10")
    expect(pool.take(want(10), "2026-03-21").picks).toEqual([])
  })

  test("one that was open before keeps the use-by it came with", () => {
    const open = bottle(1, {
      openedOn: "2026-01-01",
      useBy: "2026-05-01",
      openLife: { unit: "days", value: 1 },
    })
    const pool = openPool([open])
    pool.take(want(10), "2026-03-10")
    expect(pool.take(want(10), "2026-05-01").missing).toEqual([])
  })

  test("an expected delivery serves from the day it is put on the shelf", () => {
    const pool = openPool([bottle(1)])
    expect(pool.take(want(130), today).missing).toEqual([{ supplyId: 1, amount: 30 }])
    pool.put(bottle(2))
    expect(pool.take(want(30), today).picks).toEqual([
      { want: 0, containerId: 2, amount: 30, pastItsDay: false },
    ])
    expect(() => pool.put(bottle(2))).toThrow(RangeError)
  })

  test("the rows it was opened with stay as they are", () => {
    const shelf = [bottle(1, { openLife: { unit: "days", value: 3 } })]
    const before = structuredClone(shelf)
    openPool(shelf).take(want(40), today)
    expect(shelf).toEqual(before)
  })
})
