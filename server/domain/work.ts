import type { Plan } from "./plan.ts"

/** Cups of one plan that go through its layers together. */
export interface Work {
  plan: Plan
  /** how many of them have how many layers; 0 layers: still to be started */
  cups: readonly { layersDone: number; count: number }[]
  /** the highest layer that any cup of the batch has had, finished and scrapped ones too; left out: as `cups` say */
  begun?: number
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

/** Whether the batch has had a layer before: what is used once a batch is not used there again. */
export function hasBegun({ cups, begun = 0 }: Work, position: number): boolean {
  return begun >= position || cups.some((group) => group.layersDone >= position)
}

/** Cup-minutes on turners for the layers that are still to be done. */
export function turningMin({ plan, cups }: Work): number {
  let minutes = 0
  for (const { layersDone, count } of cups) {
    for (const layer of plan.layers) if (layer.position > layersDone) minutes += count * layer.turnerMin
  }
  return minutes
}
