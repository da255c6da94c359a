import { pouredPerCupUl } from "./films.ts"
import { planMixes } from "./mixes.ts"
import type { Measures, PlannedMix, ResinUse } from "./plan.ts"
import { Refusal, refusalOr } from "./refusal.ts"

/** What is poured from the same mixes: one coat of resin, or several of the same resin in one layer. */
export interface Pour {
  /** where the first of them stands among the layer's resin uses */
  at: number
  uses: readonly ResinUse[]
  /** they share out all the cups */
  mixes: readonly PlannedMix[]
}

/**
 * The mixes of a layer. Each of its coats of resin has its own, unless they would be too small to be measured
 * well: then all coats of that resin in the layer are mixed as one, where pot life and the largest safe mix allow
 * and where it helps.
 *
 * @param uses the layer's resin uses, in order
 * @param areaMm2 the surface the layer covers of one cup
 * @returns in the order of their first uses
 * @throws {Refusal} see `planMixes`
 */
export function mixesOfLayer(
  uses: readonly ResinUse[],
  areaMm2: number,
  cups: number,
  measures: Measures,
): Pour[] {
  const pours = bySystem(uses).flatMap((places) => {
    const same = places.map((at) => uses[at]!)
    const apart = places.map((at): Pour => {
      return { at, uses: [uses[at]!], mixes: planMixes(uses[at]!, areaMm2, cups, measures) }
    })
    if (same.length === 1 || flagged(apart) === 0) return apart
    const together = refusalOr((): Pour[] => [
      { at: places[0]!, uses: same, mixes: planMixes(asOne(same, areaMm2), areaMm2, cups, measures) },
    ])
    return together instanceof Refusal || flagged(together) >= flagged(apart) ? apart : together
  })
  return pours.toSorted((a, b) => a.at - b.at)
}

/** Several coats of one resin as if they were one: poured amounts and minutes add up, one mixing cup is left dirty. */
function asOne(uses: readonly ResinUse[], areaMm2: number): ResinUse {
  const { system } = uses[0]!
  const poured = uses.map((use) => pouredPerCupUl(use, areaMm2))
  const sum = poured.reduce((a, b) => a + b, 0)
  return {
    how: "resin-applied",
    system: { ...system, cupWorkMin: system.cupWorkMin * uses.length },
    amount: sum,
    sharePpm: 1_000_000,
    dripPpm: Math.round(poured.reduce((drips, ul, nth) => drips + ul * uses[nth]!.dripPpm, 0) / sum),
    residueUl: Math.max(...uses.map((use) => use.residueUl)),
  }
}

/** The places of each resin's uses. */
function bySystem(uses: readonly ResinUse[]): number[][] {
  const groups = new Map<number, number[]>()
  for (const [at, use] of uses.entries()) {
    groups.set(use.system.id, [...(groups.get(use.system.id) ?? []), at])
  }
  return [...groups.values()]
}

function flagged(pours: readonly Pour[]): number {
  return pours.flatMap(({ mixes }) => mixes).filter((mix) => mix.flag !== null).length
}
