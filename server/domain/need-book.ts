import type { Want } from "./allocation.ts"
import { type Go, inOrder, layerNeed } from "./layers.ts"
import type { Layer, Measures, Plan } from "./plan.ts"
import { wantsOf } from "./wants.ts"

/** What one layer takes for a number of cups, as the allocator is asked for it. */
export interface StepNeed {
  wants: readonly Want[]
  /** by supply */
  totals: ReadonlyMap<number, number>
}

/** For so many numbers of cups a layer's needs are remembered, before all are forgotten and remembered anew. */
const MOST_KEPT = 200

/**
 * Remembers what layers need as long as their plans are in use, since many order lines ask for the same number of the
 * same design.
 */
export class NeedBook {
  readonly #measures: Measures
  readonly #plans = new WeakMap<Plan, Map<number, Known>>()

  constructor(measures: Measures) {
    this.#measures = measures
  }

  /**
   * @param position of the layer in the plan
   * @param go whether the batch has had it before, see `layerNeed`
   * @returns null when it takes nothing
   * @throws {Refusal} see `layerNeed`
   */
  need(plan: Plan, position: number, cups: number, go: Go): StepNeed | null {
    if (cups === 0) return null
    const { layer, first, again } = this.#of(plan).get(position)!
    const needs = go.again ? again : first
    let need = needs.get(cups)
    if (need === undefined) {
      const wants = wantsOf(layerNeed(plan, layer, cups, this.#measures, go), cups)
      need = wants.length === 0 ? null : { wants, totals: totalsOf(wants) }
      if (needs.size >= MOST_KEPT) needs.clear()
      needs.set(cups, need)
    }
    return need
  }

  #of(plan: Plan): Map<number, Known> {
    let known = this.#plans.get(plan)
    if (!known) {
      const layers = inOrder(plan.layers)
      known = new Map(layers.map((layer) => [layer.position, { layer, first: new Map(), again: new Map() }]))
      this.#plans.set(plan, known)
    }
    return known
  }
}

/** What a layer needs by number of cups: the first time in a batch, and again. */
interface Known {
  layer: Layer
  first: Map<number, StepNeed | null>
  again: Map<number, StepNeed | null>
}

function totalsOf(wants: readonly Want[]): Map<number, number> {
  const totals = new Map<number, number>()
  for (const { supplyId, amount } of wants) totals.set(supplyId, (totals.get(supplyId) ?? 0) + amount)
  return totals
}
