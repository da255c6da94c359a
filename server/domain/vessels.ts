import type { BaseUnit, SupplyKind } from "./plan.ts"

/** What a container holds, as far as it decides what the container is called. */
export interface Held {
  kind: SupplyKind
  baseUnit: BaseUnit
  isSprayCan: boolean
  /** a part of a sheet that stands by itself */
  isOffcut: boolean
}

/** How a container is spoken of: "bottle", "bottles". */
export interface VesselWord {
  one: string
  many: string
}

/** Where nothing closer fits, or several different ones are meant. */
export const CONTAINER: VesselWord = { one: "container", many: "containers" }

const BOTTLE: VesselWord = { one: "bottle", many: "bottles" }
const JAR: VesselWord = { one: "jar", many: "jars" }
const BOX: VesselWord = { one: "box", many: "boxes" }

/** What a maker calls the thing a supply stands on the shelf in. */
export function vesselWord({ kind, baseUnit, isSprayCan, isOffcut }: Held): VesselWord {
  if (isSprayCan) return { one: "can", many: "cans" }
  if (isOffcut) return { one: "offcut", many: "offcuts" }
  switch (baseUnit) {
    case "mm2":
      return { one: "pack of sheets", many: "packs of sheets" }
    case "um":
      return { one: "roll", many: "rolls" }
    case "each":
      return kind === "blank" ? { one: "carton", many: "cartons" } : kind === "other" ? CONTAINER : BOX
    case "uL":
    case "mg":
      return POURED[kind] ?? CONTAINER
  }
}

const POURED: Partial<Record<SupplyKind, VesselWord>> = {
  resin: BOTTLE,
  hardener: BOTTLE,
  paint: BOTTLE,
  solvent: BOTTLE,
  glitter: JAR,
  pigment: JAR,
}

/** The word for all of them: their own where they share one. */
export function sharedWord(words: readonly VesselWord[]): VesselWord {
  const [first] = words
  return first !== undefined && words.every(({ one }) => one === first.one) ? first : CONTAINER
}

/**
 * How a part of what is in one goes into another: liquids, glitter and powders are poured, pieces are put. A spray can
 * is never opened, and sheets and rolls are cut, not poured.
 *
 * @returns null: it does not
 */
export function goesOver({
  baseUnit,
  isSprayCan,
}: Pick<Held, "baseUnit" | "isSprayCan">): "poured" | "put" | null {
  if (isSprayCan) return null
  switch (baseUnit) {
    case "uL":
    case "mg":
      return "poured"
    case "each":
      return "put"
    case "um":
    case "mm2":
      return null
  }
}
