import { Refusal } from "../../server/domain/refusal.ts"
import type { PackInput, SupplyInput } from "../../server/supplies/service.ts"

export const paint: SupplyInput = {
  name: "Harbor blue",
  kind: "paint",
  baseUnit: "mg",
  densityMgPerMl: null,
  shelfLife: { unit: "months", value: 24 },
  openLife: { unit: "never" },
  leadTimeDays: null,
  minimumAmount: 50_000,
  hazards: ["flammable-liquid", "aerosol"],
  colour: "#1F6F8B",
  note: "",
}
export const part = (name: string, over: Partial<SupplyInput> = {}): SupplyInput => ({
  ...paint,
  name,
  kind: "resin",
  baseUnit: "uL",
  hazards: [],
  colour: null,
  ...over,
})
export const pack = (supplyId: number, over: Partial<PackInput> = {}): PackInput => ({
  name: "Harbor blue, 340 g can",
  makerId: null,
  codes: [],
  contents: [{ supplyId, amount: 340_000, containerCount: 1 }],
  offers: [],
  ...over,
})
/** The refusal that `work` is answered with. */
export function refusalOf(work: () => unknown): Refusal {
  try {
    work()
  } catch (error) {
    if (error instanceof Refusal) return error
    throw error
  }
  throw new Error("it was not refused")
}
