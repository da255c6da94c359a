import { mkdtempSync, rmSync } from "node:fs"
import { tmpdir } from "node:os"
import { join } from "node:path"
import { afterEach, beforeEach, describe, expect, test } from "vitest"
import { openStudioFile } from "../../../db/migrate.ts"
import { startBatch } from "../../../server/batches/service.ts"
import { Refusal } from "../../../server/domain/refusal.ts"
import { history } from "../../../server/history/service.ts"
import { act } from "../../../server/ledger/act.ts"
import { reverse } from "../../../server/ledger/reverse.ts"
import { changed, made } from "../../../server/ledger/row-change.ts"
import { THINGS } from "../../../server/ledger/things.ts"
import {
  addOrder,
  assignCups,
  buyers,
  changeOrder,
  freeCups,
  orderById,
  ordersList,
  returnCups,
  sendCups,
  setOrderState,
} from "../../../server/orders/service.ts"
import {
  cancelPurchase,
  expectPurchase,
  openPurchases,
  orderPacks,
} from "../../../server/purchasing/service.ts"
import {
  closeDelivery,
  openDelivery,
  receive,
  reopenDelivery,
  startDelivery,
} from "../../../server/receiving/service.ts"
import { addSupply, changeSupply, sellers, supplyById } from "../../../server/supplies/service.ts"
import { finished, planningStudio, stock } from "../../support/planning-fixtures.ts"
import { plainSupply } from "../../support/receiving-fixtures.ts"
import { someone, type TestStudio, TODAY, testStudio } from "../../support/studio.ts"

let studio: TestStudio
let here: ReturnType<typeof planningStudio>
beforeEach(() => {
  studio = testStudio()
  here = planningStudio(studio)
  for (const [supply, amount] of [
    [here.ids.partA, 900_000],
    [here.ids.partB, 900_000],
    [here.ids.lid, 50],
    [here.ids.blank, 50],
  ] as const)
    stock(studio, supply, amount)
})

const line = (quantity: number, note = "") => ({
  designId: here.designId,
  quantity,
  dueOn: "2026-12-20",
  note,
})
const take = (lines = [line(3)], more: { buyerName?: string; state?: "draft" | "planned" } = {}) =>
  addOrder(studio, someone(), { buyerId: null, state: "planned", note: "", lines, ...more })
const undo = (done: { actionId: number }) => reverse(studio, someone(), done.actionId)
const refused = (work: () => unknown) => {
  try {
    work()
  } catch (error) {
    if (error instanceof Refusal) return error.message
    throw error
  }
  return "it was not refused"
}
/** Every row a person edits, to see that nothing is left and nothing is lost. */
const everything = () =>
  JSON.stringify(
    Object.values(THINGS)
      .flatMap((kind) => kind.parts.map((part) => part.table))
      .map((table) => [table, studio.file.allText(`SELECT * FROM ${table}`)]),
  )

