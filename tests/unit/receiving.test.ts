import { beforeEach, describe, expect, test } from "vitest"
import { onHand } from "../../server/ledger/on-hand.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import {
  closeDelivery,
  deliveryLines,
  expectedIn,
  noteDamaged,
  openDelivery,
  type ReceiveInput,
  receive,
  receiveOpening,
  startDelivery,
} from "../../server/receiving/service.ts"
import { addMaker, addPack, addSeller, addSupply, type SupplyInput } from "../../server/supplies/service.ts"
import { verify } from "../../server/verify/service.ts"
import { someone, type TestStudio, TODAY, testStudio } from "../support/studio.ts"

let studio: TestStudio
let seller: number
let maker: number
let partA: number
let partB: number
let gloves: number
let kit: number
let delivery: number

beforeEach(() => {
  studio = testStudio()
  seller = addSeller(studio, { name: "Harbour Supply", leadTimeDays: 4 })
  maker = addMaker(studio, { name: "Plainwater" })
  partA = addSupply(
    studio,
    supply("Clear part A", { kind: "resin", shelfLife: { unit: "months", value: 24 } }),
  )
  partB = addSupply(
    studio,
    supply("Clear part B", { kind: "hardener", shelfLife: { unit: "months", value: 12 } }),
  )
  gloves = addSupply(
    studio,
    supply("Gloves", { kind: "consumable", baseUnit: "each", shelfLife: { unit: "never" } }),
  )
  kit = addPack(studio, {
    name: "Clear kit, 2 × 473 mL",
    makerId: maker,
    codes: [],
    contents: [
      { supplyId: partA, amount: 473_000, containerCount: 1 },
      { supplyId: partB, amount: 473_000, containerCount: 1 },
    ],
    offers: [],
  })
  delivery = begin(seller)
})

function begin(sellerId: number | null, receivedOn = TODAY): number {
  return startDelivery(studio, someone(), { sellerId, receivedOn, note: "" }).answer.deliveryId
}

function supply(name: string, more: Partial<SupplyInput>): SupplyInput {
  return {
    name,
    kind: "paint",
    baseUnit: "uL",
    densityMgPerMl: null,
    shelfLife: null,
    openLife: null,
    leadTimeDays: null,
    minimumAmount: 0,
    hazards: [],
    colour: null,
    note: "",
    ...more,
  }
}

function onePack(
  name: string,
  contents: { supplyId: number; amount: number; containerCount: number }[],
): number {
  return addPack(studio, { name, makerId: maker, codes: [], contents, offers: [] })
}

function label(
  supplyId: number,
  more: Partial<ReceiveInput["lots"][number]> = {},
): ReceiveInput["lots"][number] {
  return { supplyId, number: "L-77", madeOn: null, expiresOn: null, ...more }
}

function kitInput(more: Partial<ReceiveInput> = {}): ReceiveInput {
  return {
    deliveryId: delivery,
    packId: kit,
    count: 1,
    priceMicro: 40_000_000,
    lots: [label(partA), label(partB)],
    ...more,
  }
}

function bottles() {
  return onHand(studio.file, "America/Chicago")
}

/** All that a refused request must leave as it was. */
function rowCounts() {
  const tables = ["action", "movement", "container", "lot", "receipt_line", "delivery"]
  return tables.map((table) => studio.file.firstText<{ n: number }>(`SELECT count(*) AS n FROM ${table}`)!.n)
}

function refuses(work: () => unknown, sentence: RegExp, field?: string) {
  const before = rowCounts()
  expect(work).toThrowError(sentence)
  try {
    work()
  } catch (error) {
    if (field !== undefined) expect(error).toMatchObject({ field })
  }
  expect(rowCounts()).toEqual(before)
}

