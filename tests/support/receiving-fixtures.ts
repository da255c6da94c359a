import type { Studio } from "../../server/ledger/studio.ts"
import { startDelivery } from "../../server/receiving/service.ts"
import { addMaker, addPack, addSeller, addSupply, type SupplyInput } from "../../server/supplies/service.ts"
import { someone, TODAY } from "./studio.ts"

/** A supply of which only what matters is said. */
export function plainSupply(name: string, more: Partial<SupplyInput> = {}): SupplyInput {
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

/** One bottle of a supply of its own, 400 mL for 9.50, with these codes. @returns the pack's id */
export function bottleWithCode(
  studio: Studio,
  name: string,
  codes: readonly string[],
  more: Partial<SupplyInput> = {},
): number {
  const supplyId = addSupply(studio, plainSupply(name, more))
  const amount = more.baseUnit === "each" ? 20 : 400_000
  return addPack(studio, {
    name: `${name} pack`,
    makerId: null,
    codes,
    contents: [{ supplyId, amount, containerCount: 1 }],
    offers: [],
  })
}

/** A kit of A and B, 473 mL each, with these codes. */
export function kitWithCode(
  studio: Studio,
  name: string,
  codes: readonly string[],
): { packId: number; partA: number; partB: number } {
  const partA = addSupply(
    studio,
    plainSupply(`${name} part A`, {
      kind: "resin",
      shelfLife: { unit: "months", value: 24 },
      hazards: ["skin-sensitiser"],
    }),
  )
  const partB = addSupply(
    studio,
    plainSupply(`${name} part B`, {
      kind: "hardener",
      shelfLife: { unit: "months", value: 12 },
      hazards: ["skin-corrosive"],
    }),
  )
  const packId = addPack(studio, {
    name: `${name} kit`,
    makerId: addMaker(studio, { name: `${name} works` }),
    codes,
    contents: [partA, partB].map((supplyId) => ({ supplyId, amount: 473_000, containerCount: 1 })),
    offers: [],
  })
  return { packId, partA, partB }
}

/** A delivery of today from a seller of that name. */
export function deliveryFrom(studio: Studio, name: string): { deliveryId: number; sellerId: number } {
  const sellerId = addSeller(studio, { name, leadTimeDays: 4 })
  const { deliveryId } = startDelivery(studio, someone(), { sellerId, receivedOn: TODAY, note: "" }).answer
  return { sellerId, deliveryId }
}