describe("orders", () => {
  test("an order that was taken is undone: it is gone, its new buyer too, and its number is nobody's", () => {
    const before = everything()
    const done = take([line(3), line(2)], { buyerName: "Tess Wilder" })
    expect(done.summary).toBe(
      `Took order ${done.answer.orderId} for Tess Wilder: 3 × Sea glass, 2 × Sea glass`,
    )
    undo(done)
    expect(everything()).toBe(before)
    expect(take().answer.orderId).toBe(done.answer.orderId + 1)
  })

  test("a buyer whom another order names by now stays when the order that brought the name is undone", () => {
    const first = take([line(1)], { buyerName: "Tess" })
    take([line(2)], { buyerName: "tess" })
    undo(first)
    expect(buyers(studio).map((buyer) => buyer.name)).toEqual(["Tess"])
    expect(ordersList(studio)).toMatchObject([{ buyer: "Tess", lines: [{ quantity: 2 }] }])
  })

  test("a change is undone whole: lines come back in their order with their numbers, new ones go", () => {
    const { orderId } = take([line(3, "a"), line(2, "b"), line(1, "c")]).answer
    const before = everything()
    const [a, b, c] = orderById(studio, orderId).lines
    const change = changeOrder(studio, someone(), orderId, {
      buyerId: null,
      buyerName: "Otis",
      note: "late",
      lines: [{ ...c!, quantity: 9 }, line(7, "d"), a!],
    })
    expect(orderById(studio, orderId).lines.map((one) => one.note)).toEqual(["c", "d", "a"])
    undo(change)
    expect(everything()).toBe(before)
    expect(orderById(studio, orderId).lines.map((one) => one.lineId)).toEqual([a, b, c].map((l) => l!.lineId))
  })

  test("a line that was taken out comes back under its number, though another order came since", () => {
    const { orderId } = take([line(3, "a"), line(2, "b")]).answer
    const [a] = orderById(studio, orderId).lines
    const change = changeOrder(studio, someone(), orderId, { buyerId: null, note: "", lines: [a!] })
    take([line(5, "another")])
    undo(change)
    expect(orderById(studio, orderId).lines.map((one) => one.note)).toEqual(["a", "b"])
    expect(ordersList(studio)).toHaveLength(2)
  })

  test.each([
    ["draft", "planned", "Planned order 1"],
    ["draft", "cancelled", "Discarded order 1, a draft"],
    ["planned", "draft", "Made order 1 a draft again"],
    ["planned", "done", "Closed order 1 as done"],
    ["planned", "cancelled", "Cancelled order 1"],
  ] as const)("from %s to %s and back", (from, to, summary) => {
    const { orderId } = take([line(1)], { state: from }).answer
    const done = setOrderState(studio, someone(), orderId, to)
    expect(done.summary).toBe(summary)
    expect(orderById(studio, orderId).state).toBe(to)
    undo(done)
    expect(orderById(studio, orderId).state).toBe(from)
  })

  test("the later change that stands in the way is named, and undone first it no longer does", () => {
    const done = take()
    const { orderId } = done.answer
    const planned = setOrderState(studio, someone(), orderId, "cancelled")
    expect(refused(() => undo(done))).toBe(
      `This cannot be undone while later work rests on it: it was changed after it. Undo first: “Cancelled order ${orderId}”.`,
    )
    expect(orderById(studio, orderId).state).toBe("cancelled")
    undo(planned)
    undo(done)
    expect(ordersList(studio)).toEqual([])
    expect(refused(() => undo(done))).toBe("This was undone before.")
  })

  test("there and back again is still two later changes", () => {
    const done = setOrderState(studio, someone(), take().answer.orderId, "draft")
    setOrderState(studio, someone(), done.answer.orderId, "planned")
    setOrderState(studio, someone(), done.answer.orderId, "draft")
    expect(refused(() => undo(done))).toMatch(/Undo first: “Made order 1 a draft again”, “Planned order 1”\./)
  })

  test("an order with cups is not undone under them: put on it, started for it, even taken off it again", () => {
    const done = take([line(3), line(2)])
    const { lineId } = orderById(studio, done.answer.orderId).lines[1]!
    const [cup] = finished(studio, here.versionId, 1)
    const put = assignCups(studio, someone(), { orderLineId: lineId, cupIds: [cup!] })
    expect(refused(() => undo(done))).toMatch(/cups were put on it or started for it\. Undo first: “Put T/)
    const off = freeCups(studio, someone(), [cup!])
    expect(refused(() => undo(done))).toMatch(/Undo first: “Put T/)
    undo(off)
    undo(put)
    const start = startBatch(studio, someone(), {
      versionId: here.versionId,
      cups: 1,
      note: "",
      orderLineId: lineId,
    })
    expect(refused(() => undo(done))).toMatch(/Undo first: “Started/)
    undo(start)
    undo(done)
    expect(ordersList(studio)).toEqual([])
    expect(studio.file.allText("PRAGMA foreign_key_check")).toEqual([])
  })

  test("a change that brought a line is not undone while cups are on that line; on another line they do not matter", () => {
    const { orderId } = take([line(3)]).answer
    const [first] = orderById(studio, orderId).lines
    const [one, two] = finished(studio, here.versionId, 2)
    const input = { buyerId: null, note: "", lines: [first!, line(2)] }
    const change = changeOrder(studio, someone(), orderId, input)
    assignCups(studio, someone(), { orderLineId: first!.lineId, cupIds: [one!] })
    const { lineId } = orderById(studio, orderId).lines[1]!
    const put = assignCups(studio, someone(), { orderLineId: lineId, cupIds: [two!] })
    expect(refused(() => undo(change))).toMatch(/cups were put on it/)
    undo(put)
    undo(change)
    expect(orderById(studio, orderId).lines).toMatchObject([{ lineId: first!.lineId, ready: 1 }])
  })

  test("a cup that was sent comes back, no other is to be made for it, and that is undone too", () => {
    const { orderId } = take([line(1)]).answer
    const [cup] = finished(studio, here.versionId, 1)
    const { lineId } = orderById(studio, orderId).lines[0]!
    assignCups(studio, someone(), { orderLineId: lineId, cupIds: [cup!] })
    expect(refused(() => returnCups(studio, someone(), [cup!]))).toMatch(/is good; only a cup that was sent/)
    sendCups(studio, someone(), [cup!])
    const back = returnCups(studio, someone(), [cup!])
    expect(orderById(studio, orderId).lines).toMatchObject([{ sent: 0, cameBack: 1, toStart: 0 }])
    expect(refused(() => returnCups(studio, someone(), [cup!]))).toMatch(/is returned/)
    undo(back)
    expect(orderById(studio, orderId).lines).toMatchObject([{ sent: 1, toStart: 0 }])
  })

  test("another is made in the place of one that came back when that is asked for, in a closed order too; one undo takes it all back", () => {
    const { orderId } = take([line(1)]).answer
    const [cup] = finished(studio, here.versionId, 1)
    const { lineId } = orderById(studio, orderId).lines[0]!
    assignCups(studio, someone(), { orderLineId: lineId, cupIds: [cup!] })
    sendCups(studio, someone(), [cup!])
    setOrderState(studio, someone(), orderId, "done")
    const back = returnCups(studio, someone(), [cup!], true)
    expect(orderById(studio, orderId)).toMatchObject({
      state: "planned",
      lines: [{ quantity: 2, sent: 0, cameBack: 1, toStart: 1 }],
    })
    undo(back)
    expect(orderById(studio, orderId)).toMatchObject({ state: "done", lines: [{ quantity: 1, sent: 1 }] })
  })
})

