import { inOrder } from "./layers.ts"
import type { Plan } from "./plan.ts"

/** How long a plan takes, in minutes. */
export interface PlanTimes {
  /** a person's own work */
  handsOnMin: number
  /** a place on a turner */
  turnerMin: number
  /** from the start of the first layer until the cup may be used */
  totalMin: number
  /** for each layer, first to last: from its start until the cup may be used */
  untilReady: readonly { layerId: number; position: number; minutes: number }[]
}

/**
 * Times of a plan when nobody waits longer than needed. After its hands-on work a layer holds the next one up
 * while it turns, or until the next coat may go on, whichever is longer; after the last layer the cup turns
 * and cures in full.
 */
export function planTimes(plan: Plan): PlanTimes {
  const layers = inOrder(plan.layers)
  const spans = layers.map((layer, i) => {
    const isLast = i === layers.length - 1
    return layer.handsOnMin + Math.max(layer.turnerMin, isLast ? plan.fullCureMin : layer.recoatEarliestMin)
  })
  const sum = (minutes: readonly number[]) => minutes.reduce((a, b) => a + b, 0)
  return {
    handsOnMin: sum(layers.map((layer) => layer.handsOnMin)),
    turnerMin: sum(layers.map((layer) => layer.turnerMin)),
    totalMin: sum(spans),
    untilReady: layers.map(({ id, position }, i) => ({
      layerId: id,
      position,
      minutes: sum(spans.slice(i)),
    })),
  }
}