describe("a kit", () => {
  test("becomes one container a bottle, and the halves of one kit share its number", () => {
    const done = receive(studio, someone(), kitInput({ count: 2 }))
    expect(done.answer.containers.map((one) => one.supply)).toEqual([
      "Clear part A",
      "Clear part B",
      "Clear part A",
      "Clear part B",
    ])
    const [a1, b1, a2, b2] = bottles()
    expect(a1!.kitUnit).not.toBeNull()
    expect(b1!.kitUnit).toBe(a1!.kitUnit)
    expect(b2!.kitUnit).toBe(a2!.kitUnit)
    expect(a2!.kitUnit).not.toBe(a1!.kitUnit)
    expect(new Set(bottles().map((one) => one.code)).size).toBe(4)
  })

  test("of a later delivery never shares a number with an earlier one", () => {
    receive(studio, someone(), kitInput())
    receive(studio, someone(), kitInput())
    const numbers = bottles().map((one) => one.kitUnit)
    expect(numbers[0]).toBe(numbers[1])
    expect(numbers[2]).toBe(numbers[3])
    expect(numbers[0]).not.toBe(numbers[2])
  })

  test("may carry one number on both halves: still a lot of each supply, each with its own shelf life", () => {
    receive(
      studio,
      someone(),
      kitInput({ lots: [label(partA, { madeOn: "2026-11-30" }), label(partB, { madeOn: "2026-11-30" })] }),
    )
    const [a, b] = bottles()
    expect(a).toMatchObject({
      lotNumber: "L-77",
      maker: "Plainwater",
      useBy: "2028-11-30",
      expiryBasis: "shelf-life",
    })
    expect(b).toMatchObject({ lotNumber: "L-77", useBy: "2027-11-30" })
    expect(a!.lotId).not.toBe(b!.lotId)
  })
})

describe("the price of a pack", () => {
  test("is shared out by amount, to the last millionth", () => {
    const odd = onePack("Odd pack", [
      { supplyId: partA, amount: 1_000, containerCount: 2 },
      { supplyId: partB, amount: 5_000, containerCount: 1 },
    ])
    receive(studio, someone(), kitInput({ packId: odd, priceMicro: 10_000_001, count: 3 }))
    const costs = bottles().map((one) => one.costLeftMicro)
    expect(costs.reduce((sum, cost) => sum + cost, 0)).toBe(30_000_003)
    expect(costs.slice(0, 3)).toEqual([1_428_572, 1_428_571, 7_142_858])
  })

  test("is shared out evenly where a mL cannot be weighed against a piece", () => {
    const starter = onePack("Starter box", [
      { supplyId: partA, amount: 500_000, containerCount: 1 },
      { supplyId: gloves, amount: 20, containerCount: 1 },
    ])
    receive(
      studio,
      someone(),
      kitInput({
        packId: starter,
        priceMicro: 9_000_001,
        lots: [label(partA), label(gloves, { number: null })],
      }),
    )
    expect(bottles().map((one) => one.costLeftMicro)).toEqual([4_500_001, 4_500_000])
  })
})

describe("a lot", () => {
  test("with the same number of the same maker is one lot, whoever sold it", () => {
    receive(studio, someone(), kitInput())
    const other = addSeller(studio, { name: "Other shop", leadTimeDays: 2 })
    const later = begin(other)
    receive(studio, someone(), kitInput({ deliveryId: later }))
    expect(new Set(bottles().map((one) => one.lotId)).size).toBe(2)
  })

  test("without a number is a lot of its own each time", () => {
    const none = { lots: [label(partA, { number: null }), label(partB, { number: null })] }
    receive(studio, someone(), kitInput(none))
    receive(studio, someone(), kitInput(none))
    expect(new Set(bottles().map((one) => one.lotId)).size).toBe(4)
  })

  test("goes off on the label's day, or made-on plus shelf life where that is earlier", () => {
    receive(
      studio,
      someone(),
      kitInput({
        lots: [
          label(partA, { expiresOn: "2027-06-30" }),
          label(partB, { expiresOn: "2029-01-31", madeOn: "2026-11-01" }),
        ],
      }),
    )
    expect(bottles().map((one) => [one.useBy, one.expiryBasis])).toEqual([
      ["2027-06-30", "label"],
      ["2027-11-01", "shelf-life"],
    ])
  })

  test("may expire on the very day it comes", () => {
    receive(studio, someone(), kitInput({ lots: [label(partA, { expiresOn: TODAY }), label(partB)] }))
    expect(bottles()[0]!.useBy).toBe(TODAY)
  })

  test("whose shelf life had run out before it came is a fact, and the sentence says so", () => {
    const done = receive(
      studio,
      someone(),
      kitInput({ lots: [label(partA, { madeOn: "2024-01-15" }), label(partB)] }),
    )
    expect(done.summary).toMatch(/went off on .*15 Jan.*will not be proposed/)
  })
})

