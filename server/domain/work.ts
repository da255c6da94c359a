import type { RecoatWindow } from "./after-layer.ts"
import type { Plan } from "./plan.ts"

export interface CupGroup {
  layersDone: number
  count: number
  /**
   * when the first and the last of them got their last layer, in minutes after today's midnight; below zero: before.
   * And what that leaves for the next coat, where it is not what the plan says
   */
  coated?: { firstMin: number; lastMin: number; recoat?: RecoatWindow }
}

/** Cups of one plan that go through its layers together. */
export interface Work {
  plan: Plan
  /** how many of them have how many layers; 0 layers: still to be started */
  cups: readonly CupGroup[]
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