describe("purchases", () => {
  const buy = () =>
    orderPacks(studio, someone(), {
      sellerId: here.near,
      packId: here.packs.lids,
      count: 2,
      expectedOn: "2026-12-04",
    })
  const receiveOne = () => {
    const begun = { sellerId: here.near, receivedOn: TODAY, note: "" }
    const { deliveryId } = startDelivery(studio, someone(), begun).answer
    return receive(studio, someone(), {
      deliveryId,
      packId: here.packs.lids,
      count: 1,
      priceMicro: 9_000_000,
      lots: [{ supplyId: here.ids.lid, number: null, madeOn: null, expiresOn: null }],
    })
  }

  test("ordered, another day, called off: each is told, and undone in turn", () => {
    const bought = buy()
    expect(bought.summary).toBe("Ordered 2 × Lids, bag of 12 from Near & Co, expected Fri 4 Dec")
    const { purchaseId } = bought.answer
    const later = expectPurchase(studio, someone(), { purchaseId, expectedOn: "2026-12-09" })
    expect(later.summary).toBe("2 × Lids, bag of 12 from Near & Co now expected Wed 9 Dec")
    const off = cancelPurchase(studio, someone(), purchaseId)
    expect(openPurchases(studio)).toEqual([])
    expect(refused(() => undo(bought))).toMatch(
      /Undo first: “2 × Lids, bag of 12 from Near & Co not coming any more”, “2/,
    )
    undo(off)
    expect(openPurchases(studio)).toMatchObject([{ expectedOn: "2026-12-09", orderedOn: TODAY }])
    undo(later)
    expect(openPurchases(studio)).toMatchObject([{ expectedOn: "2026-12-04" }])
    undo(bought)
    expect(openPurchases(studio)).toEqual([])
  })

  test("another day before it was ordered, or for one that is not open, is refused", () => {
    const { purchaseId } = buy().answer
    const expect_ = (id: number, expectedOn: string) =>
      refused(() => expectPurchase(studio, someone(), { purchaseId: id, expectedOn }))
    expect(expect_(purchaseId, "2026-11-30")).toMatch(/before it is ordered/)
    expect(expect_(999, "2026-12-30")).toMatch(/not open any more/)
  })

  test("a purchase of which something came is not undone under it", () => {
    const bought = buy()
    const came = receiveOne()
    expect(refused(() => undo(bought))).toMatch(
      /something was received under it\. Undo first: “Lids, bag of 12 received”/,
    )
    undo(came)
    // the line of what came stays in the book, so what it names stays too
    expect(refused(() => undo(bought))).toBe("This cannot be undone: something was received under it.")
    cancelPurchase(studio, someone(), bought.answer.purchaseId)
    expect(openPurchases(studio)).toEqual([])
  })
})

