import type { Want } from "./allocation.ts"
import type { LayerNeed } from "./plan.ts"

/**
 * A layer's draws as wants of the allocator, in the order of the draws: want i is draw i. Making and
 * forecasting both come through here, so that what the forecast calls enough can be made.
 *
 * A whole coat is one cup's part of the amount; part B is paired with the part A of its mix.
 *
 * @param need what the layer takes for `cups` cups
 * @param cups how many cups it is for, at least one
 */
export function wantsOf(need: LayerNeed, cups: number): Want[] {
  return need.draws.map((draw) => {
    const mix = draw.mix === null ? undefined : need.mixes[draw.mix]
    const wholeCoat = Math.ceil(draw.amount / (mix?.cups ?? cups))
    const want: Want = {
      supplyId: draw.supplyId,
      amount: draw.amount,
      wholeCoat,
      ...(draw.from !== undefined && { only: draw.from }),
      // pieces that were fitted on whole sheets do not fit on whatever offcut holds the area
      ...(draw.offcut !== undefined && { wholeSheets: true }),
    }
    if (draw.supplyId !== mix?.system.partB.id) return want
    const pairWith = need.draws.findIndex(
      (other) => other.mix === draw.mix && other.supplyId === mix.system.partA.id,
    )
    return { ...want, pairWith }
  })
}
