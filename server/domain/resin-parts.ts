import type { PlanSupply, Portions, ResinSystem } from "./plan.ts"
import { Refusal } from "./refusal.ts"

/** No resin or hardener is lighter or heavier, g/mL: such a figure was typed in another unit. */
const LIGHTEST_MG_PER_ML = 500
const HEAVIEST_MG_PER_ML = 3_000

/**
 * A ÷ B as the maker states it.
 *
 * @throws {Refusal} a part is missing from the ratio
 */
export function ratioOf({ name, ratioA, ratioB }: ResinSystem): number {
  if (ratioA > 0 && ratioB > 0) return ratioA / ratioB
  throw new Refusal(
    `${name} is mixed ${ratioA} : ${ratioB}, which leaves one part out: take both parts from its label.`,
  )
}

/**
 * Splits a volume into A and B by the maker's basis.
 *
 * @param mixedUl A and B together, µL
 * @returns not rounded
 * @throws {Refusal} a ratio by mass needs both densities; see `ratioOf`
 */
export function portionsOf(system: ResinSystem, mixedUl: number): Portions {
  const { ratioA, ratioB, ratioBasis: basis, partA, partB } = system
  ratioOf(system)
  // this many µL are ratioA of A and ratioB of B
  const fill = toUl(partA, ratioA, system) + toUl(partB, ratioB, system)
  return { basis, a: (mixedUl / fill) * ratioA, b: (mixedUl / fill) * ratioB }
}

/**
 * What a mix weighs, its parts taken to keep their volumes.
 *
 * @returns mg/mL
 */
export function mixedDensity(
  { ratioBasis, ratioA, ratioB }: Pick<ResinSystem, "ratioBasis" | "ratioA" | "ratioB">,
  densityA: number,
  densityB: number,
): number {
  switch (ratioBasis) {
    case "volume":
      return (ratioA * densityA + ratioB * densityB) / (ratioA + ratioB)
    case "mass":
      return (ratioA + ratioB) / (ratioA / densityA + ratioB / densityB)
  }
}

/**
 * A mix's volume, taken as A's and B's together.
 *
 * @param portions by the maker's basis
 * @returns µL, not rounded
 */
export function volumeUl(system: ResinSystem, { a, b }: Portions): number {
  return toUl(system.partA, a, system) + toUl(system.partB, b, system)
}

/**
 * How much resin can be mixed from some A and some B, by the maker's ratio.
 *
 * @param amountA in part A's base unit; `amountB` in part B's
 * @returns whole µL, rounded down
 * @throws {Refusal} a density is missing; see `ratioOf`
 */
export function mixedFrom(system: ResinSystem, amountA: number, amountB: number): number {
  const ratio = ratioOf(system)
  const a = byRatioBasis(system.partA, amountA, system)
  const b = byRatioBasis(system.partB, amountB, system)
  // a billionth is the computer's error
  const mixed = volumeUl(
    system,
    a > b * ratio
      ? { basis: system.ratioBasis, a: b * ratio, b }
      : { basis: system.ratioBasis, a, b: a / ratio },
  )
  return Math.floor(mixed * (1 + 1e-9))
}

/**
 * How much mixed resin goes with 1 of a part.
 *
 * @returns µL a base unit of the part, not rounded
 * @throws {Refusal} a density is missing; see `ratioOf`
 */
export function mixedPerPart(system: ResinSystem, part: "A" | "B"): number {
  const ratio = ratioOf(system)
  const one = byRatioBasis(part === "A" ? system.partA : system.partB, 1, system)
  const [a, b] = part === "A" ? [one, one / ratio] : [one * ratio, one]
  return volumeUl(system, { basis: system.ratioBasis, a, b })
}

/**
 * The same A and B the other way: by mass if the maker goes by volume, and the reverse. 1:1 by volume is not 1:1
 * by mass: mass = volume × density.
 *
 * @param portions by the maker's basis
 * @returns whole µL or mg; null when a density is not known
 * @throws {Refusal} a density no resin has
 */
export function otherWay(system: ResinSystem, { basis, a, b }: Portions): Portions | null {
  const { partA, partB } = system
  if (partA.densityMgPerMl === null || partB.densityMgPerMl === null) return null
  const [densityA, densityB] = [densityOf(partA, system), densityOf(partB, system)]
  switch (basis) {
    case "volume":
      return { basis: "mass", a: Math.round((a * densityA) / 1000), b: Math.round((b * densityB) / 1000) }
    case "mass":
      return { basis: "volume", a: Math.round((a * 1000) / densityA), b: Math.round((b * 1000) / densityB) }
  }
}

/**
 * A part in its own base unit.
 *
 * @param amount by the maker's basis, µL or mg
 * @returns whole µL or mg
 * @throws {Refusal} a density is missing, or the part is counted neither by volume nor by weight
 */
export function inBaseUnit(part: PlanSupply, amount: number, system: ResinSystem): number {
  const by = basisOf(part, system)
  if (by === system.ratioBasis) return Math.round(amount)
  const density = densityOf(part, system)
  return Math.round(by === "mass" ? (amount * density) / 1000 : (amount * 1000) / density)
}

/**
 * The reverse of `inBaseUnit`: a part by the maker's basis.
 *
 * @param amount in the part's base unit
 * @returns µL or mg, not rounded
 */
export function byRatioBasis(part: PlanSupply, amount: number, system: ResinSystem): number {
  const by = basisOf(part, system)
  if (by === system.ratioBasis) return amount
  const density = densityOf(part, system)
  return by === "mass" ? (amount * 1000) / density : (amount * density) / 1000
}

function basisOf(part: PlanSupply, { name }: ResinSystem): Portions["basis"] {
  switch (part.baseUnit) {
    case "uL":
      return "volume"
    case "mg":
      return "mass"
    case "um":
    case "mm2":
    case "each":
      throw new Refusal(`${part.name} is a part of ${name}, so it must be counted by volume or by weight.`)
  }
}

/** µL of a part, given by the maker's basis. */
function toUl(part: PlanSupply, amount: number, system: ResinSystem): number {
  return system.ratioBasis === "volume" ? amount : (amount * 1000) / densityOf(part, system)
}

function densityOf(part: PlanSupply, system: ResinSystem): number {
  const { densityMgPerMl } = part
  if (densityMgPerMl === null) {
    const why =
      system.ratioBasis === "mass"
        ? `${system.name} is mixed by weight`
        : `${system.name} is mixed by volume but ${part.name} is counted by weight`
    throw new Refusal(`${why}, so the density of ${part.name} is needed; its data sheet has it.`)
  }
  if (densityMgPerMl < LIGHTEST_MG_PER_ML || densityMgPerMl > HEAVIEST_MG_PER_ML) {
    throw new Refusal(
      `${part.name} has a density of ${densityMgPerMl / 1000} g/mL, which no resin has: most have 0.9 to 1.3.`,
    )
  }
  return densityMgPerMl
}
