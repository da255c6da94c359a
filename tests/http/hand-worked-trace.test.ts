import { parse } from "csv-parse/sync"
import { afterAll, beforeAll, describe, expect, test } from "vitest"
import { splitBatch } from "../../server/batches/service.ts"
import { act } from "../../server/ledger/act.ts"
import { addCoat, addStrip, changeCup, startBatch } from "../../server/ledger/cups.ts"
import { move } from "../../server/ledger/move.ts"
import { lookupRoutes } from "../../server/lookup/routes.ts"
import { addBuyer, addOrder } from "../../server/orders/service.ts"
import { receive, startDelivery } from "../../server/receiving/service.ts"
import { decant, topUp } from "../../server/shelf/service.ts"
import { addMaker, addPack, addSeller } from "../../server/supplies/service.ts"
import { lineageOf } from "../../server/tracing/lineage.ts"
import { tracingRoutes } from "../../server/tracing/routes.ts"
import type { CupTrace, LotTrace } from "../../server/tracing/service.ts"
import { verify } from "../../server/verify/service.ts"
import { bareDesign } from "../support/catalogue.ts"
import { addOne } from "../support/shelf-fixtures.ts"
import { someone, testStudio } from "../support/studio.ts"
import type { Listening } from "./listening.ts"
import { listenWith } from "./some-rooms.ts"

/*
 * Worked out by hand from this drawing; nothing below is computed by the program. All of one supply, amounts in mL, the
 * order of the clock from left to right.
 *
 *  lot    came            bottle
 *  A-17   2 Nov, North    K1 500 ──┬─────────┬──────────────────────────●══════╦══════════╗
 *                                  │         │ split 200                ↑      ║          ║
 *                                  │         K4 ──┬───────────          │      ║          ║
 *                                  │              │ split 100           │      ║          ║
 *                                  │              K5 ───────────────────│──────║──────────║──────────────┐
 *  B-5    10 Nov, South   K3 500 ──│────────────────────────────────────┘      ║          ║              │
 *                                  │                              top-up 50    ║          ║              │
 *  A-17   9 Nov, South    K2 500 ──│───────────────────────────────────────────║──────────║─────┬────────│────┐
 *                                  │                                           ║          ║     │        │    │
 *                               coat 1                                       coat 2    coat 3 coat 4  coat 5 coat 6
 *  cups, by batch               T1, T2 (1)   batch split: T2 goes on as (2)   T1 (1)    T2 (2) T2 (2)  T3 (3) T3 (3)
 *  layer                           1                                           2         2      2       1      2
 *                                                                                        │      │
 *                                                                                  stripped     rework
 *
 *  T1 was sent to Ana on order 1 and came back; T3 is the remake for the same line of it.
 *
 * ─ is A-17 alone, ═ is A-17 with B-5 poured on. So A-17 is in T1, T2 and T3; B-5 in T1 and T2 alone, in their second
 * layer, and of T2 it came off again. K5, split off a split, was never near B-5 and leads back to North.
 */

const studio = testStudio()
const supplyId = addOne(studio, { name: "Clear A" })
const makerId = addMaker(studio, { name: "Bay Resins" })
const packId = addPack(studio, {
  name: "Clear A, 500 mL",
  makerId,
  codes: [],
  contents: [{ supplyId, amount: 500_000, containerCount: 1 }],
  offers: [],
})

function deliver(sellerId: number, receivedOn: string, number: string): { id: number; code: string } {
  studio.setNow(receivedOn)
  const { deliveryId } = startDelivery(studio, someone(), { sellerId, receivedOn, note: "" }).answer
  const { answer } = receive(studio, someone(), {
    deliveryId,
    packId,
    count: 1,
    priceMicro: 20_000_000,
    lots: [{ supplyId, number, madeOn: null, expiresOn: "2027-06-30" }],
  })
  return bottle(answer.containers[0]!.code)
}

function bottle(code: string): { id: number; code: string } {
  return studio.file.firstText<{ id: number; code: string }>(
    "SELECT id, code FROM container WHERE code = ?",
    [code],
  )!
}

function coat(batchId: number, layer: number, cupIds: readonly number[], from: { id: number }): number {
  return act(studio, "coat", someone(), { layer, cupIds }, (now) => {
    const coatId = addCoat(now, {
      batchId,
      layerId: layerIds[layer - 1]!,
      cupIds,
      workings: [],
      insisted: false,
    })
    move(now, from.id, -10_000 * cupIds.length, { kind: "use", basis: "planned", coatId })
    return { summary: `Coat ${layer}`, answer: coatId }
  }).answer
}

function start(cups: number) {
  return act(studio, "start", someone(), { cups }, (now) => ({
    summary: "Started",
    answer: startBatch(now, { versionId, cups, note: "" }),
  })).answer
}

