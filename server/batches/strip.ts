import { Refusal } from "../domain/refusal.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { addStrip, changeCup } from "../ledger/cups.ts"
import type { Studio } from "../ledger/studio.ts"
import { batchProgress, type CupProgress } from "./progress.ts"

/** A cup in these states can be taken back and coated again. */
const TAKEN_BACK = ["in work", "good", "second", "returned"] as const

/** Whether a cup can be stripped and coated again. */
export function canBeStripped(cup: CupProgress): boolean {
  return cup.layersDone > 0 && TAKEN_BACK.some((state) => state === cup.state)
}

/**
 * Strips cups: their layers from `fromPosition` on come off, and are to be put on again on the same serial. What
 * they took stays taken. A finished cup is in work again.
 *
 * @throws {Refusal} a cup that does not have that layer, or cannot be taken back
 */
export function stripCups(
  studio: Studio,
  by: Actor,
  input: { batchId: number; cupIds: readonly number[]; fromPosition: number },
): Done<{ cups: number }> {
  return act(studio, "strip", by, input, (now) => {
    const batch = batchProgress(studio, input.batchId)
    const layer = batch.plan.layers.find((one) => one.position === input.fromPosition)
    if (!layer) throw new Refusal("This design has no such layer.", { field: "fromPosition" })
    const cups = batch.cups.filter((cup) => input.cupIds.includes(cup.id))
    if (cups.length === 0 || cups.length !== new Set(input.cupIds).size) {
      throw new Refusal("Choose the cups to strip first.", { field: "cupIds" })
    }
    for (const cup of cups) {
      if (!canBeStripped(cup)) {
        throw new Refusal(
          cup.layersDone === 0
            ? `Cup ${cup.serial} has no layer to strip.`
            : `Cup ${cup.serial} is ${cup.state}: it is not taken back.`,
          { field: "cupIds", status: 409 },
        )
      }
      if (cup.layersDone < layer.position) {
        throw new Refusal(`Cup ${cup.serial} does not have ${layer.name} on it.`, {
          field: "fromPosition",
          status: 409,
        })
      }
      addStrip(now, cup.id, layer.position)
      if (cup.state !== "in work") changeCup(now, cup.id, { state: "in work" })
    }
    const serials = cups.map((cup) => cup.serial).join(", ")
    return {
      summary: `Stripped ${serials} from ${layer.name} on, to be coated again`,
      answer: { cups: cups.length },
    }
  })
}
