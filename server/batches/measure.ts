import type { ResinSystem } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { type Act, type Actor, act, type Done } from "../ledger/act.ts"
import { addMeasured, addMixLeft } from "../ledger/cups.ts"
import { containerById, move } from "../ledger/move.ts"
import type { Studio } from "../ledger/studio.ts"
import { bringTo, type CameFrom } from "./came-from.ts"
import { coatsOf, type WrittenCoat } from "./coats.ts"
import { type EachWeighed, keepEach } from "./each-weighed.ts"
import { judge, refuseMoreLeft, type Weighed } from "./measured.ts"
import { batchProgress } from "./progress.ts"

/** What was measured of coats that are written already. Amounts in base units, in all of the coat. */
export interface MeasureInput {
  batchId: number
  position: number
  poured: readonly { coatId: number; parts: { a: number; b: number } | null; leftUl: number | null }[]
  weighed: readonly (Weighed & { coatId: number })[]
  /** containers that were weighed each by itself */
  each?: readonly EachWeighed[]
  /** of which containers it came, where that was said */
  from?: readonly (CameFrom & { field: string })[]
  /** a mix far off its ratio really was poured so */
  asPoured: boolean
  /** where the book's container does not hold enough: it held more */
  heldMore: boolean
}

/**
 * Keeps what coats really took, said after they were written: the difference is taken from the containers they
 * came from, or goes back into them.
 *
 * @throws {Refusal} a coat that is not of this layer, a ratio far off that is not confirmed, nothing measured, or
 *   the book's containers do not hold the difference
 */
export function measureCoats(
  studio: Studio,
  by: Actor,
  input: MeasureInput,
): Done<{ coats: number; remarks: string[] }> {
  return act(studio, "measure", by, input, (now) => {
    const { plan } = batchProgress(studio, input.batchId)
    const layer = plan.layers.find((one) => one.position === input.position)
    const coats = coatsOf(studio, input.batchId, input.position)
    if (!layer || coats.length === 0) throw new Refusal("This layer is not done yet.", { status: 404 })
    const { from = [], each = [] } = input
    if (input.poured.length + input.weighed.length + each.length + from.length === 0) {
      throw new Refusal("Write what you measured: at least one amount.")
    }
    const coatOf = (id: number) => {
      const coat = coats.find((one) => one.coatId === id)
      if (!coat) throw new Refusal("That coat is not one of this layer any more.", { status: 409 })
      return coat
    }
    const remarks: string[] = []
    for (const { coatId, parts, leftUl } of input.poured) {
      const { mix } = coatOf(coatId)
      if (!mix) throw new Refusal("That coat was not mixed.", { status: 409 })
      const field = `poured[${coats.filter((one) => one.mix).findIndex((one) => one.coatId === coatId)}]`
      const found = parts ?? { a: mix.bookedA, b: mix.bookedB }
      const remark = judge(mix.system, found, input.asPoured, field)
      if (remark !== null) remarks.push(remark)
      if (leftUl !== null) {
        refuseMoreLeft(mix.system, found, leftUl, field)
        addMixLeft(now, coatId, leftUl)
      }
      if (parts === null) continue
      const basis = mix.system.ratioBasis === "mass" ? "weighed" : "measured"
      for (const [supplyId, amount] of partsOf(mix.system, parts))
        correct(now, coatOf(coatId), { supplyId, amount, basis }, input.heldMore)
    }
    for (const { coatId, ...weighed } of input.weighed) correct(now, coatOf(coatId), weighed, input.heldMore)
    for (const weighed of each) keepEach(now, coatOf(weighed.coatId), weighed, input.heldMore)
    for (const said of from) {
      coatOf(said.coatId)
      // as it stands after what was measured
      const coat = coatsOf(studio, input.batchId, input.position).find((one) => one.coatId === said.coatId)
      if (coat) bringTo(studio, now, coat, said, { heldMore: input.heldMore, field: said.field })
    }
    const measured = new Set(
      [...input.poured, ...input.weighed, ...each, ...from].map(({ coatId }) => coatId),
    ).size
    return {
      summary:
        input.poured.length + input.weighed.length + each.length > 0
          ? `Measured ${layer.name}, batch ${input.batchId}`
          : `Said which containers ${layer.name} came from, batch ${input.batchId}`,
      answer: { coats: measured, remarks },
    }
  })
}

function partsOf({ partA, partB }: ResinSystem, { a, b }: { a: number; b: number }): [number, number][] {
  return [
    [partA.id, a],
    [partB.id, b],
  ]
}

/** Keeps what a coat took of a supply, and brings the containers it came from to it. */
function correct(now: Act, coat: WrittenCoat, { supplyId, amount, basis }: Weighed, heldMore: boolean): void {
  addMeasured(now, coat.coatId, supplyId, amount, basis)
  const uses = coat.uses.filter((use) => use.supplyId === supplyId).toReversed()
  const [last] = uses
  if (!last) throw new Refusal("Something was weighed that this coat did not use.", { status: 409 })
  let more = amount - uses.reduce((sum, use) => sum + use.amount, 0)
  for (const use of uses) {
    if (more < 0) {
      const back = Math.min(-more, use.amount)
      if (back === 0) continue
      const costMicro = Math.round((use.costMicro * back) / use.amount)
      move(now, use.containerId, back, { kind: "use", basis, coatId: coat.coatId, costMicro })
      more += back
    } else if (more > 0) {
      const taken = Math.min(more, containerById(now, use.containerId).amount_left)
      if (taken === 0) continue
      move(now, use.containerId, -taken, { kind: "use", basis, coatId: coat.coatId })
      more -= taken
    }
  }
  if (more <= 0) return
  if (!heldMore) {
    throw new Refusal(
      `The book says ${last.code} (${last.supply}) does not hold that much more. If it did, tick “It held more than the book says”.`,
      { field: "heldMore" },
    )
  }
  move(now, last.containerId, more, { kind: "count", basis: "estimated" })
  move(now, last.containerId, -more, { kind: "use", basis, coatId: coat.coatId })
}
