import sharp from "sharp"
import {
  addCupPhoto,
  changeScuff,
  checkMix,
  coatLayer,
  measureCoats,
  scrapCups,
  splitBatch,
  startBatch,
  stripCups,
  takeInsteadOf,
} from "../../server/batches/service.ts"
import { countLine, endStocktake, startStocktake } from "../../server/counting/service.ts"
import { letIn } from "../../server/devices/service.ts"
import { gtinCheckDigit } from "../../server/domain/gs1.ts"
import { reverse } from "../../server/ledger/reverse.ts"
import type { Studio } from "../../server/ledger/studio.ts"
import { addOrder, assignCups, orderById, sendCups } from "../../server/orders/service.ts"
import { orderPacks } from "../../server/purchasing/service.ts"
import { keepPhoto } from "../../server/receiving/photos.ts"
import { closeDelivery, receive, startDelivery } from "../../server/receiving/service.ts"
import { bench, hold, moveContainer, openContainer, topUp } from "../../server/shelf/service.ts"
import {
  addMaker,
  addPack,
  addSupply,
  keepResinSubstitutes,
  keepSubstitutes,
} from "../../server/supplies/service.ts"
import { complain, tellBuyer } from "../../server/tracing/service.ts"
import { finished, otherResin, planningStudio, stock } from "./planning-fixtures.ts"
import { plainSupply } from "./receiving-fixtures.ts"
import { someone, TODAY } from "./studio.ts"

