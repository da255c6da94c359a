import type { LayerKind } from "./plan.ts"

/**
 * Hazard classes a supply can carry, gravest first; cautions come in this order.
 *
 * Statements are those of the UN Globally Harmonized System (GHS, annex 3; wording from memory). GHS codes usual
 * for the trade; the product's own SDS overrides. The cautions are common practice, no source.
 */
const CLASSES = {
  "skin-corrosive": {
    label: "Burns skin and eyes",
    statements: ["H314 Causes severe skin burns and eye damage"],
    caution:
      "It burns skin and eyes: wear nitrile gloves and goggles; rinse a splash with water for 15 minutes and get medical help.",
  },
  "flammable-liquid": {
    label: "Catches fire easily (liquid)",
    statements: ["H225 Highly flammable liquid and vapour"],
    caution:
      "Liquid and vapour catch fire: no flame, heater, heat gun or spark near it, lid on, soaked wipes into a closed metal bin.",
  },
  aerosol: {
    label: "Aerosol can",
    statements: ["H222 Extremely flammable aerosol", "H229 Pressurized container: may burst if heated"],
    caution:
      "Spray outdoors or with strong extraction, away from flame and heaters; keep the can cool and never pierce it.",
  },
  "skin-sensitiser": {
    label: "Can cause a skin allergy",
    statements: ["H317 May cause an allergic skin reaction"],
    caution:
      "Uncured resin and hardener can cause an allergy that stays for life: keep them off the skin, change soiled gloves, wash with soap and water, never with solvent.",
  },
  "harmful-if-swallowed": {
    label: "Harmful if swallowed",
    statements: ["H302 Harmful if swallowed"],
    caution:
      "Harmful if swallowed: no food or drink at the bench, and no mixing cups that could be drunk from.",
  },
  drowsiness: {
    label: "Vapour makes drowsy",
    statements: ["H336 May cause drowsiness or dizziness"],
    caution:
      "The vapour makes drowsy: open a window or run the extraction, and go out at the first headache.",
  },
  "breathing-irritant": {
    label: "Irritates the airways",
    statements: ["H335 May cause respiratory irritation"],
    caution: "It irritates the airways: work with fresh air and the mask its safety data sheet names.",
  },
  "fine-dust": {
    label: "Fine dust (not a GHS class)",
    statements: [],
    caution:
      "Fine dust: sand wet or with extraction, wear a fitted dust mask and glasses, wipe up damp, do not blow.",
  },
  "eye-irritant": {
    label: "Irritates the eyes",
    statements: ["H319 Causes serious eye irritation"],
    caution: "It irritates the eyes: wear safety glasses, and rinse a splash with water for several minutes.",
  },
  "skin-irritant": {
    label: "Irritates the skin",
    statements: ["H315 Causes skin irritation"],
    caution: "It irritates the skin: wear gloves, and wash it off with soap and water.",
  },
  aquatic: {
    label: "Harms water life",
    statements: ["H411 Toxic to aquatic life with long lasting effects"],
    caution: "It harms water life: nothing down the drain; let resin cure before it goes into the waste.",
  },
} as const satisfies Record<string, { label: string; statements: readonly string[]; caution: string }>

export type Hazard = keyof typeof CLASSES

/** A hazard class as a page lists it: GHS statements begin with their code. */
export interface HazardClass {
  hazard: Hazard
  label: string
  statements: readonly string[]
  caution: string
}

export const HAZARD_CLASSES: readonly HazardClass[] = (Object.keys(CLASSES) as Hazard[]).map((hazard) => ({
  hazard,
  ...CLASSES[hazard],
}))

/** Whether a text names a hazard class. */
export function isHazard(text: string): text is Hazard {
  return Object.hasOwn(CLASSES, text)
}

/** Hazards in a few words each, gravest first: "Catches fire easily". What a class's name adds in brackets is for choosing it. */
export function sayHazards(present: ReadonlySet<Hazard>): string[] {
  return HAZARD_CLASSES.filter(({ hazard }) => present.has(hazard)).map(({ label }) =>
    label.replace(/ \(.*\)$/, ""),
  )
}