describe("dates that cannot be are refused with one sentence and nothing changes", () => {
  test("gone off before it came", () => {
    refuses(
      () =>
        receive(
          studio,
          someone(),
          kitInput({ lots: [label(partA), label(partB, { expiresOn: "2026-11-30" })] }),
        ),
      /Clear part B went off on Mon 30 Nov, before it came on Tue 1 Dec/,
      "lots[1][expiresOn]",
    )
  })

  test("made after it came", () => {
    refuses(
      () =>
        receive(
          studio,
          someone(),
          kitInput({ lots: [label(partA, { madeOn: "2026-12-02" }), label(partB)] }),
        ),
      /cannot have been made on Wed 2 Dec and have come on Tue 1 Dec/,
      "lots[0][madeOn]",
    )
  })

  test("a known lot that went off before this delivery came, though nothing was typed", () => {
    const early = begin(seller, "2026-10-01")
    const lots = [label(partA, { expiresOn: "2026-11-15" }), label(partB)]
    receive(studio, someone(), kitInput({ deliveryId: early, lots }))
    refuses(() => receive(studio, someone(), kitInput()), /Clear part A went off on Sun 15 Nov/)
  })

  test("a known lot with another expiry day: the sentence stands beside that field", () => {
    receive(studio, someone(), kitInput({ lots: [label(partA, { expiresOn: "2027-05-31" }), label(partB)] }))
    refuses(
      () =>
        receive(
          studio,
          someone(),
          kitInput({ lots: [label(partA, { expiresOn: "2027-06-30" }), label(partB)] }),
        ),
      /in the book with expiry Mon 31 May 2027/,
      "lots[0][expiresOn]",
    )
  })

  test("a delivery that is still to come", () => {
    refuses(() => begin(null, "2026-12-02"), /still to come/, "receivedOn")
    refuses(() => begin(null, "2026-02-29"), /has 28 days/, "receivedOn")
  })
})

describe("a line that cannot be is refused", () => {
  test.each([
    ["none", 0],
    ["less than none", -1],
    ["half a pack", 1.5],
    ["no number", Number.NaN],
    ["absurdly many", 1e9],
  ])("%s", (_, count) => {
    refuses(() => receive(studio, someone(), kitInput({ count })), /whole number from 1 to 1000/, "count")
  })

  test("more containers than anyone labels in one go", () => {
    const box = onePack("Box", [{ supplyId: gloves, amount: 1, containerCount: 1000 }])
    refuses(
      () => receive(studio, someone(), kitInput({ packId: box, count: 3, lots: [label(gloves)] })),
      /3000 containers/,
      "count",
    )
  })

  test.each([-1, 0.5, 1e16, Number.NaN])("a price of %d micro", (priceMicro) => {
    refuses(() => receive(studio, someone(), kitInput({ priceMicro })), /price cannot be/, "price")
  })

  test("a half of a kit without its lot, the same twice, or a lot of something else", () => {
    refuses(() => receive(studio, someone(), kitInput({ lots: [label(partA)] })), /lot of Clear part B/)
    refuses(
      () => receive(studio, someone(), kitInput({ lots: [label(partA), label(partA)] })),
      /One lot for each/,
    )
    const lots = [label(partA), label(partB), label(gloves)]
    refuses(() => receive(studio, someone(), kitInput({ lots })), /not in Clear kit/, "lots[2][supplyId]")
  })

  test("a closed delivery, a delivery or pack that is not there", () => {
    refuses(() => receive(studio, someone(), kitInput({ deliveryId: 99 })), /no such delivery/)
    refuses(() => receive(studio, someone(), kitInput({ packId: 99 })), /no such pack/)
    closeDelivery(studio, someone(), delivery)
    expect(openDelivery(studio)).toBeNull()
    refuses(() => receive(studio, someone(), kitInput()), /delivery is closed/)
  })
})

describe("sent twice", () => {
  test("the same line is taken in once, and the answer is the same", () => {
    const by = someone()
    const first = receive(studio, by, kitInput())
    const second = receive(studio, by, kitInput())
    expect(second).toMatchObject({ again: true, answer: first.answer })
    expect(bottles()).toHaveLength(2)
  })

  test("the same key with another count is refused", () => {
    const by = someone()
    receive(studio, by, kitInput())
    refuses(() => receive(studio, by, kitInput({ count: 2 })), /already sent with other contents/)
  })
})

