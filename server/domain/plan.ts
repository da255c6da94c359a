import type { Band, CoatedProfile } from "./profile.ts"
import type { Offcut } from "./sheets.ts"
import type { SprayFilm } from "./sprays.ts"

/** What a supply's amounts are counted in: µL, mg, µm of length, mm² or pieces. */
export type BaseUnit = "uL" | "mg" | "um" | "mm2" | "each"

export const SUPPLY_KINDS = [
  "resin",
  "hardener",
  "paint",
  "glitter",
  "pigment",
  "vinyl",
  "solvent",
  "abrasive",
  "blank",
  "consumable",
  "packaging",
  "other",
] as const
export type SupplyKind = (typeof SUPPLY_KINDS)[number]

/** What a plan needs to know of a supply. */
export interface PlanSupply {
  id: number
  name: string
  kind: SupplyKind
  baseUnit: BaseUnit
  densityMgPerMl: number | null
  /** size of one sheet, of something counted by area; null: not known */
  sheet: SheetSize | null
  /** width of the roll that something counted by length comes on; null: not known */
  rollWidthUm: number | null
}

export interface SheetSize {
  widthUm: number
  heightUm: number
}

/** Parts A and B, their ratio, and what limits one mix. */
export interface ResinSystem {
  id: number
  name: string
  partA: PlanSupply
  partB: PlanSupply
  ratioBasis: "volume" | "mass"
  ratioA: number
  ratioB: number
  potLifeMin: number
  largestMixUl: number
  /** minutes to measure and stir one mix */
  mixingMin: number
  /** minutes to coat one cup */
  cupWorkMin: number
  recoatEarliestMin: number
  recoatLatestMin: number | null
  fullCureMin: number
  /** most pigment that may be stirred in, by mass of mixed resin; null: the data sheet does not say */
  maxPigmentPpm: number | null
}

/** The uncoated cup: a profile from base to lip, and the bands left bare. */
export interface Blank extends CoatedProfile {
  supply: PlanSupply
}

export const LAYER_KINDS = [
  "prep",
  "base-coat",
  "spray",
  "resin",
  "wash-off",
  "vinyl",
  "final-coat",
  "counted",
] as const
export type LayerKind = (typeof LAYER_KINDS)[number]

/** Resin mixed and spread over the surface that the layer covers. */
export interface ResinUse {
  how: "resin-film" | "resin-mixed" | "resin-applied"
  system: ResinSystem
  /** the design's own resin, set where `system` stands in for it, see `withSubstitutes` */
  inPlaceOf?: ResinSystem
  /**
   * `resin-film`: wet film in µm. `resin-mixed`: µL mixed for one cup alone, what stays in the mixing cup
   * included. `resin-applied`: µL poured over one cup, drips included, what stays in the mixing cup not.
   */
  amount: number
  /** how much of the layer's surface it covers */
  sharePpm: number
  /** how much of what is poured over the cup runs off it */
  dripPpm: number
  /** what stays in the mixing cup and on the stick, once a mix */
  residueUl: number
}

/** A supply that a use takes in place of the design's own, and how much of it stands for 1 of that, in millionths. */
export interface InPlaceOf {
  supply: PlanSupply
  ratioPpm: number
}

/** An amount of a supply, in its base unit. */
export interface AmountUse {
  /**
   * `per-cup`: amount × share a cup (sprays: amount is for the whole surface, as the can was weighed).
   * `per-area`: amount a m² × share. `sprinkled`: the same, of what stays on; the excess goes back into the jar.
   * `per-resin`: amount a litre of resin mixed in the same layer (glitter and pigment stirred in).
   * `per-mix`: once each mix. `per-batch`: once a batch, not again when the layer is done in a second go.
   * `per-session`: once each time the layer is done in one go.
   */
  how: "per-cup" | "per-area" | "sprinkled" | "per-resin" | "per-mix" | "per-batch" | "per-session"
  supply: PlanSupply
  amount: number
  /** how much of the layer's surface it is on; several colours may total more or less than the whole */
  sharePpm: number
  /** set where `supply` stands in for the design's own, see `withSubstitutes` */
  inPlaceOf?: InPlaceOf
}

/** Paint by its data sheet: so thick a dry film, so many passes. */
export interface SprayUse extends SprayFilm {
  how: "spray-film"
  supply: PlanSupply
  inPlaceOf?: InPlaceOf
}