describe("deliveries", () => {
  test("begun from a new seller, finished, opened again: undone in turn, the seller too", () => {
    const before = everything()
    const begun = startDelivery(studio, someone(), {
      sellerId: null,
      newSeller: { name: "Corner shop", leadTimeDays: 3 },
      receivedOn: TODAY,
      note: "",
    })
    expect(begun.summary).toBe("Began the delivery of Tue 1 Dec from Corner shop")
    const { deliveryId } = begun.answer
    const finish = closeDelivery(studio, someone(), deliveryId)
    expect(openDelivery(studio)).toBeNull()
    const again = reopenDelivery(studio, someone(), deliveryId)
    expect(openDelivery(studio)).toMatchObject({ id: deliveryId, seller: "Corner shop" })
    for (const done of [again, finish]) undo(done)
    expect(openDelivery(studio)).toMatchObject({ id: deliveryId })
    undo(begun)
    expect(everything()).toBe(before)
    expect(sellers(studio).map((seller) => seller.name)).not.toContain("Corner shop")
  })

  test("a delivery with lines is not undone under them", () => {
    const input = { sellerId: here.near, receivedOn: TODAY, note: "" }
    const begun = startDelivery(studio, someone(), input)
    receive(studio, someone(), {
      deliveryId: begun.answer.deliveryId,
      packId: here.packs.lids,
      count: 1,
      priceMicro: 0,
      lots: [{ supplyId: here.ids.lid, number: null, madeOn: null, expiresOn: null }],
    })
    expect(refused(() => undo(begun))).toMatch(/received under it\. Undo first: “Lids, bag of 12 received”/)
  })
})

describe("set-up", () => {
  const change = (id: number, more: Partial<ReturnType<typeof plainSupply>>) =>
    act(studio, "set up", someone(), { id, more }, (now) => {
      changed(now, "supply", id, () => changeSupply(studio, id, { ...supplyById(studio, id), ...more }))
      return { summary: "Changed it", answer: null }
    })
  const add = (name: string) =>
    act(studio, "set up", someone(), { name }, (now) => {
      const id = made(now, "supply", () => addSupply(studio, plainSupply(name)))
      return { summary: `Added ${name}`, answer: id }
    })

  test("a supply changed with its hazards is put back; added and used it stays", () => {
    const { answer: id, ...added } = add("Night black")
    const before = everything()
    undo(change(id, { hazards: ["aerosol", "drowsiness"], note: "x", minimumAmount: 5 }))
    expect(everything()).toBe(before)
    stock(studio, id, 400_000)
    expect(refused(() => undo(added))).toMatch(
      /some of it is in the book\. Undo first: “Night black: 400 mL was on the shelf”/,
    )
  })

  test("what it is counted in does not change back under what came in since", () => {
    const { answer: id } = add("Night black")
    const done = change(id, { baseUnit: "mg" })
    stock(studio, id, 400_000)
    expect(refused(() => undo(done))).toMatch(
      /counted as it is now\. Undo first: “Night black: 400 g was on the shelf”/,
    )
    expect(supplyById(studio, id).baseUnit).toBe("mg")
  })

  test("a density that a resin system needs is not taken away", () => {
    const done = change(here.ids.partA, { densityMgPerMl: 1_100 })
    studio.file.runText("UPDATE resin_system SET ratio_basis = 'mass'")
    expect(refused(() => undo(done))).toBe("This cannot be undone: a resin system needs its density.")
  })

  test("an old name that another one has by now is not taken back", () => {
    const { answer: id } = add("Night black")
    const done = change(id, { name: "Pitch black" })
    add("night BLACK")
    expect(refused(() => undo(done))).toBe(
      "This cannot be undone: another one is called “night BLACK” by now.",
    )
  })

  test("changed by no action since: it is said, and nothing is put back", () => {
    const done = change(here.ids.lid, { note: "x" })
    changeSupply(studio, here.ids.lid, { ...supplyById(studio, here.ids.lid), note: "y" })
    expect(refused(() => undo(done))).toMatch(/no longer stands as this left it/)
    expect(supplyById(studio, here.ids.lid).note).toBe("y")
  })
})

