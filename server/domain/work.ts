import type { Plan } from "./plan.ts"

/** Cups of one plan that go through its layers together. */
export interface Work {
  plan: Plan
  /** how many of them have how many layers; 0 layers: still to be started */
  cups: readonly { layersDone: number; count: number }[]
}

export function cupsOf(work: Work): number {
  return work.cups.reduce((sum, group) => sum + group.count, 0)
}

/** Of the first `cups` cups, those that are furthest counted first: how many still need the layer there. */
export function cupsAt(work: Work, position: number, cups: number): number {
  if (work.cups.length === 1) return work.cups[0]!.layersDone < position ? cups : 0
  let left = cups
  let need = 0
  for (const { layersDone, count } of work.cups.toSorted((a, b) => b.layersDone - a.layersDone)) {
    const here = Math.min(count, left)
    left -= here
    if (layersDone < position) need += here
  }
  return need
}

/** Cup-minutes on turners for the layers that are still to be done. */
export function turningMin({ plan, cups }: Work): number {
  let minutes = 0
  for (const { layersDone, count } of cups) {
    for (const layer of plan.layers) if (layer.position > layersDone) minutes += count * layer.turnerMin
  }
  return minutes
}
