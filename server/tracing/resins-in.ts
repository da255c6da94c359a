import type { Studio } from "../ledger/studio.ts"
import type { CupTrace } from "./cup.ts"
import { traceLot } from "./lot.ts"

/** A lot of resin or hardener that is on a cup, and how many other cups have it too. */
export interface ResinIn {
  supply: string
  lotId: number
  number: string | null
  otherCups: number
}

/**
 * Which resin is on a cup: each lot of resin and hardener once, in the order they went on. What was stripped off
 * again does not count.
 */
export function resinsIn(studio: Studio, trace: CupTrace): ResinIn[] {
  const lots = new Map<string, ResinIn>()
  for (const coat of trace.layers.flatMap((layer) => layer.coats)) {
    if (coat.strippedAt !== null) continue
    for (const { supply, kind, lots: inside } of coat.uses) {
      if (kind !== "resin" && kind !== "hardener") continue
      for (const { lotId, number } of inside) {
        const key = `${lotId} ${supply}`
        if (!lots.has(key)) lots.set(key, { supply, lotId, number, otherCups: 0 })
      }
    }
  }
  return [...lots.values()].map((one) => ({
    ...one,
    otherCups: traceLot(studio, one.lotId).cups.filter((cup) => cup.serial !== trace.serial).length,
  }))
}
