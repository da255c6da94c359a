import { type LeftOver, partLeftOver } from "../domain/part-left-over.ts"
import type { ResinSystem } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { isUsableOn } from "../domain/shelf-life.ts"
import { formatAmount } from "../domain/units.ts"
import { onHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { resinSystems } from "../supplies/service.ts"

/** A sentence for each resin system a supply is a part of: how much of A has no B, or the reverse. */
export function pairWords(studio: Studio, supplyId: number): string[] {
  const systems = resinSystems(studio).filter((one) => one.partA.id === supplyId || one.partB.id === supplyId)
  if (systems.length === 0) return []
  const usable = usableOf(studio, systems)
  return systems.map((system) => {
    const [a, b] = [usable.get(system.partA.id) ?? 0, usable.get(system.partB.id) ?? 0]
    try {
      return words(studio, system, partLeftOver(system, a, b))
    } catch (error) {
      // a density is missing: the sentence says which
      if (error instanceof Refusal) return error.message
      throw error
    }
  })
}

function words(studio: Studio, system: ResinSystem, left: LeftOver | null): string {
  if (left === null) return `${system.name}: all of A has its B.`
  const [much, short] = left.part === "A" ? [system.partA, system.partB] : [system.partB, system.partA]
  const amount = formatAmount(left.amount, much.baseUnit, settingsOf(studio).units)
  return `${system.name}: ${amount} of ${much.name} have no ${short.name} to go with.`
}

/** What is neither held nor past its day. */
function usableOf(studio: Studio, systems: readonly ResinSystem[]): Map<number, number> {
  const today = todayOf(studio)
  const usable = new Map<number, number>()
  const parts = systems.flatMap((system) => [system.partA.id, system.partB.id])
  for (const one of onHand(studio.file, settingsOf(studio).timeZone, parts)) {
    if (one.held || !isUsableOn(one.useBy, today)) continue
    usable.set(one.supplyId, (usable.get(one.supplyId) ?? 0) + one.amountLeft)
  }
  return usable
}
