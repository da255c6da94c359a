import type { PlanSupply, ResinSystem } from "./plan.ts"
import { RATIO_LIMIT_PPM, RATIO_TOLERANCE_PPM, ratioErrorPpm } from "./ratio.ts"
import { Refusal } from "./refusal.ts"
import { byRatioBasis, inBaseUnit, ratioOf } from "./resin-parts.ts"

/** What is to be thought of A and B as they were poured. */
export interface PourVerdict {
  /** above zero: too much A */
  ratioErrorPpm: number
  /** `good`: within 2 %. `off`: within the 5 % makers commonly allow. `refuse`: beyond, it may never harden */
  verdict: "good" | "off" | "refuse"
  sentence: string
  /** what would bring it right while it can still be stirred, in the part's base unit; null when it is good */
  mend: { part: "A" | "B"; supply: PlanSupply; amount: number } | null
}

/**
 * Judges a mix by what was really poured.
 *
 * @param actualA in part A's base unit, as it was measured
 * @param actualB in part B's base unit
 * @throws {Refusal} one part is missing, or a density that is needed; see `byRatioBasis`, `ratioOf`
 */
export function judgePour(system: ResinSystem, actualA: number, actualB: number): PourVerdict {
  const { name, partA, partB, ratioA, ratioB } = system
  if (!(actualA > 0 && actualB > 0)) {
    throw new Refusal(`Say how much of ${partA.name} and of ${partB.name} was poured: ${name} needs both.`)
  }
  const ratio = ratioOf(system)
  const a = byRatioBasis(partA, actualA, system)
  const b = byRatioBasis(partB, actualB, system)
  const error = ratioErrorPpm(a, b, ratio)
  const verdict = verdictOn(error)
  if (verdict === "good") {
    return { ratioErrorPpm: error, verdict, sentence: `${name} is in its ratio, to within 2 %.`, mend: null }
  }
  const mend =
    error > 0
      ? { part: "B" as const, supply: partB, amount: inBaseUnit(partB, a / ratio - b, system) }
      : { part: "A" as const, supply: partA, amount: inBaseUnit(partA, b * ratio - a, system) }
  const tooMuch = error > 0 ? partA.name : partB.name
  const excess = (((error > 0 ? a / b / ratio : (b / a) * ratio) - 1) * 100).toFixed(1)
  const outcome =
    verdict === "off"
      ? "Makers commonly allow 5 %, so it should harden, but watch these cups."
      : `It may stay soft or sticky: add ${mend.supply.name} until it is ${ratioA} : ${ratioB} and stir again while it flows, or throw it away.`
  return {
    ratioErrorPpm: error,
    verdict,
    sentence: `${excess} % too much ${tooMuch}. ${outcome}`,
    mend,
  }
}

function verdictOn(errorPpm: number): PourVerdict["verdict"] {
  const off = Math.abs(errorPpm)
  if (off <= RATIO_TOLERANCE_PPM) return "good"
  return off <= RATIO_LIMIT_PPM ? "off" : "refuse"
}
