import { mixedForCups, pouredPerCupUl } from "./films.ts"
import type { Measures, MixFlag, PlannedMix, Portions, ResinUse } from "./plan.ts"
import { cupsWithinPotLife, potLifeOfMixMin } from "./pot-life.ts"
import { leastOnMarks, RATIO_LIMIT_PPM, RATIO_TOLERANCE_PPM, ratioErrorPpm } from "./ratio.ts"
import { Refusal } from "./refusal.ts"
import { inBaseUnit, otherWay, portionsOf, ratioOf, volumeUl } from "./resin-parts.ts"

/** Under this many marks, half a mark's slip is more than the 5 % that a mix may be off. */
const FEWEST_MARKS = 10

/**
 * The mixes for a number of cups: as few as the pot life and the largest safe mix allow, the cups spread
 * evenly over them, so that none is smaller than it must be.
 *
 * A and B are the least that land on the maker's marks, hold what the cups need and keep the ratio within
 * `RATIO_TOLERANCE_PPM`. Where that would take more than the largest safe mix even for one cup, they keep it
 * within `RATIO_LIMIT_PPM` and the mix is flagged. Amounts never fall when a mix serves more cups, more film or
 * more area.
 *
 * @param areaMm2 coated area of one cup
 * @param cups whole number, at least one
 * @returns mixes for more cups first
 * @throws {Refusal} a density is missing, a part is not counted by volume or mass, nothing is poured, the pot life
 *   is shorter than one cup's work, one cup alone takes more than the largest safe mix, or the measures are too
 *   coarse to keep the ratio within it
 */
export function planMixes(use: ResinUse, areaMm2: number, cups: number, measures: Measures): PlannedMix[] {
  if (!Number.isInteger(cups) || cups < 1) throw new RangeError(`mixes are for whole cups, not ${cups}`)
  const { system } = use
  const least = mixedForCups(use, areaMm2, 1)
  if (least > system.largestMixUl) {
    throw new Refusal(
      `One cup takes more than the largest safe mix of ${system.name}: a big mix heats up. Plan thinner coats.`,
    )
  }
  // the mix for one cup lasts longest, so no mix serves more cups than it would in time
  const inTime = cupsWithinPotLife(system, least, measures.roomCelsius)
  const byHeat = Math.floor((system.largestMixUl - use.residueUl) / pouredPerCupUl(use, areaMm2))
  for (const tolerancePpm of [RATIO_TOLERANCE_PPM, RATIO_LIMIT_PPM]) {
    const mixFor = remembered((size) => measureOut(use, areaMm2, size, measures, tolerancePpm))
    for (let perMix = Math.min(inTime, byHeat, cups); perMix >= 1; perMix--) {
      const mixes = spread(cups, perMix).map(mixFor)
      if (mixes.every(canBePoured)) return mixes
    }
  }
  throw new Refusal(
    `These measures are too coarse to keep ${system.name} at ${system.ratioA} : ${system.ratioB} in a mix small enough to be safe: use a finer ${system.ratioBasis === "volume" ? "measuring cup or syringe" : "scale"}.`,
  )
}

/** What to tell the person who is about to measure a mix out; null when there is nothing to say. */
export function sayFlag({ flag, ratioErrorPpm: ppm, system }: PlannedMix): string | null {
  switch (flag) {
    case null:
      return null
    case "ratio":
      return `${(Math.abs(ppm) / 10_000).toFixed(1)} % too much ${ppm > 0 ? system.partA.name : system.partB.name}: as near as these measures come. A finer measure would keep the ratio.`
    case "small":
      return `So little ${system.name} is hard to measure well: mix for more cups at once, or use a finer ${system.ratioBasis === "volume" ? "measure" : "scale"}.`
  }
}

/** In the largest safe mix and in time. */
function canBePoured(mix: PlannedMix): boolean {
  const { system, mixedUl, potLifeMin, workMin } = mix
  return mixedUl <= system.largestMixUl && system.mixingMin + workMin <= potLifeMin
}

/** Shares out cups over the fewest mixes of at most `perMix`, sizes differing by one at most, larger first. */
function spread(cups: number, perMix: number): number[] {
  const count = Math.ceil(cups / perMix)
  return Array.from({ length: count }, (_, i) => Math.floor(cups / count) + (i < cups % count ? 1 : 0))
}

/** One mix for `cups`, in amounts the maker can measure. */
function measureOut(
  use: ResinUse,
  areaMm2: number,
  cups: number,
  measures: Measures,
  tolerancePpm: number,
): PlannedMix {
  const { system } = use
  const ratio = ratioOf(system)
  const wanted = portionsOf(system, mixedForCups(use, areaMm2, cups))
  const step = wanted.basis === "volume" ? measures.volumeStepUl : measures.massStepMg
  const [a, b] = leastOnMarks([wanted.a, wanted.b], step, ratio, tolerancePpm)
  const measured: Portions = { basis: wanted.basis, a, b }
  const mixedUl = Math.round(volumeUl(system, measured))
  const errorPpm = ratioErrorPpm(a, b, ratio)
  return {
    system,
    cups,
    mixedUl,
    partA: inBaseUnit(system.partA, a, system),
    partB: inBaseUnit(system.partB, b, system),
    measured,
    also: otherWay(system, measured),
    residueUl: use.residueUl,
    ratioErrorPpm: errorPpm,
    flag: flagOf(errorPpm, Math.min(a, b) / step),
    potLifeMin: potLifeOfMixMin(system, mixedUl, measures.roomCelsius),
    workMin: cups * system.cupWorkMin,
  }
}

function flagOf(errorPpm: number, fewestMarks: number): MixFlag | null {
  if (Math.abs(errorPpm) > RATIO_TOLERANCE_PPM) return "ratio"
  return fewestMarks < FEWEST_MARKS ? "small" : null
}

function remembered(work: (size: number) => PlannedMix): (size: number) => PlannedMix {
  const known = new Map<number, PlannedMix>()
  return (size) => {
    const mix = known.get(size) ?? work(size)
    known.set(size, mix)
    return mix
  }
}
