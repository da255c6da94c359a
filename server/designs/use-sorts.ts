import type { BaseUnit, LayerKind, ResinUse, SupplyKind, SupplyUse } from "../domain/plan.ts"
import { USUAL_TRANSFER_PPM } from "../domain/sprays.ts"
import type { UnitSystem } from "../domain/units.ts"

/** What a line of a layer in the editor is about: decides which supplies and which measures it offers. */
export const USE_SORTS = [
  "resin",
  "paint",
  "film",
  "glitter",
  "pigment",
  "piece",
  "wrap",
  "length",
  "solvent",
  "thing",
] as const
export type UseSort = (typeof USE_SORTS)[number]

export type How = ResinUse["how"] | SupplyUse["how"]

interface SortFacts {
  /** on the button that adds one */
  add: string
  /** above the choice of supply */
  label: string
  /** null: any but blanks and resin parts */
  kinds: readonly SupplyKind[] | null
  baseUnits: readonly BaseUnit[]
  hows: readonly How[]
  /** a share of the surface means something */
  hasShare: boolean
  /** the amount a new line starts from, by what its supply is counted in; then its other fields */
  starts: Record<UnitSystem, Partial<Record<BaseUnit, string>>>
  begins: Record<UnitSystem, Readonly<Record<string, string>>>
}

const both = (values: Readonly<Record<string, string>>) => ({ metric: values, us: values })
const WHOLE_SURFACE = both({ share: "100" })
const NOTHING_MORE = both({})
/** How pieces usually lie on a sheet. */
const LAID = {
  metric: { margin: "5 mm", gap: "2 mm", turn: "1", spoiled: "5" },
  us: { margin: "0.2 in", gap: "0.1 in", turn: "1", spoiled: "5" },
}

/** Amounts to start from are common practice, no source: each studio puts its own. */
export const SORTS: Record<UseSort, SortFacts> = {
  resin: {
    add: "Resin",
    label: "Resin",
    kinds: [],
    baseUnits: [],
    hows: ["resin-mixed", "resin-applied", "resin-film"],
    hasShare: true,
    starts: { metric: { uL: "25 mL" }, us: { uL: "0.85 fl oz" } },
    begins: {
      metric: { drip: "25", residue: "1.5 mL", share: "100" },
      us: { drip: "25", residue: "0.05 fl oz", share: "100" },
    },
  },
  paint: {
    add: "Paint",
    label: "Paint",
    kinds: ["paint"],
    baseUnits: ["uL", "mg"],
    hows: ["per-cup", "per-area"],
    hasShare: true,
    starts: { metric: { uL: "12 mL", mg: "12 g" }, us: { uL: "0.4 fl oz", mg: "0.4 oz" } },
    begins: WHOLE_SURFACE,
  },
  film: {
    add: "Paint by its data sheet",
    label: "Paint",
    kinds: ["paint"],
    baseUnits: ["uL", "mg"],
    hows: ["spray-film"],
    hasShare: true,
    starts: { metric: { uL: "12 µm", mg: "12 µm" }, us: { uL: "0.5 mil", mg: "0.5 mil" } },
    begins: both({ share: "100", passes: "2", solids: "", lands: String(USUAL_TRANSFER_PPM / 10_000) }),
  },
  glitter: {
    add: "Glitter",
    label: "Glitter",
    kinds: ["glitter"],
    baseUnits: ["uL", "mg"],
    hows: ["per-cup", "per-resin", "sprinkled", "per-area"],
    hasShare: true,
    starts: { metric: { uL: "5 mL", mg: "6 g" }, us: { uL: "0.2 fl oz", mg: "0.2 oz" } },
    begins: WHOLE_SURFACE,
  },
  pigment: {
    add: "Pigment",
    label: "Pigment",
    kinds: ["pigment", "paint"],
    baseUnits: ["uL", "mg"],
    hows: ["per-resin", "per-mix", "per-cup"],
    hasShare: false,
    starts: { metric: { uL: "20 mL", mg: "20 g" }, us: { uL: "0.7 fl oz", mg: "0.7 oz" } },
    begins: NOTHING_MORE,
  },
  piece: {
    add: "Piece of sheet",
    label: "Sheet",
    kinds: null,
    baseUnits: ["mm2", "um"],
    hows: ["piece"],
    hasShare: false,
    starts: { metric: {}, us: {} },
    begins: {
      metric: { width: "10 cm", height: "8 cm", ...LAID.metric },
      us: { width: "4 in", height: "3 in", ...LAID.us },
    },
  },
  wrap: {
    add: "Wrap around the cup",
    label: "Sheet or roll",
    kinds: null,
    baseUnits: ["mm2", "um"],
    hows: ["piece"],
    hasShare: false,
    starts: { metric: {}, us: {} },
    begins: { metric: { overlap: "3 mm", ...LAID.metric }, us: { overlap: "0.125 in", ...LAID.us } },
  },
  length: {
    add: "Length off a roll",
    label: "Roll",
    kinds: null,
    baseUnits: ["um"],
    hows: ["per-cup", "per-batch", "per-session"],
    hasShare: false,
    starts: { metric: { um: "10 cm" }, us: { um: "4 in" } },
    begins: NOTHING_MORE,
  },
  solvent: {
    add: "Solvent or rinse",
    label: "Solvent or rinse",
    kinds: ["solvent", "other"],
    baseUnits: ["uL", "mg"],
    hows: ["per-cup", "per-mix", "per-batch", "per-session"],
    hasShare: false,
    starts: { metric: { uL: "5 mL", mg: "5 g" }, us: { uL: "0.2 fl oz", mg: "0.2 oz" } },
    begins: NOTHING_MORE,
  },
  thing: {
    add: "Anything else",
    label: "What",
    kinds: null,
    baseUnits: ["each", "uL", "mg", "um", "mm2"],
    hows: ["per-cup", "per-mix", "per-batch", "per-session"],
    hasShare: false,
    starts: { metric: { each: "1" }, us: { each: "1" } },
    begins: NOTHING_MORE,
  },
}