function change(cupId: number, what: Parameters<typeof changeCup>[2]): void {
  act(studio, "change", someone(), { cupId, what }, (now) => {
    changeCup(now, cupId, what)
    return { summary: "Changed a cup", answer: null }
  })
}

const north = addSeller(studio, { name: "North", leadTimeDays: 3 })
const south = addSeller(studio, { name: "South", leadTimeDays: 3 })
const K1 = deliver(north, "2026-11-02", "A-17")
const K2 = deliver(south, "2026-11-09", "A-17")
const K3 = deliver(south, "2026-11-10", "B-5")
const { versionId, layerIds } = bareDesign(studio, 2)
const designId = studio.file.firstText<{ id: number }>("SELECT id FROM design")!.id
const blankId = studio.file.firstText<{ id: number }>("SELECT supply_id AS id FROM blank")!.id
for (const [position, height_um] of [0, 200_000].entries())
  studio.file.insert("blank_ring", {
    blank_supply_id: blankId,
    position: position + 1,
    height_um,
    diameter_um: 70_000,
  })
const first = start(2)
const [T1, T2] = first.cups as [{ id: number; serial: string }, { id: number; serial: string }]
studio.setNow("2026-11-11")
const coat1 = coat(first.batchId, 1, [T1.id, T2.id], K1)
const K4 = bottle(decant(studio, someone(), { fromCode: K1.code, amount: 200_000 }).answer.code)
const K5 = bottle(decant(studio, someone(), { fromCode: K4.code, amount: 100_000 }).answer.code)
studio.setNow("2026-11-12")
topUp(studio, someone(), { fromCode: K3.code, toCode: K1.code, amount: 50_000 })
const apart = splitBatch(studio, someone(), { batchId: first.batchId, cupIds: [T2.id] }).answer.batchId
const coat2 = coat(first.batchId, 2, [T1.id], K1)
const coat3 = coat(apart, 2, [T2.id], K1)
studio.setNow("2026-11-13")
act(studio, "strip", someone(), {}, (now) => {
  addStrip(now, T2.id, 2)
  return { summary: "Stripped", answer: null }
})
const rework = coat(apart, 2, [T2.id], K2)
const { orderId } = addOrder(studio, someone(), {
  buyerId: addBuyer(studio, { name: "Ana", contact: "" }),
  state: "planned",
  note: "",
  lines: [{ designId, quantity: 1, dueOn: "2026-12-20", note: "" }],
}).answer
const lineId = studio.file.firstText<{ id: number }>("SELECT id FROM order_line")!.id
change(T1.id, { state: "good", orderLineId: lineId })
change(T1.id, { state: "sent" })
change(T1.id, { state: "returned" })
studio.setNow("2026-11-20")
const second = start(1)
const T3 = second.cups[0]!
change(T3.id, { orderLineId: lineId })
const remake1 = coat(second.batchId, 1, [T3.id], K5)
const remake2 = coat(second.batchId, 2, [T3.id], K2)
const lotId = (number: string) =>
  studio.file.firstText<{ id: number }>("SELECT id FROM lot WHERE number = ?", [number])!.id
const [A17, B5] = [lotId("A-17"), lotId("B-5")]

let here: Listening
beforeAll(async () => {
  here = await listenWith(studio, [tracingRoutes, lookupRoutes])
})
afterAll(() => here.close())

const cupJson = async (serial: string) =>
  (await here.get(`/cups/${serial}/trace.json`).expect(200)).body as CupTrace
const lotJson = async (id: number) => (await here.get(`/lots/${id}/trace.json`).expect(200)).body as LotTrace
const csvOf = async (path: string): Promise<Record<string, string>[]> =>
  parse((await here.get(path).expect(200)).text, { columns: true })

const north2 = { number: "A-17", maker: "Bay Resins", seller: "North", receivedOn: "2026-11-02" }
const south9 = { number: "A-17", maker: "Bay Resins", seller: "South", receivedOn: "2026-11-09" }
const south10 = { number: "B-5", maker: "Bay Resins", seller: "South", receivedOn: "2026-11-10" }

