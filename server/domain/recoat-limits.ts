/** When the next coat may and must go on by a design or a data sheet, in minutes after a layer is on. */
export interface RecoatLimits {
  recoatEarliestMin: number
  /** null: no later limit is known */
  recoatLatestMin: number | null
}

/**
 * What several limits leave together: the latest of the earliest times, the earliest of the latest ones that are
 * known. The latest may then lie before the earliest: the layer is scuffed before the next coat, whenever that comes.
 */
export function tightest(limits: readonly RecoatLimits[]): RecoatLimits {
  const latest = limits.map((limit) => limit.recoatLatestMin).filter((minutes) => minutes !== null)
  return {
    recoatEarliestMin: Math.max(...limits.map((limit) => limit.recoatEarliestMin)),
    recoatLatestMin: latest.length === 0 ? null : Math.min(...latest),
  }
}