describe("in the file", () => {
  test("what was changed is never updated or deleted, by no road", () => {
    take()
    const { file } = studio
    expect(() => file.runText("UPDATE row_change SET after = before")).toThrow(/stays written/)
    expect(() => file.runText("DELETE FROM row_change")).toThrow(/stays written/)
    expect(() =>
      file.runText(
        "INSERT OR REPLACE INTO row_change SELECT id, action_id, thing, thing_id, NULL, '{}' FROM row_change",
      ),
    ).toThrow(/stays written/)
    expect(() =>
      file.transaction(() =>
        file.insert("row_change", {
          action_id: 99_999,
          thing: "order",
          thing_id: 1,
          before: null,
          after: "{}",
        }),
      ),
    ).toThrow(/FOREIGN KEY/)
    for (const wrong of ["'no json'", "NULL"])
      expect(() =>
        file.runText(
          `INSERT INTO row_change (action_id, thing, thing_id, after) VALUES (1, 'order', 1, ${wrong})`,
        ),
      ).toThrow(/CHECK/)
  })

  test("whatever falls with a row of a thing belongs to that thing, or an undo would lose it", () => {
    const falling = studio.file.allText<{ child: string; parent: string }>(
      `SELECT t.name AS child, f."table" AS parent FROM sqlite_schema t JOIN pragma_foreign_key_list(t.name) f
       WHERE t.type = 'table' AND f.on_delete = 'CASCADE'`,
    )
    expect(falling.length).toBeGreaterThan(5)
    for (const { child, parent } of falling) {
      const things = Object.values(THINGS).filter((kind) => kind.parts.some((part) => part.table === parent))
      for (const kind of things)
        expect(
          kind.parts.map((part) => part.table as string),
          parent,
        ).toContain(child)
    }
  })

  test("a column that came after the change was written down is left alone", () => {
    const { orderId } = take().answer
    const done = setOrderState(studio, someone(), orderId, "draft")
    studio.file.script("ALTER TABLE order_line ADD COLUMN colour TEXT NOT NULL DEFAULT 'plain'")
    studio.file.runText("UPDATE order_line SET colour = 'blue'")
    undo(done)
    expect(orderById(studio, orderId).state).toBe("planned")
    expect(studio.file.allText("SELECT DISTINCT colour FROM order_line")).toEqual([{ colour: "blue" }])
  })

  test("a fault after any statement of a change or its undo leaves the file as before", () => {
    const { orderId } = take([line(3, "a"), line(2, "b")]).answer
    const [a, b] = orderById(studio, orderId).lines
    const input = { buyerId: null, buyerName: "New", note: "x", lines: [b!, line(9), a!] }
    const { file } = studio
    const tryAll = (work: () => unknown) => {
      let faults = 0
      for (let after = 1; ; after += 1) {
        const before = JSON.stringify([everything(), file.allText("SELECT count(*) FROM action")])
        let left = after
        file.afterStatement = () => {
          left -= 1
          if (left === 0) throw new Error("the power went")
        }
        try {
          work()
          return faults
        } catch (error) {
          expect((error as Error).message).toBe("the power went")
          faults += 1
        } finally {
          file.afterStatement = null
        }
        expect(JSON.stringify([everything(), file.allText("SELECT count(*) FROM action")])).toBe(before)
      }
    }
    expect(tryAll(() => changeOrder(studio, someone(), orderId, input))).toBeGreaterThan(6)
    const { id } = file.firstText<{ id: number }>("SELECT max(id) AS id FROM action")!
    expect(tryAll(() => reverse(studio, someone(), id))).toBeGreaterThan(6)
  })
})

