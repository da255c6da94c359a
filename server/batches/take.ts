import { openPool, type Pick, type Shelved } from "../domain/allocation.ts"
import type { IsoDate } from "../domain/dates.ts"
import { layerNeed } from "../domain/layers.ts"
import type { Layer, LayerNeed, Measures, Plan } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { wantsOf } from "../domain/wants.ts"
import { type OnHand, onHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"

/** One layer to be applied in one go to some cups. */
export interface Pass {
  layer: Layer
  cupIds: readonly number[]
}

/** What the person says about containers: take these first; take these although past their day; these held more. */
export interface Say {
  prefer?: readonly number[]
  insist?: readonly number[]
  heldMore?: readonly { containerId: number; amount: number }[]
}

/** A pass with its need and the containers each draw comes from. Pick i of draw j: `picks` with want j. */
export interface Taken {
  pass: Pass
  need: LayerNeed
  picks: readonly Pick[]
}

export interface Missing {
  supplyId: number
  supply: string
  amount: number
  baseUnit: OnHand["baseUnit"]
  /** the layer at which it first runs out */
  layer: string
}

export type Taking =
  | { kind: "enough"; taken: readonly Taken[]; shelf: readonly OnHand[] }
  | { kind: "short"; taken: readonly Taken[]; shelf: readonly OnHand[]; missing: readonly Missing[] }

/**
 * Works out which containers some layers, one after the other, would be made from. Writes nothing.
 *
 * @param on the day they are made: it decides what is past its day
 */
export function take(
  studio: Studio,
  plan: Plan,
  passes: readonly Pass[],
  on: IsoDate,
  say: Say = {},
  shelf: readonly OnHand[] = onHand(studio.file, settingsOf(studio).timeZone),
): Taking {
  const measures = measuresOf(studio)
  const pool = openPool(
    shelf.map((bottle) => shelvedOf(bottle, say)),
    {
      prefer: say.prefer ?? [],
      insist: new Set(say.insist ?? []),
    },
  )
  const missing = new Map<number, Missing>()
  const taken = passes.map((pass) => {
    const need = layerNeed(plan, pass.layer, pass.cupIds.length, measures)
    const result = pool.takeAll(wantsOf(need, pass.cupIds.length), on)
    for (const lack of result.missing) {
      const known = missing.get(lack.supplyId)
      const supply = supplyIn(plan, lack.supplyId)
      missing.set(lack.supplyId, {
        supplyId: lack.supplyId,
        supply: supply.name,
        baseUnit: supply.baseUnit,
        amount: (known?.amount ?? 0) + lack.amount,
        layer: known?.layer ?? pass.layer.name,
      })
    }
    return { pass, need, picks: result.picks }
  })
  return missing.size === 0
    ? { kind: "enough", taken, shelf }
    : { kind: "short", taken, shelf, missing: [...missing.values()] }
}

/** What this studio can measure. */
export function measuresOf(studio: Studio): Measures {
  const { volumeStepUl, massStepMg } = settingsOf(studio)
  return { volumeStepUl, massStepMg }
}

function shelvedOf(bottle: OnHand, say: Say): Shelved {
  const more = say.heldMore?.find((held) => held.containerId === bottle.containerId)?.amount ?? 0
  return { ...bottle, amountLeft: bottle.amountLeft + more }
}

/** A supply of the plan by its id. */
export function supplyIn(plan: Plan, supplyId: number) {
  if (plan.blank.supply.id === supplyId) return plan.blank.supply
  for (const layer of plan.layers) {
    for (const use of layer.uses) {
      const supplies = "system" in use ? [use.system.partA, use.system.partB] : [use.supply]
      const found = supplies.find((supply) => supply.id === supplyId)
      if (found) return found
    }
  }
  throw new Refusal("That supply is not in this design.", { status: 404 })
}
