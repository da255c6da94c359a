import type { Layer } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { BatchProgress, CupProgress } from "./progress.ts"
import type { Pass } from "./take.ts"

/** How a cup came out, where it is not simply good. A scrapped cup has the layers up to `afterLayer`, no more. */
export interface Exception {
  cupId: number
  outcome: "second" | "scrapped"
  afterLayer?: number
}

/** The layers still to do, each with the cups that get it; a cup scrapped after layer k gets none beyond k. */
export function passesToFinish(batch: BatchProgress, exceptions: readonly Exception[]): Pass[] {
  const lastLayer = (cup: CupProgress) => {
    const one = exceptions.find((exception) => exception.cupId === cup.id)
    return one?.outcome === "scrapped" ? (one.afterLayer ?? cup.layersDone) : batch.plan.layers.length
  }
  const inWork = batch.cups.filter((cup) => cup.state === "in work")
  return batch.plan.layers
    .map((layer) => {
      const due = (cup: CupProgress) => cup.layersDone < layer.position && layer.position <= lastLayer(cup)
      return passFor(batch, layer, inWork.filter(due))
    })
    .filter((pass) => pass.cupIds.length > 0)
}

/** A layer of a batch in one go on some of its cups. */
export function passFor(batch: BatchProgress, layer: Layer, cups: readonly CupProgress[]): Pass {
  return {
    layer,
    cupIds: cups.map((cup) => cup.id),
    again: batch.begun.has(layer.position),
    withBlank: new Set(cups.filter((cup) => cup.hasBlank).map((cup) => cup.id)),
  }
}

/**
 * The layer and the cups that wait for it.
 *
 * @param only of these, some
 * @param again one more coat of it on purpose, on cups that have it on top
 * @throws {Refusal} no such layer; one of the cups is not due for it, or none is
 */
export function dueFor(
  batch: BatchProgress,
  position: number,
  only: readonly number[] | null,
  again = false,
): { layer: Layer; cups: CupProgress[] } {
  const layer = batch.plan.layers.find((one) => one.position === position)
  if (!layer) throw new Refusal("This design has no such layer.", { status: 404 })
  const cups = batch.cups.filter(
    (cup) => cup.state === "in work" && cup.layersDone === (again ? position : position - 1),
  )
  if (only?.length === 0) throw new Refusal("Choose the cups first.", { field: "cupIds" })
  const chosen = only === null ? cups : cups.filter((cup) => only.includes(cup.id))
  if (only !== null && chosen.length !== new Set(only).size) {
    const why = again ? `does not have ${layer.name} on top` : `is not waiting for ${layer.name}`
    throw new Refusal(`One of the cups you chose ${why}.`, { field: "position", status: 409 })
  }
  if (chosen.length > 0) return { layer, cups: chosen }
  if (again) throw new Refusal(`No cup in work has ${layer.name} on top.`, { field: "position", status: 409 })
  const waiting = batch.cups.some((cup) => cup.state === "in work" && cup.layersDone < position - 1)
  throw new Refusal(
    waiting
      ? `${layer.name} comes later: the layer before it is not ticked off yet.`
      : `${layer.name} is done already for every cup in work.`,
    { status: 409 },
  )
}
