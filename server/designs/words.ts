import type { LayerKind } from "../domain/plan.ts"
import { toUnit, type UnitSystem } from "../domain/units.ts"

/** What kinds of layer are called, in the order they are usually put on. */
export const LAYER_WORDS: Record<LayerKind, string> = {
  prep: "Prep",
  "base-coat": "Base coat",
  spray: "Sprayed colours",
  resin: "Resin coat",
  "wash-off": "Wash-off",
  vinyl: "Vinyl",
  "final-coat": "Final coat",
  counted: "Lid, box, card",
}

/** A length of time as a person says it: "45 min", "1 h 20 min", "16 h", "3 days 4 h". */
export function sayMinutes(minutes: number): string {
  const days = Math.floor(minutes / 1440)
  const hours = Math.floor((minutes % 1440) / 60)
  const rest = minutes % 60
  const said = [
    days === 0 ? "" : `${days} ${days === 1 ? "day" : "days"}`,
    hours === 0 ? "" : `${hours} h`,
    // beside days nobody counts minutes
    rest === 0 || days > 0 ? "" : `${rest} min`,
  ].filter(Boolean)
  return said.length === 0 ? "no time" : said.join(" ")
}

/** A film as it is measured: "0.34 mm", "13 mil". */
export function sayFilm(um: number, units: UnitSystem): string {
  if (units === "us") return `${Number(toUnit(um, "mil").toPrecision(2))} mil`
  return `${Number(toUnit(um, "mm").toPrecision(2))} mm`
}
