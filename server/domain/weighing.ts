import type { BaseUnit } from "./plan.ts"

/**
 * What an amount weighs; null where its density is not known, or where it is counted by length, area or piece.
 *
 * @param amount in `baseUnit`
 * @param densityMgPerMl of the supply, null when not known
 * @returns whole mg
 */
export function weightMg(amount: number, baseUnit: BaseUnit, densityMgPerMl: number | null): number | null {
  switch (baseUnit) {
    case "mg":
      return amount
    case "uL":
      // 1 mg/mL is 1 mg for each 1000 µL
      return densityMgPerMl === null ? null : Math.round((amount * densityMgPerMl) / 1000)
    case "um":
    case "mm2":
    case "each":
      return null
  }
}

/**
 * The amount that weighs so much: the reverse of `weightMg`.
 *
 * @returns whole base units; null where it cannot be told
 */
export function amountWeighing(mg: number, baseUnit: BaseUnit, densityMgPerMl: number | null): number | null {
  switch (baseUnit) {
    case "mg":
      return mg
    case "uL":
      return densityMgPerMl === null ? null : Math.round((mg * 1000) / densityMgPerMl)
    case "um":
    case "mm2":
    case "each":
      return null
  }
}
