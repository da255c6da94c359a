import type { BaseUnit, Working } from "./plan.ts"
import { fieldUnit, toUnit, type UnitName, type UnitSystem } from "./units.ts"

/** Below this a length is a film or a mark and not the side of a piece: shown in mm or mil. */
const THIN_UM = 10_000

/** What is counted, when there is one of it. */
const ONE_OF: Readonly<Record<string, string>> = {
  cups: "cup",
  mixes: "mix",
  parts: "part",
  passes: "pass",
  pieces: "piece",
  rows: "row",
  sheets: "sheet",
}

const BASE_UNITS: readonly string[] = ["uL", "mg", "um", "mm2", "each"] satisfies readonly BaseUnit[]

/**
 * A working in the units a person reads: mL, g and % in place of µL, mg and ppm, to five figures. The formula
 * stays as it is.
 */
export function readableWorking(working: Working, system: UnitSystem): Working {
  return {
    ...working,
    inputs: working.inputs.map((input) => ({ ...input, ...readable(input.value, input.unit, system) })),
    result: readable(working.result.value, working.result.unit, system),
  }
}

function readable(value: number, unit: string, system: UnitSystem): { value: number; unit: string } {
  // a rate: "uL/m2" is an amount for each square metre, "mg/L" for each litre
  const [amount = "", per] = unit === "mg/mL" ? [unit] : unit.split("/")
  if (isBaseUnit(amount)) {
    const shown = inUnit(value, amount, system)
    if (per === undefined) return shown
    return { value: shown.value, unit: `${shown.unit || "pieces"} a ${per === "m2" ? "m²" : "litre"}` }
  }
  switch (unit) {
    case "ppm":
      return { value: figures(value / 10_000), unit: "%" }
    case "mg/mL":
      return { value: figures(value / 1000), unit: "g/mL" }
    default:
      return { value: figures(value), unit: value === 1 ? (ONE_OF[unit] ?? unit) : unit }
  }
}

function inUnit(value: number, baseUnit: BaseUnit, system: UnitSystem): { value: number; unit: string } {
  if (baseUnit === "each") return { value, unit: "" }
  const thin: UnitName = system === "us" ? "mil" : "mm"
  const unit = baseUnit === "um" && value < THIN_UM ? thin : fieldUnit(baseUnit, system)
  return { value: figures(toUnit(value, unit)), unit }
}

function figures(value: number): number {
  return Number(value.toPrecision(5))
}

function isBaseUnit(text: string): text is BaseUnit {
  return BASE_UNITS.includes(text)
}
