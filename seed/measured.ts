import { batchProgress, coatsOf, measureCoats } from "../server/batches/service.ts"
import type { Actor } from "../server/ledger/act.ts"
import type { Studio } from "../server/ledger/studio.ts"

/** What the demo's bench does otherwise than its plans say: on average, and from one time to the next. */
const BENCH = {
  /** final coats are poured with a heavy hand */
  "final-coat": { mean: 1.09, spread: 0.03 },
  resin: { mean: 1, spread: 0.03 },
  /** the primer covers better than it was planned for */
  "base-coat": { mean: 0.9, spread: 0.05 },
} as const

const MARK_UL = 500
const GRAM = 1_000

/**
 * What was measured of a finished batch: the final and seal coats' mixes poured, the primer's can weighed. The same
 * each time, since chance comes from the batch's number.
 */
export function measureBatch(studio: Studio, by: (what: string) => Actor, batchId: number, n: number): void {
  const chance = chanceFrom(n)
  const { plan } = batchProgress(studio, batchId)
  for (const { position, kind } of plan.layers) {
    if (kind !== "final-coat" && kind !== "resin" && kind !== "base-coat") continue
    const { mean, spread } = BENCH[kind]
    const coats = coatsOf(studio, batchId, position)
    const poured = coats.flatMap(({ coatId, mix }) => {
      if (mix?.system.ratioBasis !== "volume") return []
      const ratio = mean + spread * chance()
      // what stays in the mixing cup is poured as well, but does not grow with the coat
      const part = (planned: number) => {
        const stays = mix.residueUl / 2
        return Math.round(((planned - stays) * ratio + stays) / MARK_UL) * MARK_UL
      }
      return [{ coatId, parts: { a: part(mix.plannedA), b: part(mix.plannedB) }, leftUl: null }]
    })
    const weighed = coats.flatMap(({ coatId, planned, uses }) =>
      [...planned].flatMap(([supplyId, amount]) => {
        if (kind !== "base-coat" || uses.every((use) => use.supplyId !== supplyId)) return []
        const grams = Math.round((amount * (mean + spread * chance())) / GRAM)
        return [{ coatId, supplyId, amount: grams * GRAM, basis: "weighed" as const }]
      }),
    )
    if (poured.length + weighed.length === 0) continue
    measureCoats(studio, by(`${n}-${position}`), {
      batchId,
      position,
      poured,
      weighed,
      asPoured: false,
      heldMore: true,
    })
  }
}

/** Numbers around 0 that scatter about as a bell does: the sum of twelve even ones, less six. */
function chanceFrom(seed: number): () => number {
  let state = (seed * 2_654_435_761 + 12_345) >>> 0
  const even = () => {
    // numerical recipes' generator: quick, and good enough to look at
    state = (state * 1_664_525 + 1_013_904_223) >>> 0
    return state / 2 ** 32
  }
  return () => Array.from({ length: 12 }, even).reduce((sum, one) => sum + one, -6)
}