export const HOW_WORDS: Record<How, string> = {
  "resin-mixed": "mixed for one cup",
  "resin-applied": "poured over one cup",
  "resin-film": "film left on the cup",
  "per-cup": "amount a cup",
  "per-area": "amount a square metre",
  "per-resin": "amount a litre of resin",
  "per-mix": "amount a mix",
  sprinkled: "sprinkled: what stays on a square metre",
  "per-batch": "amount a batch, once",
  "per-session": "amount each time it is done",
  "spray-film": "dry film of one pass",
  piece: "a piece a cup",
}

interface KindFacts {
  /** what the buttons under it add, the most usual first */
  offers: readonly UseSort[]
  /** what a new one already has */
  begins: readonly UseSort[]
  /**
   * Minutes of work, time on a turner, time until the next layer; null: as the resin's data sheet says.
   * Common practice, no source: a base coat dries about an hour, colours overnight, resin overnight to 12 h.
   */
  times: { handsOn: string; turner: string; earliest: string | null }
  /** it covers the cup, so that it may cover a band of it */
  mayBand: boolean
}

export const KINDS: Record<LayerKind, KindFacts> = {
  prep: {
    offers: ["solvent", "thing"],
    begins: ["solvent"],
    times: { handsOn: "10", turner: "0 h", earliest: "0 h" },
    mayBand: false,
  },
  "base-coat": {
    offers: ["paint", "film", "solvent", "thing"],
    begins: ["paint"],
    times: { handsOn: "5", turner: "0 h", earliest: "1 h" },
    mayBand: true,
  },
  spray: {
    offers: ["paint", "film", "solvent", "thing"],
    begins: ["paint"],
    times: { handsOn: "15", turner: "0 h", earliest: "12 h" },
    mayBand: true,
  },
  resin: {
    offers: ["resin", "glitter", "pigment", "thing"],
    begins: ["resin"],
    times: { handsOn: "12", turner: "6 h", earliest: null },
    mayBand: true,
  },
  "wash-off": {
    offers: ["thing", "paint", "film", "solvent"],
    begins: ["thing", "paint", "solvent", "thing"],
    times: { handsOn: "25", turner: "0 h", earliest: "4 h" },
    mayBand: true,
  },
  vinyl: {
    offers: ["piece", "wrap", "length", "thing"],
    begins: ["piece"],
    times: { handsOn: "12", turner: "0 h", earliest: "0 h" },
    mayBand: true,
  },
  "final-coat": {
    offers: ["resin", "glitter", "pigment", "thing"],
    begins: ["resin"],
    times: { handsOn: "12", turner: "6 h", earliest: null },
    mayBand: true,
  },
  counted: {
    offers: ["thing"],
    begins: ["thing"],
    times: { handsOn: "5", turner: "0 h", earliest: "0 h" },
    mayBand: false,
  },
}

/** The sort a kept use is edited as. */
export function sortOf(
  how: Exclude<How, ResinUse["how"] | "piece">,
  supply: { kind: SupplyKind; baseUnit: BaseUnit },
): UseSort {
  if (how === "spray-film") return "film"
  if (how === "per-resin") return supply.kind === "glitter" ? "glitter" : "pigment"
  const fits = (["paint", "glitter", "pigment", "solvent", "length", "thing"] as const).find((sort) => {
    const facts = SORTS[sort]
    return (
      facts.baseUnits.includes(supply.baseUnit) &&
      facts.hows.includes(how) &&
      (facts.kinds === null || facts.kinds.includes(supply.kind))
    )
  })
  return fits ?? "thing"
}

/** Whether a line of this sort may use a supply. */
export function fits(sort: UseSort, supply: { kind: SupplyKind; baseUnit: BaseUnit }): boolean {
  const { kinds, baseUnits } = SORTS[sort]
  if (!baseUnits.includes(supply.baseUnit)) return false
  if (kinds !== null) return kinds.includes(supply.kind)
  return supply.kind !== "blank" && supply.kind !== "resin" && supply.kind !== "hardener"
}