describe("what was ordered", () => {
  function order(count: number, orderedOn: string, packId = kit): number {
    return studio.file.insert("purchase", {
      seller_id: seller,
      pack_id: packId,
      count,
      ordered_on: orderedOn,
      expected_on: "2026-12-04",
    })
  }
  function linked() {
    return studio.file.allText<{ purchase_id: number | null }>(
      "SELECT purchase_id FROM receipt_line ORDER BY id",
    )
  }

  test("a receipt counts for the oldest order of that pack that has not come in full", () => {
    const first = order(2, "2026-11-20")
    const second = order(1, "2026-11-25")
    receive(studio, someone(), kitInput({ count: 2 }))
    receive(studio, someone(), kitInput())
    receive(studio, someone(), kitInput())
    // the last one is more than was ordered: it stays beside what this delivery filled
    expect(linked().map((line) => line.purchase_id)).toEqual([first, second, second])
  })

  test("what came in one go is shared over the orders it fills; what is beyond them is said", () => {
    const first = order(2, "2026-11-20")
    const second = order(1, "2026-11-25")
    const done = receive(studio, someone(), kitInput({ count: 4 }))
    expect(linked().map((line) => line.purchase_id)).toEqual([first, second])
    expect(done.answer).toMatchObject({ over: 1 })
    expect(done.answer.containers).toHaveLength(8)
    expect(expectedIn(studio, delivery, seller)).toMatchObject([
      { purchaseId: first, ordered: 2, cameHere: 2, missing: 0, over: 0 },
      { purchaseId: second, ordered: 1, cameHere: 2, missing: 0, over: 1 },
    ])
  })

  test("a part delivery leaves the rest open, for the next one", () => {
    const first = order(3, "2026-11-20")
    receive(studio, someone(), kitInput())
    expect(expectedIn(studio, delivery, seller)).toMatchObject([
      { purchaseId: first, cameHere: 1, cameBefore: 0, missing: 2 },
    ])
    closeDelivery(studio, someone(), delivery)
    expect(expectedIn(studio, begin(seller), seller)).toMatchObject([
      { purchaseId: first, cameHere: 0, cameBefore: 1, missing: 2 },
    ])
  })

  test("damaged packs are written down, not taken in, and still owed", () => {
    const first = order(2, "2026-11-20")
    const done = noteDamaged(studio, someone(), { deliveryId: delivery, packId: kit, count: 2 })
    expect(done.summary).toBe("2 × Clear kit, 2 × 473 mL came damaged and was not taken in")
    expect(bottles()).toEqual([])
    expect(expectedIn(studio, delivery, seller)).toMatchObject([
      { purchaseId: first, missing: 2, damaged: 2 },
    ])
    reverse(studio, someone(), done.actionId)
    expect(expectedIn(studio, delivery, seller)).toMatchObject([{ missing: 2, damaged: 0 }])
  })

  test("what leaked is taken in with what is left, at the price of a full one", () => {
    receive(studio, someone(), kitInput({ leftPpm: 500_000 }))
    expect(bottles().map((one) => [one.amountLeft, one.fullAmount, one.costLeftMicro])).toEqual([
      [236_500, 473_000, 20_000_000],
      [236_500, 473_000, 20_000_000],
    ])
    expect(deliveryLines(studio, delivery)[0]).toMatchObject({ otherwise: "leaked" })
    expect(verify(studio.file)).toEqual([])
  })

  test("another pack that came in place of the ordered one fills the order, and is said to", () => {
    const box = onePack("Gloves, 50", [{ supplyId: gloves, amount: 50, containerCount: 1 }])
    const first = order(1, "2026-11-20")
    receive(
      studio,
      someone(),
      kitInput({ packId: box, lots: [label(gloves, { number: null })], insteadOf: first }),
    )
    expect(expectedIn(studio, delivery, seller)).toMatchObject([{ missing: 0, substituted: 1 }])
    refuses(
      () => receive(studio, someone(), kitInput({ insteadOf: order(1, "2026-11-21") })),
      /very pack that was ordered/,
      "insteadOf",
    )
  })

  test("an undone receipt no longer counts", () => {
    const first = order(1, "2026-11-20")
    const done = receive(studio, someone(), kitInput())
    reverse(studio, someone(), done.actionId)
    receive(studio, someone(), kitInput())
    expect(linked().map((line) => line.purchase_id)).toEqual([first, first])
  })

  test("the person may name another order, or none; one of another pack is refused", () => {
    order(1, "2026-11-20")
    const second = order(1, "2026-11-25")
    const other = order(
      1,
      "2026-11-25",
      onePack("Gloves, 100", [{ supplyId: gloves, amount: 100, containerCount: 1 }]),
    )
    receive(studio, someone(), kitInput({ purchaseId: second }))
    receive(studio, someone(), kitInput({ purchaseId: null }))
    expect(linked().map((line) => line.purchase_id)).toEqual([second, null])
    refuses(
      () => receive(studio, someone(), kitInput({ purchaseId: other })),
      /of another pack/,
      "purchaseId",
    )
    refuses(() => receive(studio, someone(), kitInput({ purchaseId: 99 })), /not open any more/, "purchaseId")
  })
})

