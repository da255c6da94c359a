import { mixedForCups, pouredPerCupUl } from "./films.ts"
import type { Measures, PlannedMix, PlanSupply, ResinSystem, ResinUse } from "./plan.ts"
import { Refusal } from "./refusal.ts"

/** How far A to B may be off as measured out. Makers commonly allow 5 %; the pouring itself needs some of it. */
export const RATIO_TOLERANCE_PPM = 20_000

/** How many marks further up either part may go to bring the ratio right. */
const MARKS_TO_TRY = 10

/**
 * The mixes for a number of cups: as few as the pot life and the largest safe mix allow, the cups spread
 * evenly over them.
 *
 * Each part is rounded up, once, to what the maker can measure: marks of a measuring cup for a ratio by
 * volume, steps of the scale for one by mass. Where that puts the ratio off by more than
 * `RATIO_TOLERANCE_PPM`, marks further up are tried and the pair that wastes least is taken.
 *
 * @param areaMm2 coated area of one cup
 * @param cups whole number, at least one
 * @returns parts in each part's own base unit, whole numbers; mixes for more cups first
 * @throws {Refusal} a density is missing, a part is not counted by volume or mass, nothing is poured, or one
 *   cup alone takes more than the largest safe mix
 */
export function planMixes(use: ResinUse, areaMm2: number, cups: number, measures: Measures): PlannedMix[] {
  if (!Number.isInteger(cups) || cups < 1) throw new RangeError(`mixes are for whole cups, not ${cups}`)
  const { system } = use
  const bySize = new Map<number, PlannedMix>()
  const mixFor = (size: number): PlannedMix => {
    const mix = bySize.get(size) ?? measureOut(use, areaMm2, size, measures)
    bySize.set(size, mix)
    return mix
  }
  const byHeat = Math.floor((system.largestMixUl - use.residueUl) / pouredPerCupUl(use, areaMm2))
  let perMix = Math.max(1, Math.min(cupsWithinPotLife(system), byHeat, cups))
  // Rounding up can carry a mix past the largest safe one, so what is judged is what will be poured.
  for (;;) {
    const mixes = spread(cups, perMix).map(mixFor)
    if (mixes.every((mix) => mix.mixedUl <= system.largestMixUl)) return mixes
    if (perMix === 1) {
      throw new Refusal(
        `One cup takes more than the largest safe mix of ${system.name}: a big mix heats up. Plan thinner coats.`,
      )
    }
    perMix -= 1
  }
}

/** Cups that one mix can coat before it thickens, at least one: (pot life − mixing) ÷ minutes a cup. */
export function cupsWithinPotLife(system: ResinSystem): number {
  return Math.max(1, Math.floor((system.potLifeMin - system.mixingMin) / system.cupWorkMin))
}

/** Shares out cups over the fewest mixes of at most `perMix`, sizes differing by one at most, larger first. */
function spread(cups: number, perMix: number): number[] {
  const count = Math.ceil(cups / perMix)
  return Array.from({ length: count }, (_, i) => Math.floor(cups / count) + (i < cups % count ? 1 : 0))
}

/** One mix for `cups`, in amounts the maker can measure. */
function measureOut(use: ResinUse, areaMm2: number, cups: number, measures: Measures): PlannedMix {
  const { system } = use
  const { partA, partB } = system
  const wanted = inTerms(system, mixedForCups(use, areaMm2, cups))
  const step = system.ratioBasis === "volume" ? measures.volumeStepUl : measures.massStepMg
  const [a, b] = onMarks(wanted, step, system.ratioA / system.ratioB)
  return {
    system,
    cups,
    mixedUl: Math.round(inUl(partA, a, system) + inUl(partB, b, system)),
    partA: inBaseUnit(partA, a, system),
    partB: inBaseUnit(partB, b, system),
    residueUl: use.residueUl,
    ratioErrorPpm: Math.round(ratioError(a, b, system.ratioA / system.ratioB) * 1e6),
  }
}

/** Splits a volume into A and B in the ratio's own terms: µL by volume, mg by mass. Not rounded. */
function inTerms(system: ResinSystem, mixedUl: number): readonly [number, number] {
  const { ratioA, ratioB, partA, partB } = system
  switch (system.ratioBasis) {
    case "volume": {
      const part = mixedUl / (ratioA + ratioB)
      return [part * ratioA, part * ratioB]
    }
    case "mass": {
      // ratioA mg of A and ratioB mg of B fill this many µL
      const part = mixedUl / (inUl(partA, ratioA, system) + inUl(partB, ratioB, system))
      return [part * ratioA, part * ratioB]
    }
  }
}

/** The two parts rounded up to marks, and further up where that is needed to keep the ratio. */
function onMarks(wanted: readonly [number, number], step: number, ratio: number): readonly [number, number] {
  const [a, b] = wanted.map((amount) => marksFor(amount, step)) as [number, number]
  let closest: readonly [number, number] = [a, b]
  // least waste first: pairs that together are 0, 1, 2 … marks above the rounded amounts
  for (let more = 0; more <= 2 * MARKS_TO_TRY && !keepsRatio(closest, ratio); more++) {
    for (let moreA = Math.max(0, more - MARKS_TO_TRY); moreA <= Math.min(more, MARKS_TO_TRY); moreA++) {
      const pair = [a + moreA, b + more - moreA] as const
      if (Math.abs(ratioError(...pair, ratio)) < Math.abs(ratioError(...closest, ratio))) closest = pair
    }
  }
  return [closest[0] * step, closest[1] * step]
}

/** Whole marks that hold an amount. A billionth less is a rounding error of the computer, not a mark more. */
function marksFor(amount: number, step: number): number {
  return Math.max(1, Math.ceil((amount / step) * (1 - 1e-9)))
}

function keepsRatio([a, b]: readonly [number, number], ratio: number): boolean {
  return Math.abs(ratioError(a, b, ratio)) * 1e6 <= RATIO_TOLERANCE_PPM
}

/** How far a to b is from the ratio: 0.01 is one part in a hundred too much A. */
function ratioError(a: number, b: number, ratio: number): number {
  return a / b / ratio - 1
}

/** µL of a part, given in the ratio's own terms. */
function inUl(part: PlanSupply, amount: number, system: ResinSystem): number {
  return system.ratioBasis === "volume" ? amount : (amount * 1000) / densityOf(part, system)
}

/** A part in its own base unit, whole, given in the ratio's own terms. */
function inBaseUnit(part: PlanSupply, amount: number, system: ResinSystem): number {
  switch (part.baseUnit) {
    case "uL":
      return Math.round(inUl(part, amount, system))
    case "mg":
      return system.ratioBasis === "mass"
        ? Math.round(amount)
        : Math.round((amount * densityOf(part, system)) / 1000)
    case "um":
    case "mm2":
    case "each":
      throw new Refusal(
        `${part.name} is a part of ${system.name}, so it must be counted by volume or by weight.`,
      )
  }
}

function densityOf(part: PlanSupply, system: ResinSystem): number {
  if (part.densityMgPerMl !== null) return part.densityMgPerMl
  const why =
    system.ratioBasis === "mass"
      ? `${system.name} is mixed by weight`
      : `${system.name} is mixed by volume but ${part.name} is counted by weight`
  throw new Refusal(`${why}, so the density of ${part.name} is needed; its data sheet has it.`)
}
