import type { LayerKind, ResinUse, SupplyUse } from "../domain/plan.ts"

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

export interface LayerInput {
  kind: LayerKind
  name: string
  handsOnMin: number
  turnerMin: number
  recoatEarliestMin: number
  recoatLatestMin: number | null
  uses: readonly UseInput[]
}

/** As `ResinUse` of the domain, the system by its id. */
export interface ResinUseInput {
  how: ResinUse["how"]
  resinSystemId: number
  amount: number
  sharePpm: number
  dripPpm: number
  residueUl: number
}

/** As `SupplyUse` of the domain, the supply by its id. */
export interface SupplyUseInput {
  how: SupplyUse["how"]
  supplyId: number
  amount: number
  sharePpm: number
  widthUm: number | null
  heightUm: number | null
}

export type UseInput = ResinUseInput | SupplyUseInput
