import { gtinCheckDigit } from "../server/domain/gs1.ts"
import type { BaseUnit, SheetSize, SupplyKind } from "../server/domain/plan.ts"
import type { Ring } from "../server/domain/profile.ts"

/** A thing the demo studio buys: one supply in one pack. Amounts in base units, prices in cents. */
export interface Thing {
  name: string
  kind: SupplyKind
  unit: BaseUnit
  pack: number
  cents: number
  minimum: number
  hazards: readonly string[]
  shelfMonths: number | null
  /** a swatch to tell it by */
  colour: string | null
  /** mg/mL, where it is known */
  density?: number
  /** what never comes out of a container */
  keptBack?: number
  /** one sheet of it */
  sheet?: SheetSize
}

/** 12 × 12 in: ten of them are a pack. */
const FOOT_SQUARE: SheetSize = { widthUm: 304_800, heightUm: 304_800 }

const paint = (name: string, colour: string | null = null): Thing => ({
  name,
  kind: "paint",
  unit: "mg",
  pack: 312_000,
  cents: 899,
  minimum: 60_000,
  hazards: ["aerosol", "drowsiness"],
  shelfMonths: 12,
  colour,
  // propellant and all, assumed; the last grams stay in the can
  density: 780,
  keptBack: 12_000,
})
const glitter = (name: string, colour: string): Thing => ({
  name,
  kind: "glitter",
  unit: "mg",
  pack: 56_000,
  cents: 549,
  minimum: 10_000,
  hazards: ["fine-dust"],
  shelfMonths: null,
  colour,
  // polyester film, from memory
  density: 1380,
})
const sheets = (name: string, cents: number): Thing => ({
  name,
  kind: "vinyl",
  unit: "mm2",
  pack: 929_030,
  cents,
  minimum: 100_000,
  hazards: [],
  shelfMonths: null,
  colour: null,
  sheet: FOOT_SQUARE,
})
const liquid = (
  name: string,
  kind: SupplyKind,
  pack: number,
  cents: number,
  minimum: number,
  hazards: readonly string[],
): Thing => ({ name, kind, unit: "uL", pack, cents, minimum, hazards, shelfMonths: null, colour: null })
const piece = (name: string, kind: SupplyKind, pack: number, cents: number, minimum: number): Thing => ({
  name,
  kind,
  unit: "each",
  pack,
  cents,
  minimum,
  hazards: [],
  shelfMonths: null,
  colour: null,
})

const SOLVENT = ["flammable-liquid", "eye-irritant", "drowsiness"]

export const PAINTS = [
  paint("White primer", "#f2f2ee"),
  paint("Harbour blue", "#2a6f97"),
  paint("Moss", "#5b7a3a"),
  paint("Brick", "#a4452c"),
  paint("Lemon peel", "#e6c92f"),
  paint("Plum", "#6a2c5b"),
  paint("Slate", "#5a6670"),
  paint("Copper shine", "#b4683c"),
  paint("Rosewater", "#e3b3bb"),
  paint("Night black", "#1c1d21"),
  paint("Mint", "#9fd3b8"),
  paint("Sand", "#d8c6a0"),
]
export const GLITTERS = [
  glitter("Fine silver", "#c4c7cb"),
  glitter("Fine gold", "#d1a93d"),
  glitter("Chunky teal", "#1d8a8a"),
  glitter("Chunky rose", "#cf7f92"),
  glitter("Holo white", "#e9ecf5"),
  glitter("Ember mix", "#c65a23"),
  glitter("Lagoon mix", "#2aa7a0"),
  glitter("Midnight mix", "#2b2f5e"),
]
export const OTHERS: readonly Thing[] = [
  sheets("Black vinyl sheet", 1299),
  liquid("Alcohol 99 %", "solvent", 946_353, 1150, 200_000, SOLVENT),
  liquid("Acetone", "solvent", 946_353, 990, 100_000, SOLVENT),
  liquid("Soap resist", "other", 500_000, 450, 50_000, []),
  piece("Nitrile gloves", "consumable", 100, 1400, 20),
  piece("Lint-free wipes", "consumable", 200, 1250, 30),
  piece("Mixing cups", "consumable", 100, 1600, 10),
  piece("Sliding lids", "packaging", 25, 1875, 5),
  piece("Straws", "packaging", 50, 900, 10),
  piece("Gift boxes", "packaging", 25, 2750, 5),
  piece("Care cards", "packaging", 100, 1100, 20),
  sheets("Patterned vinyl sheet", 1899),
]

/** What may be used in place of something else, and is on the shelf for that. */
export const SUBSTITUTES: readonly { thing: Thing; insteadOf: string }[] = [
  { thing: piece("Vinyl gloves", "consumable", 100, 990, 0), insteadOf: "Nitrile gloves" },
  { thing: piece("Flip lids", "packaging", 15, 1290, 0), insteadOf: "Sliding lids" },
]

/** The same in another size, at the seller's number in `SELLERS`. */
export const OTHER_SIZES = [
  { of: "Sliding lids", name: "Sliding lids, bag of 10", amount: 10, cents: 850, seller: 3 },
  { of: "Gift boxes", name: "Gift boxes, pack of 10", amount: 10, cents: 1290, seller: 3 },
  { of: "Holo white", name: "Holo white, 8 oz jar", amount: 224_000, cents: 1790, seller: 0 },
  { of: "Lagoon mix", name: "Lagoon mix, 8 oz jar", amount: 224_000, cents: 1790, seller: 0 },
]

/** Days from order to door as they say, and how they sell: amounts in cents, null where there is no such rule. */
export const SELLERS = [
  { name: "Northgate Craft", leadTimeDays: 5, minimum: null, shipping: 895, freeFrom: 9_900 },
  { name: "Pier Street Paints", leadTimeDays: 3, minimum: 2_500, shipping: 650, freeFrom: 6_000 },
  { name: "Cupworks Supply", leadTimeDays: 9, minimum: 10_000, shipping: 1_400, freeFrom: null },
  { name: "Corner Hardware", leadTimeDays: 1, minimum: null, shipping: 0, freeFrom: null },
]

/** Outside profiles, assumed dimensions of common shapes. */
export const BLANKS: readonly { name: string; cents: number; rings: readonly Ring[] }[] = [
  { name: "Slim 30 oz blank", cents: 5400, rings: rings([0, 70], [240, 76]) },
  { name: "Slim 20 oz blank", cents: 4600, rings: rings([0, 70], [205, 74]) },
  { name: "Wide taper 20 oz blank", cents: 4200, rings: rings([0, 66], [120, 76], [172, 88]) },
  { name: "Stepped 40 oz blank", cents: 7200, rings: rings([0, 74], [110, 78], [122, 98], [265, 102]) },
]

/** A 13-digit code in GS1's demonstration prefix 952, the n-th. */
export function demoCode(n: number): string {
  const body = `952${String(n).padStart(9, "0")}`
  return `${body}${gtinCheckDigit(body)}`
}

/** A 12-digit code for use inside one company (UPC-A beginning with 4), the n-th. */
export function demoUpc(n: number): string {
  const body = `4${String(n).padStart(10, "0")}`
  return `${body}${gtinCheckDigit(body)}`
}

function rings(...mm: [height: number, diameter: number][]): Ring[] {
  return mm.map(([height, diameter]) => ({ heightUm: height * 1000, diameterUm: diameter * 1000 }))
}