describe("the delivery's list", () => {
  test("shows the newest line first with its containers, and says which were undone", () => {
    const first = receive(studio, someone(), kitInput())
    const second = receive(studio, someone(), kitInput({ count: 2 }))
    reverse(studio, someone(), first.actionId)
    const lines = deliveryLines(studio, delivery)
    expect(lines.map((line) => [line.lineId, line.count, line.undone])).toEqual([
      [second.answer.lineId, 2, false],
      [first.answer.lineId, 1, true],
    ])
    expect(lines[0]!.containers.map((one) => one.code)).toEqual(
      second.answer.containers.map((one) => one.code),
    )
    expect(bottles()).toHaveLength(4)
  })
})

describe("what is on the shelf on the first day", () => {
  const bottle = { fullAmount: 473_000, amount: 118_250, opened: true, expiresOn: null } as const

  test("a quarter of a bottle: open, its lot unknown, estimated, costing nothing", () => {
    receiveOpening(studio, someone(), { supplyId: partA, ...bottle })
    expect(bottles()[0]).toMatchObject({
      amountLeft: 118_250,
      fullAmount: 473_000,
      lotNumber: null,
      openedOn: TODAY,
      useBy: null,
      expiryBasis: "unknown",
      costLeftMicro: 0,
    })
    expect(studio.file.firstText("SELECT basis FROM movement")).toEqual({ basis: "estimated" })
  })

  test("what it cost full is carried in the part that is left", () => {
    receiveOpening(studio, someone(), { supplyId: partA, ...bottle, priceMicro: 20_000_000 })
    expect(bottles()[0]!.costLeftMicro).toBe(5_000_000)
  })

  test("opened some weeks ago: its life after opening counts from then", () => {
    const paint = addSupply(studio, supply("Teal paint", { openLife: { unit: "days", value: 90 } }))
    receiveOpening(studio, someone(), { supplyId: paint, ...bottle, openedOn: "2026-11-01" })
    expect(bottles()[0]).toMatchObject({ openedOn: "2026-11-01", useBy: "2027-01-30" })
  })

  test("opened today in the morning is not in the future", () => {
    studio.setNow("2026-12-01T14:00:00Z")
    receiveOpening(studio, someone(), { supplyId: partA, ...bottle, openedOn: TODAY })
    expect(bottles()[0]!.openedOn).toBe(TODAY)
  })

  test("may have gone off: it is on the shelf all the same", () => {
    receiveOpening(studio, someone(), { supplyId: partA, ...bottle, expiresOn: "2026-05-31" })
    expect(bottles()[0]).toMatchObject({ useBy: "2026-05-31", expiryBasis: "label" })
  })

  test("several alike are one lot and a container each, full and sealed, and undone together", () => {
    const done = receiveOpening(studio, someone(), {
      supplyId: partB,
      fullAmount: 473_000,
      amount: 473_000,
      opened: false,
      expiresOn: null,
      count: 3,
    })
    expect(bottles()).toHaveLength(3)
    expect(bottles()[0]).toMatchObject({ openedOn: null })
    reverse(studio, someone(), done.actionId)
    expect(bottles()).toHaveLength(0)
  })

  test("more in it than it holds, nothing in it, or opened tomorrow is refused", () => {
    const refuse = (more: object, sentence: RegExp, field: string) =>
      refuses(
        () => receiveOpening(studio, someone(), { supplyId: partA, ...bottle, ...more }),
        sentence,
        field,
      )
    refuse({ amount: 473_001 }, /more in it than it holds/, "amount")
    refuse({ amount: 0 }, /still has something in it/, "amount")
    refuse({ fullAmount: -1 }, /more than nothing/, "fullAmount")
    refuse({ openedOn: "2026-12-02" }, /still to come/, "openedOn")
    refuse({ count: 0 }, /whole number/, "count")
  })
})
