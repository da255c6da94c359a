import type { Measured } from "../domain/mix-card.ts"
import { toUnit } from "../domain/units.ts"

/** As the marks of a measuring cup or the scale have it, nothing rounded off: "36.5 mL". */
export function exactly({ amount, baseUnit }: Measured): string {
  const unit = baseUnit === "uL" ? "mL" : "g"
  return `${Number(toUnit(amount, unit).toFixed(3))} ${unit}`
}
