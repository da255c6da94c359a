import type {
  AmountUse,
  Blank,
  Layer,
  PieceUse,
  Plan,
  PlanSupply,
  ResinSystem,
  ResinUse,
  SprayUse,
} from "../../server/domain/plan.ts"

export const supply = (id: number, over: Partial<PlanSupply> = {}): PlanSupply => ({
  id,
  name: `Supply ${id}`,
  kind: "other",
  baseUnit: "uL",
  densityMgPerMl: null,
  sheet: null,
  rollWidthUm: null,
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
  maxPigmentPpm: null,
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

export const supplyUse = (over: Partial<AmountUse> = {}): AmountUse => ({
  how: "per-cup",
  supply: supply(3),
  amount: 1,
  sharePpm: 1_000_000,
  ...over,
})

/** 90 × 60 mm of something counted by area, nothing around it and none spoiled. */
export const pieceUse = (over: Partial<PieceUse> = {}): PieceUse => ({
  how: "piece",
  supply: supply(5, { name: "Sheet", kind: "vinyl", baseUnit: "mm2" }),
  cut: { shape: "flat", widthUm: 90_000, heightUm: 60_000 },
  marginUm: 0,
  gapUm: 0,
  mayTurn: true,
  reprintPpm: 0,
  ...over,
})

/** Two passes of 12 µm dry, a fifth of the can solids, 30 % of it landing on the cup; counted by volume. */
export const sprayUse = (over: Partial<SprayUse> = {}): SprayUse => ({
  how: "spray-film",
  supply: supply(6, { name: "Blue", kind: "paint" }),
  dryUm: 12,
  passes: 2,
  solidsPpm: 200_000,
  transferPpm: 300_000,
  sharePpm: 1_000_000,
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
  band: null,
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
