import type { BaseUnit, SupplyKind } from "../domain/plan.ts"
import type { Life } from "../domain/shelf-life.ts"

/** What kinds of supply are called, in the order a studio works with them. */
export const KIND_WORDS: Record<SupplyKind, string> = {
  resin: "Resin (part A)",
  hardener: "Hardener (part B)",
  paint: "Paint",
  glitter: "Glitter",
  pigment: "Pigment",
  vinyl: "Vinyl",
  solvent: "Solvent",
  abrasive: "Abrasive",
  blank: "Blank (uncoated cup)",
  consumable: "Gloves, wipes, sticks",
  packaging: "Packaging",
  other: "Something else",
}

/** How a supply is counted. */
export const UNIT_WORDS: Record<BaseUnit, string> = {
  uL: "By volume",
  mg: "By weight",
  each: "By the piece",
  um: "By length",
  mm2: "By area",
}

/** A record of words as choices of a field, in its order. */
export function asChoices(words: Readonly<Record<string, string>>): { value: string; label: string }[] {
  return Object.entries(words).map(([value, label]) => ({ value, label }))
}

/** "24 months", "does not expire", "not known". */
export function lifeWords(life: Life | null): string {
  if (life === null) return "not known"
  if (life.unit === "never") return "does not expire"
  return `${life.value} ${life.value === 1 ? life.unit.slice(0, -1) : life.unit}`
}

/** "3 packs", "1 pack", "no packs". */
export function howMany(n: number, one: string, many: string): string {
  return `${n === 0 ? "no" : n.toLocaleString("en-US")} ${n === 1 ? one : many}`
}
