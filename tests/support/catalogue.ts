import type { Insertable } from "kysely"
import type { Tables } from "../../db/tables.ts"
import { act } from "../../server/ledger/act.ts"
import { fillContainer, lotOf } from "../../server/ledger/fill.ts"
import type { Studio } from "../../server/ledger/studio.ts"
import { someone } from "./studio.ts"

/** A supply row for tests below the services: six months after opening, a year unopened. */
export function supplyRow(
  studio: Studio,
  row: Partial<Insertable<Tables["supply"]>> & { name: string },
): number {
  return studio.file.insert("supply", {
    kind: "resin",
    base_unit: "uL",
    density_mg_per_ml: null,
    shelf_life: 12,
    shelf_life_unit: "months",
    open_life: 6,
    open_life_unit: "months",
    lead_time_days: null,
    colour: null,
    ...row,
  })
}

/** One container received of each supply, 500 mL for 20.00, in a lot with that number. */
export function receiveOne(
  studio: Studio,
  supplyIds: readonly number[],
  number: string | null,
  more: { kitUnit?: number; amount?: number; expiresOn?: string | null } = {},
): { id: number; code: string; lotId: number }[] {
  const amount = more.amount ?? 500_000
  const expiresOn = more.expiresOn === undefined ? "2027-06-30" : more.expiresOn
  return act(studio, "receive", someone(), { number }, (now) => {
    const deliveryId = now.file.insert("delivery", {
      seller_id: null,
      received_on: now.happenedOn,
      kind: "bought",
    })
    const lineId = now.file.insert("receipt_line", {
      delivery_id: deliveryId,
      action_id: now.actionId,
      pack_id: null,
      purchase_id: null,
      count: 1,
      price_micro: 20_000_000 * supplyIds.length,
    })
    const containers = supplyIds.map((supplyId) => {
      const lotId = lotOf(now, {
        supplyId,
        makerId: null,
        number,
        madeOn: null,
        expiresOn,
        expiryBasis: expiresOn === null ? "unknown" : "label",
      })
      const filled = fillContainer(now, {
        supplyId,
        lotId,
        receiptLineId: lineId,
        kitUnit: more.kitUnit ?? null,
        fullAmount: amount,
        amount,
        costMicro: 20_000_000,
        basis: "counted",
      })
      return { ...filled, lotId }
    })
    return { summary: `Received ${number ?? "without a lot number"}`, answer: containers }
  }).answer
}

/** A design with some resin layers and no recipe, for tests of the ledger alone. */
export function bareDesign(studio: Studio, layers: number): { versionId: number; layerIds: number[] } {
  const { file } = studio
  const blankId = supplyRow(studio, { name: "Slim blank", kind: "blank", base_unit: "each" })
  file.insert("blank", { supply_id: blankId, bare_lip_um: 10_000, bare_base_um: 3_000 })
  const designId = file.insert("design", { name: "Coats only" })
  const versionId = file.insert("design_version", {
    design_id: designId,
    number: 1,
    blank_supply_id: blankId,
    full_cure_min: 4320,
  })
  const layerIds = Array.from({ length: layers }, (_, index) =>
    file.insert("layer", {
      version_id: versionId,
      position: index + 1,
      kind: "resin",
      name: `Coat ${index + 1}`,
      hands_on_min: 10,
      turner_min: 360,
      recoat_earliest_min: 360,
      recoat_latest_min: null,
    }),
  )
  return { versionId, layerIds }
}