/** By hand: cup, its coats as [layer, container, came off, lots]. */
const CUPS = [
  {
    cup: T1,
    coats: [
      [1, K1.code, false, [{ ...north2, toppedUpFrom: null }]],
      [
        2,
        K1.code,
        false,
        [
          { ...north2, toppedUpFrom: null },
          { ...south10, toppedUpFrom: K3.code },
        ],
      ],
    ],
  },
  {
    cup: T2,
    coats: [
      [1, K1.code, false, [{ ...north2, toppedUpFrom: null }]],
      [
        2,
        K1.code,
        true,
        [
          { ...north2, toppedUpFrom: null },
          { ...south10, toppedUpFrom: K3.code },
        ],
      ],
      [2, K2.code, false, [{ ...south9, toppedUpFrom: null }]],
    ],
  },
  {
    cup: T3,
    coats: [
      [1, K5.code, false, [{ ...north2, toppedUpFrom: K4.code }]],
      [2, K2.code, false, [{ ...south9, toppedUpFrom: null }]],
    ],
  },
] as const

describe("back from a cup", () => {
  test.each(CUPS)("$cup.serial as JSON", async ({ cup, coats }) => {
    const { layers } = await cupJson(cup.serial)
    const found = layers.flatMap((layer) =>
      layer.coats.map((one) => [
        layer.position,
        one.uses.map((use) => use.container).join(),
        one.strippedAt !== null,
        one.uses.flatMap((use) =>
          use.lots.map(({ number, maker, seller, receivedOn, toppedUpFrom }) => ({
            number,
            maker,
            seller,
            receivedOn,
            toppedUpFrom,
          })),
        ),
      ]),
    )
    expect(found).toEqual(coats)
  })

  test.each(CUPS)("$cup.serial as CSV: one row for each lot of each coat", async ({ cup, coats }) => {
    const rows = await csvOf(`/cups/${cup.serial}/trace.csv`)
    expect(
      rows.map((row) => [
        row.layer,
        row.container,
        row.stripped_at !== "",
        row.lot,
        row.seller,
        row.received_on,
        row.topped_up_from,
      ]),
    ).toEqual(
      coats.flatMap(([layer, container, off, lots]) =>
        lots.map((lot) => [
          String(layer),
          container,
          off,
          lot.number,
          lot.seller,
          lot.receivedOn,
          lot.toppedUpFrom ?? "",
        ]),
      ),
    )
  })

  test("T2 went on as a batch of its own; its first layer stays what it was, together with T1", async () => {
    const trace = await cupJson(T2.serial)
    expect(trace.wentOn.map((one) => [one.fromBatchId, one.toBatchId])).toEqual([[first.batchId, apart]])
    expect(trace.batchId).toBe(apart)
    expect(trace.layers[0]!.coats[0]!.cups).toEqual([T1.serial, T2.serial])
    expect(trace.layers[1]!.coats.map((one) => one.cups)).toEqual([[T2.serial], [T2.serial]])
  })

  test("on the page: the top-up by its bottle, the rework as stripped, the split's delivery", async () => {
    const one = (await here.get(`/cups/${T1.serial}`).expect(200)).text
    expect(one).toContain(`poured over from ${K3.code}`)
    expect(one).toContain(`href="/lots/${B5}"`)
    expect((await here.get(`/cups/${T2.serial}`)).text.match(/Stripped off again/g)).toHaveLength(1)
    const three = (await here.get(`/cups/${T3.serial}`)).text
    expect(three).not.toContain(`href="/lots/${B5}"`)
    expect(three).toContain("North")
  })
})

describe("on from a lot", () => {
  test("A-17: four bottles, three cups; the buyer of the cup that came back and of the one made in its place", async () => {
    const lot = await lotJson(A17)
    expect(lot.containers.map((one) => [one.code, one.seller, one.toppedUpFrom]).sort()).toEqual(
      [
        [K1.code, "North", null],
        [K2.code, "South", null],
        [K4.code, null, K1.code],
        [K5.code, null, K4.code],
      ].sort(),
    )
    expect(lot.cups.map((cup) => [cup.serial, cup.state, cup.layers, cup.buyer])).toEqual([
      [T1.serial, "returned", "Coat 1, Coat 2", "Ana"],
      [T2.serial, "in work", "Coat 1, Coat 2", null],
      [T3.serial, "in work", "Coat 1, Coat 2", "Ana"],
    ])
  })

  test("B-5: its bottle and the one it was poured on, two cups, in their second layer alone", async () => {
    const lot = await lotJson(B5)
    expect(lot.containers.map((one) => [one.code, one.toppedUpFrom])).toEqual([
      [K3.code, null],
      [K1.code, K3.code],
    ])
    expect(lot.cups.map((cup) => [cup.serial, cup.layers])).toEqual([
      [T1.serial, "Coat 2"],
      [T2.serial, "Coat 2"],
    ])
    const { text } = await here.get(`/lots/${B5}`).expect(200)
    expect(text).toContain(T1.serial)
    expect(text).not.toContain(T3.serial)
  })

  test("as CSV one row a cup", async () => {
    const of = async (id: number) =>
      (await csvOf(`/lots/${id}/trace.csv`)).map((row) => [row.cup, row.layers!, row.buyer])
    expect(await of(A17)).toEqual([
      [T1.serial, "Coat 1, Coat 2", "Ana"],
      [T2.serial, "Coat 1, Coat 2", ""],
      [T3.serial, "Coat 1, Coat 2", "Ana"],
    ])
    expect(await of(B5)).toEqual([
      [T1.serial, "Coat 2", "Ana"],
      [T2.serial, "Coat 2", ""],
    ])
  })
})

