import type { Studio } from "../../server/ledger/studio.ts"
import { receive, receiveOpening, startDelivery } from "../../server/receiving/service.ts"
import { addMaker, addPack, addSeller, addSupply, type SupplyInput } from "../../server/supplies/service.ts"
import { someone } from "./studio.ts"

/** A supply as it is set up under Set up; a resin part A, two years sealed and six months open, unless said. */
export function addOne(studio: Studio, more: Partial<SupplyInput> & { name: string }): number {
  return addSupply(studio, {
    kind: "resin",
    baseUnit: "uL",
    densityMgPerMl: 1_100,
    shelfLife: { unit: "months", value: 24 },
    openLife: { unit: "months", value: 6 },
    leadTimeDays: null,
    minimumAmount: 0,
    hazards: [],
    colour: null,
    note: "",
    ...more,
  })
}

/** So many containers of a supply, bought today in one lot. */
export function receiveSome(
  studio: Studio,
  supplyId: number,
  lot: { number: string | null; expiresOn?: string | null; receivedOn: string },
  more: { count?: number; amount?: number } = {},
): { codes: string[]; actionId: number; lotId: number } {
  const name = `pack ${studio.file.allText("SELECT id FROM pack").length + 1}`
  const packId = addPack(studio, {
    name,
    makerId: addMaker(studio, { name: `Maker of ${name}` }),
    codes: [],
    contents: [{ supplyId, amount: more.amount ?? 500_000, containerCount: 1 }],
    offers: [],
  })
  const sellerId = addSeller(studio, { name: `Seller of ${name}`, leadTimeDays: 3 })
  const begun = { sellerId, receivedOn: lot.receivedOn, note: "" }
  const { deliveryId } = startDelivery(studio, someone(), begun).answer
  const { answer, actionId } = receive(studio, someone(), {
    deliveryId,
    packId,
    count: more.count ?? 1,
    priceMicro: 20_000_000,
    lots: [{ supplyId, number: lot.number, madeOn: null, expiresOn: lot.expiresOn ?? null }],
  })
  const codes = answer.containers.map((one) => one.code)
  const row = studio.file.firstText<{ lot_id: number }>("SELECT lot_id FROM container WHERE code = ?", [
    codes[0]!,
  ])
  return { codes, actionId, lotId: row!.lot_id }
}

/** A part-used, open bottle of the first day, half full. */
export function halfUsed(studio: Studio, supplyId: number, expiresOn: string | null): string {
  const done = receiveOpening(studio, someone(), {
    supplyId,
    fullAmount: 500_000,
    amount: 250_000,
    opened: true,
    expiresOn,
  })
  return done.answer.containers[0]!.code
}
