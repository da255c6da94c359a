import type { AmountUse, Layer, PieceUse, ResinUse, SprayUse } from "../domain/plan.ts"

/** A design as a person enters it: a name and its first version. */
export interface DesignInput {
  name: string
  version: VersionInput
}

/** A layer plan on a blank. Money in micro, times in minutes. */
export interface VersionInput {
  blankSupplyId: number
  fullCureMin: number
  priceMicro: number
  layers: readonly LayerInput[]
}

/** As `Layer` of the domain, before it has a place. */
export interface LayerInput extends Omit<Layer, "id" | "position" | "uses"> {
  uses: readonly UseInput[]
}

/** As `ResinUse` of the domain, the system by its id. */
export interface ResinUseInput extends Omit<ResinUse, "system"> {
  resinSystemId: number
}

/** As `AmountUse` of the domain, the supply by its id; so the two below. */
export interface AmountUseInput extends Omit<AmountUse, "supply"> {
  supplyId: number
}

export interface SprayUseInput extends Omit<SprayUse, "supply"> {
  supplyId: number
}

export interface PieceUseInput extends Omit<PieceUse, "supply"> {
  supplyId: number
}

export type UseInput = ResinUseInput | AmountUseInput | SprayUseInput | PieceUseInput