describe("the picture has the lines of the drawing, and no other", () => {
  /** Each line as words: "lot A-17 > delivery North". */
  function linesOf(kind: Parameters<typeof lineageOf>[1], id: number): string[] {
    const { things, links } = lineageOf(studio, kind, id)
    const say = (key: string) => {
      const { kind, name, says } = things.get(key)!
      return `${name}${kind === "container" && says[1] && says[1] !== "before its top-up" ? ` ${says[1].split(" ", 2).join(" ")}` : ""}${kind === "coat" ? ` #${key.slice(5)}` : ""}`
    }
    return links.map(({ from, to, off }) => `${say(from)} > ${say(to)}${off ? " (came off)" : ""}`).sort()
  }
  const [c1, c2, split2, c3, c4, c5] = [coat1, coat2, coat3, rework, remake1, remake2].map((id, index) => {
    return `Coat ${[1, 2, 2, 2, 1, 2][index]} #${id}`
  })
  const topped = `${K1.code} topped up`
  const [split4, split5] = [`${K4.code} split off`, `${K5.code} split off`]
  const ORDER = `Order ${orderId}`

  test("from A-17", () => {
    expect(linesOf("lot", A17)).toEqual(
      [
        "A-17 > North",
        `North > ${K1.code}`,
        `${K1.code} > ${c1}`,
        `${K1.code} > ${topped}`,
        `${K1.code} > ${split4}`,
        `${split4} > ${split5}`,
        `${topped} > ${c2}`,
        `${topped} > ${split2}`,
        "A-17 > South",
        `South > ${K2.code}`,
        `${K2.code} > ${c3}`,
        `${K2.code} > ${c5}`,
        `${split5} > ${c4}`,
        `${c1} > ${T1.serial}`,
        `${c1} > ${T2.serial}`,
        `${c2} > ${T1.serial}`,
        `${split2} > ${T2.serial} (came off)`,
        `${c3} > ${T2.serial}`,
        `${c4} > ${T3.serial}`,
        `${c5} > ${T3.serial}`,
        `${T1.serial} > ${ORDER}`,
        `${T3.serial} > ${ORDER}`,
        `${ORDER} > Ana`,
      ].sort(),
    )
  })

  test("from B-5: not the coat before the top-up, nor what was split off before it", () => {
    expect(linesOf("lot", B5)).toEqual(
      [
        "B-5 > South",
        `South > ${K3.code}`,
        `${K3.code} > ${topped}`,
        `${topped} > ${c2}`,
        `${topped} > ${split2}`,
        `${c2} > ${T1.serial}`,
        `${split2} > ${T2.serial} (came off)`,
        `${T1.serial} > ${ORDER}`,
        `${ORDER} > Ana`,
      ].sort(),
    )
  })

  test("back from T2: both deliveries of A-17, and B-5 only by the coat that came off", () => {
    expect(linesOf("cup", T2.id)).toEqual(
      [
        "A-17 > North",
        `North > ${K1.code}`,
        `${K1.code} > ${c1}`,
        `${K1.code} > ${topped}`,
        "B-5 > South",
        `South > ${K3.code}`,
        `${K3.code} > ${topped}`,
        `${topped} > ${split2}`,
        "A-17 > South",
        `South > ${K2.code}`,
        `${K2.code} > ${c3}`,
        `${c1} > ${T2.serial}`,
        `${split2} > ${T2.serial} (came off)`,
        `${c3} > ${T2.serial}`,
      ].sort(),
    )
  })

  test("on the page each box leads to the picture of its thing, and each of those answers", async () => {
    const { text } = await here.get(`/trace/cup/${T2.serial}`).expect(200)
    const links = [
      ...new Set([...text.matchAll(/href="(\/trace\/[a-z]+\/[^"]+)"/g)].map((found) => found[1]!)),
    ]
    expect(links).toContain(`/trace/lot/${B5}`)
    expect(links).toContain(`/trace/container/${K3.id}`)
    expect(links).not.toContain(`/trace/container/${K5.id}`)
    expect(text).toContain("came off the cup again")
    for (const link of links) await here.get(link).expect(200)
  })
})

test("the book agrees with every rule", () => {
  expect(verify(studio.file)).toEqual([])
})