/** A piece of sheet or roll for each cup. */
export interface PieceUse {
  how: "piece"
  supply: PlanSupply
  inPlaceOf?: InPlaceOf
  /** flat: a size of its own. wrap: what the layer covers rolled out, its ends overlapping. */
  cut: { shape: "flat"; widthUm: number; heightUm: number } | { shape: "wrap"; overlapUm: number }
  /** kept free along the edges of a sheet or roll */
  marginUm: number
  /** kept free between two pieces */
  gapUm: number
  /** it may lie turned by 90°: not so where a print or a grain has a direction */
  mayTurn: boolean
  /** how many of the pieces are spoiled and cut again */
  reprintPpm: number
}

/** Anything that is not mixed resin. */
export type SupplyUse = AmountUse | SprayUse | PieceUse

export type Use = ResinUse | SupplyUse

/** A step of a plan: what is applied, how the amount is worked out, and its times. */
export interface Layer {
  id: number
  position: number
  kind: LayerKind
  name: string
  handsOnMin: number
  turnerMin: number
  recoatEarliestMin: number
  recoatLatestMin: number | null
  /** the part of the blank it covers; null: all that the blank's bare bands leave */
  band: Band | null
  uses: readonly Use[]
}

/** A version of a design as the computations see it. The blank itself is taken with the first layer. */
export interface Plan {
  versionId: number
  designName: string
  versionNumber: number
  blank: Blank
  layers: readonly Layer[]
  fullCureMin: number
}

/** Where a figure in a working came from. */
export type Origin =
  | "design"
  | "blank"
  | "resin system"
  | "supply"
  | "studio"
  | "this batch"
  | "shelf"
  | "common practice"
  | "worked out"

/** One amount explained: formula, inputs, result. Kept with the coat as it was that day. */
export interface Working {
  /** what the amount is, in the trade's words: "Clear resin A for 6 cups" */
  title: string
  /** in the names of the inputs; units are base units, "ppm", "cups", "mixes", "parts", "mg/mL", or a rate as "uL/m2", "mg/L" */
  formula: string
  inputs: readonly { name: string; value: number; unit: string; from: Origin }[]
  result: { value: number; unit: string }
}

/** What the maker can measure: the smallest mark of a cup or syringe, the smallest step of the scale. */
export interface Measures {
  volumeStepUl: number
  massStepMg: number
  /** how warm the room is; where it is not said, as warm as data sheets take it to be */
  roomCelsius?: number
}

/** A and B of one mix: µL by volume, mg by mass. */
export interface Portions {
  basis: "volume" | "mass"
  a: number
  b: number
}

/** `ratio`: A to B is off by more than is planned for. `small`: too few marks to be measured well. */
export type MixFlag = "ratio" | "small"

/** One cup of A and B stirred together, for some of the cups. Parts in each part's own base unit. */
export interface PlannedMix {
  system: ResinSystem
  cups: number
  mixedUl: number
  partA: number
  partB: number
  /** as the maker states the ratio, on the marks of what it is measured with */
  measured: Portions
  /** the other way, whole µL or mg; null when a density is not known */
  also: Portions | null
  residueUl: number
  /** how far A to B, as measured out, is from the system's ratio; above zero is too much A */
  ratioErrorPpm: number
  flag: MixFlag | null
  /** how long this very mix stays workable, and the minutes that coating its cups takes */
  potLifeMin: number
  workMin: number
}

/** An amount to take from the shelf for a layer. `mix` is the index of the mix it goes into, null for none. */
export interface Draw {
  supplyId: number
  amount: number
  mix: number | null
  working: Working
  /** of pieces cut from whole sheets: what remains of the last one; null when it is too small for a piece */
  offcut?: Offcut | null
  /** of pieces cut from an offcut that stands by itself: its container */
  from?: number
}

/** What one layer takes for a number of cups: its mixes, and every draw, A and B of each mix included. */
export interface LayerNeed {
  layerId: number
  position: number
  /** the mixes of the layer's first resin use, then of its next; a use's mixes share out all the cups */
  mixes: readonly PlannedMix[]
  /** the first mix's system; null when nothing is mixed */
  system: ResinSystem | null
  draws: readonly Draw[]
}
