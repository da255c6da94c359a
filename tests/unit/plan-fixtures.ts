import type {
  Blank,
  Layer,
  Plan,
  PlanSupply,
  ResinSystem,
  ResinUse,
  SupplyUse,
} from "../../server/domain/plan.ts"

export const supply = (id: number, over: Partial<PlanSupply> = {}): PlanSupply => ({
  id,
  name: `Supply ${id}`,
  kind: "other",
  baseUnit: "uL",
  densityMgPerMl: null,
  ...over,
})

export const system = (over: Partial<ResinSystem> = {}): ResinSystem => ({
  id: 1,
  name: "Clear resin",
  partA: supply(1, { name: "Clear resin A", kind: "resin", densityMgPerMl: 1150 }),
  partB: supply(2, { name: "Clear resin B", kind: "hardener", densityMgPerMl: 970 }),
  ratioBasis: "volume",
  ratioA: 1,
  ratioB: 1,
  potLifeMin: 45,
  largestMixUl: 500_000,
  mixingMin: 5,
  cupWorkMin: 10,
  recoatEarliestMin: 480,
  recoatLatestMin: 1440,
  fullCureMin: 4320,
  ...over,
})

/** 25 mL mixed for one cup, 1.5 mL of it staying in the mixing cup, a quarter of the rest dripping off. */
export const resinUse = (over: Partial<ResinUse> = {}): ResinUse => ({
  how: "resin-mixed",
  system: system(),
  amount: 25_000,
  sharePpm: 1_000_000,
  dripPpm: 250_000,
  residueUl: 1_500,
  ...over,
})

export const supplyUse = (over: Partial<SupplyUse> = {}): SupplyUse => ({
  how: "per-cup",
  supply: supply(3),
  amount: 1,
  sharePpm: 1_000_000,
  widthUm: null,
  heightUm: null,
  ...over,
})

/**
 * A slim 30 oz tumbler as assumed here: 240 mm tall, 70 mm wide at the base and 76 mm at the lip, the top
 * 10 mm and the lowest 3 mm left bare.
 */
export const slim30: Blank = {
  supply: supply(9, { name: "Slim 30", kind: "blank", baseUnit: "each" }),
  rings: [
    { heightUm: 0, diameterUm: 70_000 },
    { heightUm: 240_000, diameterUm: 76_000 },
  ],
  bareLipUm: 10_000,
  bareBaseUm: 3_000,
  coatsBase: false,
}

export const layer = (position: number, uses: Layer["uses"] = [], over: Partial<Layer> = {}): Layer => ({
  id: 100 + position,
  position,
  kind: "resin",
  name: `Layer ${position}`,
  handsOnMin: 20,
  turnerMin: 480,
  recoatEarliestMin: 480,
  recoatLatestMin: null,
  uses,
  ...over,
})

export const plan = (layers: readonly Layer[], over: Partial<Plan> = {}): Plan => ({
  versionId: 1,
  designName: "Sea glass",
  versionNumber: 1,
  blank: slim30,
  layers,
  fullCureMin: 4320,
  ...over,
})

export const fine = { volumeStepUl: 500, massStepMg: 100 }
