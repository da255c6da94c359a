import type { SupplyKind } from "../../db/tables.ts"
import { type IsoDate, sayDate } from "../domain/dates.ts"
import type { Life } from "../domain/shelf-life.ts"
import type { ContainerPage, UseByReason } from "./container.ts"

/** Kinds of supply in the order a studio works with them, and what they are called in a list. */
export const KINDS: readonly { value: SupplyKind; label: string }[] = [
  { value: "resin", label: "Resin" },
  { value: "hardener", label: "Hardener" },
  { value: "paint", label: "Paint" },
  { value: "glitter", label: "Glitter" },
  { value: "pigment", label: "Pigment" },
  { value: "vinyl", label: "Vinyl" },
  { value: "solvent", label: "Solvent" },
  { value: "abrasive", label: "Abrasive" },
  { value: "blank", label: "Blanks" },
  { value: "consumable", label: "Gloves, wipes, sticks" },
  { value: "packaging", label: "Packaging" },
  { value: "other", label: "Other" },
]

/** "6 months after it was opened on Tue 3 Nov": why that day. */
export function useByWords(container: ContainerPage, today: IsoDate): string {
  const reasons: Record<UseByReason, string> = {
    label: "the day on the label",
    "shelf-life": "how long it keeps from the day it was made or came",
    "after-opening": `${lifeWords(container.openLife)} after it was opened${
      container.openedOn === null ? "" : ` on ${sayDate(container.openedOn, today)}`
    }`,
    "poured-in": "what was poured into it goes off first",
    "does-not-expire": "it does not expire",
    unknown: "no day is known: look at the label",
  }
  return reasons[container.useByReason]
}

/** "6 months", "1 day"; what is not known, or never, has no words. */
export function lifeWords(life: Life | null): string {
  if (life === null || life.unit === "never") return "some time"
  return `${life.value} ${life.value === 1 ? life.unit.slice(0, -1) : life.unit}`
}

/** Each under 150 characters, so that a notice carries it whole. */
const DISCARD: Partial<Record<SupplyKind | "aerosol", string>> = {
  resin: "Uncured resin: not down the drain, not loose in the bin; hand it in where your local rules say.",
  hardener:
    "Uncured hardener: not down the drain, not loose in the bin; hand it in where your local rules say.",
  solvent:
    "Solvent and wet wipes: never down the drain; a closed metal container, away from flame and heaters.",
  paint: "Liquid paint: not down the drain; hand it in where your local rules say.",
  aerosol: "A spray can that is not empty is under pressure: never pierce, crush or burn it.",
}

const SHEET_FIRST =
  "Its safety data sheet (section 13, disposal) and your local rules come first; wear gloves, keep the lid on."

/**
 * What to mind when it is thrown away: uncured resin, solvents and aerosols are not household waste everywhere.
 * Empty for things without a hazard. Common practice, no source; the safety data sheet comes first.
 */
export function discardWords(thing: { kind: SupplyKind; hazards: readonly string[] }): string[] {
  const isAerosol = thing.hazards.includes("aerosol")
  const said = [isAerosol ? DISCARD.aerosol : DISCARD[thing.kind]].filter((one) => one !== undefined)
  return said.length > 0 || thing.hazards.length > 0 ? [...said, SHEET_FIRST] : []
}

/** The same of several things thrown away together, each sentence once, the safety data sheet's last. */
export function discardWordsOf(
  things: readonly { kind: SupplyKind; hazards: readonly string[] }[],
): string[] {
  const all = new Set(things.flatMap(discardWords))
  const isSheetTold = all.delete(SHEET_FIRST)
  return isSheetTold ? [...all, SHEET_FIRST] : [...all]
}

/** "2 have", "1 has". */
export function counted(n: number, one: string, many: string): string {
  return `${n.toLocaleString("en-US")} ${n === 1 ? one : many}`
}
