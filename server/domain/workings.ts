import type {
  BaseUnit,
  Measures,
  Origin,
  PlannedMix,
  PlanSupply,
  ResinSystem,
  ResinUse,
  SupplyUse,
  Working,
} from "./plan.ts"

type Input = Working["inputs"][number]

interface Part {
  formula: string
  inputs: Input[]
}

function input(name: string, value: number, unit: string, from: Origin): Input {
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
 * Why so much of a supply is taken, for all cups or for one mix.
 *
 * @param for_.mixedUl resin in the mix it goes into, where the amount hangs on it
 */
export function supplyWorking(
  use: SupplyUse,
  amount: number,
  for_: { cups: number; areaMm2: number; mixedUl: number },
): Working {
  const { formula, inputs } = supplyPart(use, for_)
  const unit = use.supply.baseUnit
  const roundsUp = unit === "each" && inputs.length > 1
  return {
    title: titleOf(use.supply, for_.cups),
    formula: roundsUp ? `${formula}, rounded up to whole pieces` : formula,
    inputs,
    result: { value: amount, unit },
  }
}

function supplyPart(use: SupplyUse, for_: { cups: number; areaMm2: number; mixedUl: number }): Part {
  const unit = use.supply.baseUnit
  const share = sharePart(use)
  switch (use.how) {
    case "per-cup":
      return {
        formula: `cups × amount a cup${share.formula}`,
        inputs: [
          input("cups", for_.cups, "cups", "this batch"),
          input("amount a cup", use.amount, unit, "design"),
          ...share.inputs,
        ],
      }
    case "per-area":
      return {
        formula: `cups × coated area × amount a square metre${share.formula}`,
        inputs: [
          input("cups", for_.cups, "cups", "this batch"),
          input("coated area", for_.areaMm2, "mm2", "blank"),
          input("amount a square metre", use.amount, `${unit}/m2`, "design"),
          ...share.inputs,
        ],
      }
    case "piece":
      return {
        formula: "cups × width × height",
        inputs: [
          input("cups", for_.cups, "cups", "this batch"),
          input("width", use.widthUm ?? 0, "um", "design"),
          input("height", use.heightUm ?? 0, "um", "design"),
        ],
      }
    case "per-resin":
      return {
        formula: "resin in the mix × amount a litre",
        inputs: [
          input("resin in the mix", for_.mixedUl, "uL", "worked out"),
          input("amount a litre", use.amount, `${unit}/L`, "design"),
        ],
      }
    case "per-mix":
      return { formula: "amount a mix", inputs: [input("amount a mix", use.amount, unit, "design")] }
    case "per-batch":
      return { formula: "amount a batch", inputs: [input("amount a batch", use.amount, unit, "design")] }
  }
}

/** Why so much of part A or B goes into a mix. */
export function resinPartWorking(
  use: ResinUse,
  part: "A" | "B",
  mix: PlannedMix,
  areaMm2: number,
  measures: Measures,
  which: { nth: number; of: number },
): Working {
  const { system } = use
  const supply = part === "A" ? system.partA : system.partB
  const poured = pouredPart(use, areaMm2)
  const split = splitPart(system, part, measures)
  const title = titleOf(supply, mix.cups)
  return {
    title: which.of === 1 ? title : `${title}, mix ${which.nth} of ${which.of}`,
    formula: `(cups × ${poured.formula} + stays in the mixing cup) ${split.formula}`,
    inputs: [
      input("cups", mix.cups, "cups", "this batch"),
      ...poured.inputs,
      input("stays in the mixing cup", use.residueUl, "uL", "design"),
      ...split.inputs,
    ],
    result: { value: part === "A" ? mix.partA : mix.partB, unit: supply.baseUnit },
  }
}

/** What is poured over one cup. */
function pouredPart(use: ResinUse, areaMm2: number): Part {
  const share = sharePart(use)
  switch (use.how) {
    case "resin-film":
      return {
        formula: `coated area × film${share.formula} ÷ (1 − drips)`,
        inputs: [
          input("coated area", areaMm2, "mm2", "blank"),
          input("film", use.amount, "um", "design"),
          ...share.inputs,
          input("drips", use.dripPpm, "ppm", "design"),
        ],
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

/** A share is worth a word only where it is not the whole. */
function sharePart({ sharePpm }: ResinUse | SupplyUse): Part {
  if (sharePpm === 1_000_000) return { formula: "", inputs: [] }
  return { formula: " × share", inputs: [input("share", sharePpm, "ppm", "design")] }
}

function titleOf(supply: PlanSupply, cups: number): string {
  return `${supply.name} for ${cups === 1 ? "1 cup" : `${cups} cups`}`
}
