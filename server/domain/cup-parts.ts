import { apportion } from "./apportion.ts"
import type { LayerNeed, PlannedMix } from "./plan.ts"

/**
 * What each cup has of a layer's draws: those of a mix shared evenly by the cups it serves, the others by all.
 * Parts are whole base units and add up to exactly what is drawn (largest remainder, see `apportion`).
 *
 * @param need what the layer takes for `cups` cups
 * @returns by supply id, one part for each cup, in the cups' order
 */
export function cupParts(need: LayerNeed, cups: number): Map<number, number[]> {
  const served = servedByMixes(need.mixes, cups)
  const all = Array.from({ length: cups }, (_, cup) => cup)
  const parts = new Map<number, number[]>()
  for (const { supplyId, amount, mix } of need.draws) {
    const takers = mix === null ? all : served[mix]!
    const own = parts.get(supplyId) ?? all.map(() => 0)
    for (const [nth, part] of apportion(
      amount,
      takers.map(() => 1),
    ).entries()) {
      own[takers[nth]!]! += part
    }
    parts.set(supplyId, own)
  }
  return parts
}

/** Which cups each mix of a layer serves: a use's mixes go through the cups once, then comes the next use's. */
export function servedByMixes(mixes: readonly PlannedMix[], cups: number): number[][] {
  let next = 0
  return mixes.map((mix) => {
    const served = Array.from({ length: mix.cups }, (_, nth) => next + nth)
    next = (next + mix.cups) % cups
    return served
  })
}
