import { pouredPerCupUl } from "./films.ts"
import type {
  BaseUnit,
  Measures,
  Origin,
  PlannedMix,
  PlanSupply,
  ResinSystem,
  ResinUse,
  Working,
} from "./plan.ts"

/** The surface a layer covers of one cup. */
export interface Surface {
  mm2: number
  /** the layer covers a band of its own, not all that the blank allows */
  isBand: boolean
}

export type Input = Working["inputs"][number]

/** A part of a formula, and what stands in it. */
export interface Part {
  formula: string
  inputs: Input[]
}

export function input(name: string, value: number, unit: string, from: Origin): Input {
  return { name, value, unit, from }
}

/** Why so many blanks are taken. */
export function blankWorking(blank: PlanSupply, cups: number): Working {
  return {
    title: titleOf(blank, cups),
    formula: "cups",
    inputs: [input("cups", cups, "cups", "this batch")],
    result: { value: cups, unit: "each" },
  }
}

/**
 * Why so much of part A or B goes into a mix.
 *
 * @param uses the coats that are poured from it: one, or several of the same resin
 */
export function resinPartWorking(
  uses: readonly ResinUse[],
  part: "A" | "B",
  mix: PlannedMix,
  surface: Surface,
  measures: Measures,
  which: { nth: number; of: number },
): Working {
  const { system } = uses[0]!
  const supply = part === "A" ? system.partA : system.partB
  const poured = uses.length === 1 ? pouredPart(uses[0]!, surface) : pouredTogether(uses, surface)
  const split = splitPart(system, part, measures)
  const title = titleOf(supply, mix.cups)
  const nth = which.of === 1 ? "" : `, mix ${which.nth} of ${which.of}`
  return {
    title: `${title}${nth}${inPlaceWords(uses)}`,
    formula: `(cups × ${poured.formula} + stays in the mixing cup) ${split.formula}`,
    inputs: [
      input("cups", mix.cups, "cups", "this batch"),
      ...poured.inputs,
      input("stays in the mixing cup", mix.residueUl, "uL", "design"),
      ...split.inputs,
    ],
    result: { value: part === "A" ? mix.partA : mix.partB, unit: supply.baseUnit },
  }
}

/** ", in place of Clear resin", where it stands in for another. */
function inPlaceWords(uses: readonly ResinUse[]): string {
  const own = [...new Set(uses.flatMap(({ inPlaceOf }) => inPlaceOf?.name ?? []))]
  if (own.length === 0) return ""
  const partly = uses.every(({ inPlaceOf }) => inPlaceOf) ? "" : "partly "
  return `, ${partly}in place of ${own.join(" and ")}`
}

/** What is poured over one cup. */
function pouredPart(use: ResinUse, surface: Surface): Part {
  const share = sharePart(use)
  switch (use.how) {
    case "resin-film": {
      const area = surfaceInput(surface)
      return {
        formula: `${area.name} × film${share.formula} ÷ (1 − drips)`,
        inputs: [
          area,
          input("film", use.amount, "um", "design"),
          ...share.inputs,
          input("drips", use.dripPpm, "ppm", "design"),
        ],
      }
    }
    case "resin-mixed":
      return {
        formula: `(mixed for one cup − stays in the mixing cup)${share.formula}`,
        inputs: [input("mixed for one cup", use.amount, "uL", "design"), ...share.inputs],
      }
    case "resin-applied":
      return {
        formula: `poured over a cup${share.formula}`,
        inputs: [input("poured over a cup", use.amount, "uL", "design"), ...share.inputs],
      }
  }
}

/** Several coats from one mix: each as it is worked out alone, without what stays in the mixing cup. */
function pouredTogether(uses: readonly ResinUse[], { mm2 }: Surface): Part {
  const inputs = uses.map((use, nth) =>
    input(`coat ${nth + 1} over a cup`, pouredPerCupUl(use, mm2), "uL", "worked out"),
  )
  return { formula: `(${inputs.map(({ name }) => name).join(" + ")})`, inputs }
}

/** A's or B's part of the mix, and how it is measured out and written down. */
function splitPart(system: ResinSystem, part: "A" | "B", measures: Measures): Part {
  const supply = part === "A" ? system.partA : system.partB
  const ratio = [
    input("A", system.ratioA, "parts", "resin system"),
    input("B", system.ratioB, "parts", "resin system"),
  ]
  switch (system.ratioBasis) {
    case "volume": {
      const weighed = countedBy("mg", supply)
      return {
        formula: `× ${part} ÷ (A + B), up to the mark that keeps the ratio${weighed ? `, × density of ${part}` : ""}`,
        inputs: [
          ...ratio,
          input("mark", measures.volumeStepUl, "uL", "studio"),
          ...(weighed ? [densityOf(system, part)] : []),
        ],
      }
    }
    case "mass": {
      const poured = countedBy("uL", supply)
      return {
        formula: `× ${part} ÷ (A ÷ density of A + B ÷ density of B), up to the step of the scale that keeps the ratio${poured ? `, ÷ density of ${part}` : ""}`,
        inputs: [
          ...ratio,
          densityOf(system, "A"),
          densityOf(system, "B"),
          input("step of the scale", measures.massStepMg, "mg", "studio"),
        ],
      }
    }
  }
}

function densityOf(system: ResinSystem, part: "A" | "B"): Input {
  const { densityMgPerMl } = part === "A" ? system.partA : system.partB
  return input(`density of ${part}`, densityMgPerMl ?? 0, "mg/mL", "supply")
}

function countedBy(unit: BaseUnit, supply: PlanSupply): boolean {
  return supply.baseUnit === unit
}

/** What a layer covers, as an input. */
export function surfaceInput({ mm2, isBand }: Surface): Input {
  return isBand
    ? input("area of the band", mm2, "mm2", "worked out")
    : input("coated area", mm2, "mm2", "blank")
}

/** A share is worth a word only where it is not the whole. */
export function sharePart({ sharePpm }: { sharePpm: number }): Part {
  if (sharePpm === 1_000_000) return { formula: "", inputs: [] }
  return { formula: " × share", inputs: [input("share", sharePpm, "ppm", "design")] }
}

export function titleOf(supply: PlanSupply, cups: number): string {
  return `${supply.name} for ${cups === 1 ? "1 cup" : `${cups} cups`}`
}