/**
 * What supplies of the trade usually carry, to begin with when one is set up.
 * GHS codes usual for the trade; the product's own SDS overrides.
 */
export const USUAL_HAZARDS = {
  "epoxy resin": ["skin-sensitiser", "eye-irritant", "skin-irritant", "aquatic"],
  "amine hardener": ["skin-corrosive", "skin-sensitiser", "harmful-if-swallowed"],
  aerosol: ["aerosol"],
  acetone: ["flammable-liquid", "drowsiness", "eye-irritant"],
  "isopropyl alcohol": ["flammable-liquid", "drowsiness", "eye-irritant"],
  "glitter or abrasive": ["fine-dust"],
} as const satisfies Record<string, readonly Hazard[]>

/** Resin mixed in one cup, and the system it is of; null: not known yet. */
interface Mixed {
  mixedUl: number
  system: { largestMixUl: number } | null
}

/** From this part of its system's largest safe mix on, one cup of resin is warned of. Common practice, no source. */
const BIG_PART = 1 / 2
/** The same where the system is not known. Common practice, no source. */
const BIG_MIX_UL = 100_000

const SDS_FIRST =
  "The product's own safety data sheet and your local rules come before anything said here: read them first."

/** A graver class says already what the lesser one would. */
const SAID_BY: Partial<Record<Hazard, readonly Hazard[]>> = {
  "eye-irritant": ["skin-corrosive"],
  "skin-irritant": ["skin-sensitiser", "skin-corrosive"],
}

interface Step {
  layerKind?: LayerKind
  mixes?: readonly Mixed[]
}

/**
 * The cautions to show where a step is done, gravest first, each once; the last always defers to the safety data
 * sheet and local rules.
 *
 * @param hazards of all supplies the step takes
 * @param step.layerKind what kind of layer it is; left out where no layer is meant (a shelf, a delivery)
 * @param step.mixes what is mixed, one cup of resin each
 */
export function cautionsFor(hazards: Iterable<Hazard>, step: Step = {}): readonly string[] {
  const present = new Set<Hazard>([...hazards, ...hazardsOfWork(step)])
  const said = HAZARD_CLASSES.filter(({ hazard }) => {
    return present.has(hazard) && !SAID_BY[hazard]?.some((graver) => present.has(graver))
  }).map(({ caution }) => caution)
  return [...said, ...workCautions(step), SDS_FIRST]
}

/** For what is left of a mix and hardens in its cup. Common practice, no source. */
export const LEFT_OVER_CAUTIONS: readonly string[] = [
  "What is left of a mix heats up as it hardens: leave it shallow and open, on something that does not burn, with fresh air, until it is cold and hard. Only then bin it, as your local rules say.",
  "While it is tacky or soft it is uncured: gloves on, and never down the drain.",
  SDS_FIRST,
]

/** What the work itself brings, whatever is known of the supplies. */
function hazardsOfWork({ layerKind, mixes = [] }: Step): readonly Hazard[] {
  const hazards: Hazard[] = []
  if (mixes.length > 0 || layerKind === "resin") hazards.push("skin-sensitiser")
  if (layerKind === "prep") hazards.push("fine-dust")
  return hazards
}

function workCautions({ layerKind, mixes = [] }: Step): readonly string[] {
  const cautions: string[] = []
  if (layerKind === "spray") {
    cautions.push(
      "Spray away from flame, heaters and curing ovens, with extraction and the mask the can asks for.",
    )
  }
  if (mixes.some(isBig)) {
    cautions.push(
      "A big mix heats up by itself: pour it out at once, never leave it standing in the cup; if it smokes, carry it outdoors and keep away.",
    )
  }
  if (layerKind !== undefined && COATS.includes(layerKind)) {
    cautions.push(
      "Keep coatings off the lip and the inside, where mouth and drink touch, unless the maker states them safe for food when fully cured.",
    )
  }
  return cautions
}

function isBig({ mixedUl, system }: Mixed): boolean {
  return mixedUl >= (system === null ? BIG_MIX_UL : system.largestMixUl * BIG_PART)
}

const COATS: readonly LayerKind[] = ["base-coat", "spray", "resin", "wash-off", "vinyl", "final-coat"]
