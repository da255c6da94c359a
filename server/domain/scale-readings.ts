import type { PlannedMix, PlanSupply } from "./plan.ts"
import { RATIO_TOLERANCE_PPM, ratioErrorPpm } from "./ratio.ts"

/** What the scale shows once something more is in the mixing cup. */
export interface ScaleReading {
  /** the supply just added; null: the empty cup, set to zero */
  added: string | null
  /** of it alone */
  addMg: number
  readsMg: number
}

/**
 * What a scale shows while a mix is poured into one cup: zero with the empty cup on it, after A, after B, after
 * each thing stirred in. Each weight is rounded to what the scale can show; the list ends before a thing
 * whose weight is not known.
 *
 * @param stirredIn in the order it goes in, amounts in the supply's base unit
 * @param stepMg the smallest step of the scale
 * @returns null where A and B cannot be weighed: a density is missing, or the scale is too coarse to keep the ratio
 *   within `RATIO_TOLERANCE_PPM`, or as near as the maker's own measures do
 */
export function scaleReadings(
  mix: PlannedMix,
  stirredIn: readonly { supply: PlanSupply; amount: number }[],
  stepMg: number,
): ScaleReading[] | null {
  const { system, measured, also } = mix
  const weights = measured.basis === "mass" ? measured : also
  if (weights === null) return null
  const onScale = (mg: number) => Math.round(mg / stepMg) * stepMg
  const [a, b] = [onScale(weights.a), onScale(weights.b)]
  // the kit's own ratio by mass: this mix's, without what it is off
  const ratio = weights.a / weights.b / (1 + mix.ratioErrorPpm / 1e6)
  const allowed = Math.max(RATIO_TOLERANCE_PPM, Math.abs(mix.ratioErrorPpm))
  if (!(a > 0 && b > 0) || Math.abs(ratioErrorPpm(a, b, ratio)) > allowed) return null

  const readings: ScaleReading[] = [{ added: null, addMg: 0, readsMg: 0 }]
  const add = (added: string, addMg: number) => {
    readings.push({ added, addMg, readsMg: readings.at(-1)!.readsMg + addMg })
  }
  add(system.partA.name, a)
  add(system.partB.name, b)
  for (const { supply, amount } of stirredIn) {
    const mg = massMg(supply, amount)
    if (mg === null) break
    add(supply.name, onScale(mg))
  }
  return readings
}

function massMg({ baseUnit, densityMgPerMl }: PlanSupply, amount: number): number | null {
  switch (baseUnit) {
    case "mg":
      return amount
    case "uL":
      return densityMgPerMl === null ? null : (amount * densityMgPerMl) / 1000
    case "um":
    case "mm2":
    case "each":
      return null
  }
}