/** A small studio after some days of work, by the services: every table of the file has a row. */
export async function workedStudio(studio: Studio): Promise<void> {
  const { file } = studio
  const { ids, systemId, designId, versionId, near, packs } = planningStudio(studio)
  for (const supply of [ids.partA, ids.partB]) stock(studio, supply, 900_000, "2027-06-30")
  for (const supply of [ids.lid, ids.blank]) stock(studio, supply, 60)
  const wipes = addSupply(
    studio,
    plainSupply("Wipes", { kind: "consumable", baseUnit: "each", hazards: ["flammable-liquid"] }),
  )
  const plainLid = addSupply(studio, plainSupply("Plain lids", { kind: "packaging", baseUnit: "each" }))
  stock(studio, plainLid, 10)
  keepSubstitutes(studio, ids.lid, [{ supplyId: plainLid, ratioPpm: 1_000_000 }])
  const slow = otherResin(studio, systemId)
  keepResinSubstitutes(studio, systemId, [slow.systemId])
  const packId = addPack(studio, {
    name: "Wipes, box of 50",
    makerId: addMaker(studio, { name: "Alder" }),
    codes: [`952000000700${gtinCheckDigit("952000000700")}`],
    contents: [{ supplyId: wipes, amount: 50, containerCount: 1 }],
    offers: [{ sellerId: near, priceMicro: 8_000_000, breaks: [{ fromCount: 5, priceMicro: 7_000_000 }] }],
  })
  changeScuff(studio, someone(), { minutes: 4, uses: [{ supplyId: wipes, amount: 1 }] })

  const { purchaseId } = orderPacks(studio, someone(), {
    sellerId: near,
    packId,
    count: 2,
    expectedOn: "2026-12-04",
  }).answer
  const { deliveryId } = startDelivery(studio, someone(), {
    sellerId: near,
    receivedOn: TODAY,
    note: "",
  }).answer
  const photoId = keepPhoto(studio, await tinyPicture()).photoId
  const came = receive(studio, someone(), {
    deliveryId,
    packId,
    purchaseId,
    count: 2,
    priceMicro: 8_000_000,
    lots: [{ supplyId: wipes, number: "W-1", expiresOn: null, madeOn: null }],
    leftPpm: 500_000,
    photoIds: [photoId],
  }).answer
  closeDelivery(studio, someone(), deliveryId, { shippingMicro: 3_100_000, taxMicro: 0 })
  moveContainer(studio, someone(), { code: came.containers[0]!.code, place: "Shelf 1" })
  hold(studio, someone(), came.containers[1]!.code)

  const lines = [{ designId, quantity: 4, dueOn: "2026-12-20", note: "", priceMicro: 45_000_000 }]
  const { orderId } = addOrder(studio, someone(), {
    buyerId: null,
    buyerName: "Otis Lark",
    state: "planned",
    note: "",
    lines,
  }).answer
  const [sent] = finished(studio, versionId, 2)
  assignCups(studio, someone(), { orderLineId: orderById(studio, orderId).lines[0]!.lineId, cupIds: [sent!] })
  sendCups(studio, someone(), [sent!])

  const { batchId, cups } = startBatch(studio, someone(), { versionId, cups: 5, note: "five" }).answer
  const [partA] = codesOf(studio, ids.partA)
  bench(studio, someone(), partA!)
  coatLayer(studio, someone(), {
    batchId,
    position: 1,
    room: { celsiusTenths: 215, humidityPercent: 45 },
    photoId: keepPhoto(studio, await tinyPicture()).photoId,
  })
  const mix = file.firstText<{ code: string }>("SELECT code FROM mix ORDER BY id DESC LIMIT 1")!.code
  checkMix(studio, someone(), { code: mix, hardness: "tacky", witness: "drawer", note: "" })
  stripCups(studio, someone(), { batchId, cupIds: [cups[0]!.id], fromPosition: 1 })
  splitBatch(studio, someone(), { batchId, cupIds: [cups[1]!.id] })
  scrapCups(studio, someone(), { batchId, cupIds: [cups[2]!.id] })
  addCupPhoto(studio, someone(), {
    serial: cups[3]!.serial,
    photoId: keepPhoto(studio, await tinyPicture()).photoId,
  })
  takeInsteadOf(studio, someone(), {
    batchId,
    choice: { supplyId: ids.lid, substituteId: plainLid },
  })
  takeInsteadOf(studio, someone(), { batchId, choice: { systemId, substituteId: slow.systemId } })
  const coat = file.firstText<{ id: number }>("SELECT max(id) AS id FROM coat")!.id
  const measured = { poured: [{ coatId: coat, parts: { a: 51_000, b: 50_000 }, leftUl: 1_500 }], weighed: [] }
  measureCoats(studio, someone(), { batchId, position: 1, ...measured, asPoured: false, heldMore: false })

  const again = startDelivery(studio, someone(), { sellerId: near, receivedOn: TODAY, note: "" }).answer
  const kit = { deliveryId: again.deliveryId, packId: packs.kit, count: 1, priceMicro: 60_000_000 }
  receive(studio, someone(), {
    ...kit,
    lots: [ids.partA, ids.partB].map((supplyId) => ({
      supplyId,
      number: "K-7",
      expiresOn: "2027-05-31",
      madeOn: null,
    })),
  })
  const [, freshA] = codesOf(studio, ids.partA)
  openContainer(studio, someone(), freshA!)
  topUp(studio, someone(), { fromCode: freshA!, toCode: partA!, amount: 40_000 })
  reverse(
    studio,
    someone(),
    topUp(studio, someone(), { fromCode: freshA!, toCode: partA!, amount: 9_000 }).actionId,
  )

  const { id } = startStocktake(studio, someone(), { kind: "resin", place: null, blind: true }).answer
  countLine(studio, someone(), { stocktakeId: id, code: freshA!, amount: 425_000, basis: "measured" })
  endStocktake(studio, someone(), { stocktakeId: id, how: "accepted" })

  complain(studio, someone(), { serial: serialOf(studio, sent!), what: "It has yellowed" })
  const lotId = file.firstText<{ id: number }>("SELECT lot_id AS id FROM container WHERE code = ?", [
    partA!,
  ])!.id
  tellBuyer(studio, someone(), { lotId, orderId, how: "wrote" })
  letIn(studio, "Phone")
}

function codesOf({ file }: Studio, supplyId: number): string[] {
  return file
    .allText<{ code: string }>("SELECT code FROM container WHERE supply_id = ? ORDER BY id", [supplyId])
    .map((row) => row.code)
}

function serialOf({ file }: Studio, cupId: number): string {
  return file.firstText<{ serial: string }>("SELECT serial FROM cup WHERE id = ?", [cupId])!.serial
}

/** The smallest picture a camera would make. */
async function tinyPicture(): Promise<Uint8Array> {
  return sharp({ create: { width: 16, height: 16, channels: 3, background: "#88aacc" } })
    .jpeg()
    .toBuffer()
}