describe("sent twice", () => {
  let folder: string
  beforeEach(() => {
    folder = mkdtempSync(join(tmpdir(), "lotcup-again-"))
  })
  afterEach(() => rmSync(folder, { recursive: true }))

  test("after a restart the same key gives the same answer, and with another body it is refused", () => {
    const path = join(folder, "studio.db")
    const first = testStudio({}, path)
    const shop = planningStudio(first)
    const { id: orderKey, buyKey, beginKey } = { id: "order-key", buyKey: "buy-key", beginKey: "begin-key" }
    const by = (key: string) => ({ device: "test bench", key })
    const order = {
      buyerId: null,
      buyerName: "Tess",
      state: "planned" as const,
      note: "",
      lines: [{ designId: shop.designId, quantity: 4, dueOn: "2026-12-20", note: "" }],
    }
    const packs = { sellerId: shop.near, packId: shop.packs.lids, count: 1, expectedOn: "2026-12-04" }
    const delivery = { sellerId: shop.near, receivedOn: TODAY, note: "" }
    const everyKey = (at: TestStudio) => [
      addOrder(at, by(orderKey), order),
      orderPacks(at, by(buyKey), packs),
      startDelivery(at, by(beginKey), delivery),
      setOrderState(at, by("state-key"), 1, "draft"),
      closeDelivery(at, by("close-key"), 1),
      cancelPurchase(at, by("cancel-key"), 1),
    ]
    const answers = everyKey(first)
    first.file.close()

    // the next day, another process
    const second: TestStudio = { ...first, file: openStudioFile(path) }
    second.setNow("2026-12-02")
    expect(everyKey(second)).toEqual(answers.map((done) => ({ ...done, again: true })))
    expect(ordersList(second)).toHaveLength(1)
    expect(second.file.allText("SELECT id FROM purchase")).toHaveLength(1)
    expect(second.file.allText("SELECT id FROM delivery")).toHaveLength(1)
    const other = /already sent with other contents/
    expect(refused(() => addOrder(second, by(orderKey), { ...order, note: "other" }))).toMatch(other)
    expect(refused(() => orderPacks(second, by(buyKey), { ...packs, count: 2 }))).toMatch(other)
    expect(refused(() => setOrderState(second, by("state-key"), 1, "planned"))).toMatch(other)
    expect(refused(() => closeDelivery(second, by(orderKey), 1))).toMatch(other)
    second.file.close()
  })

  test("a refused form does not use up its key", () => {
    const by = { device: "test bench", key: "once" }
    expect(
      refused(() => addOrder(studio, by, { buyerId: null, state: "draft", note: "", lines: [] })),
    ).toMatch(/line/)
    expect(addOrder(studio, by, { buyerId: null, state: "draft", note: "", lines: [line(1)] }).again).toBe(
      false,
    )
  })
})

test("the history offers to undo only what can be undone, and says what stands in the way of the rest", () => {
  const { orderId } = take().answer
  setOrderState(studio, someone(), orderId, "done")
  const [closed, taken] = history(studio, 1).entries
  expect(closed).toMatchObject({ summary: "Closed order 1 as done", undo: { possible: true } })
  expect(taken?.undo).toMatchObject({ possible: false, why: /Undo first: “Closed order 1 as done”/ })
  expect(orderById(studio, orderId).state).toBe("done")
})

test("there is no undo for a thing that this program does not know", () => {
  const done = act(studio, "odd", someone(), {}, (now) => {
    now.file.insert("row_change", {
      action_id: now.actionId,
      thing: "ship",
      thing_id: 1,
      before: null,
      after: "{}",
    })
    return { summary: "Odd", answer: null }
  })
  expect(() => undo(done)).toThrow("no thing called ship")
})
