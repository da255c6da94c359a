import type { Act } from "../ledger/act.ts"
import { addCoat } from "../ledger/cups.ts"
import { move } from "../ledger/move.ts"
import type { Studio } from "../ledger/studio.ts"
import { type LowSupply, lowAmong } from "./low.ts"
import type { BatchProgress } from "./progress.ts"
import { shortOf } from "./short.ts"
import { type Pass, type Say, type Taken, take } from "./take.ts"

/** Takes what the passes need and writes their coats. @returns what is low now of all that was taken from */
export function takeAndWrite(
  studio: Studio,
  now: Act,
  batch: BatchProgress,
  passes: readonly Pass[],
  say: Say,
): LowSupply[] {
  const taking = take(studio, batch.plan, passes, now.happenedOn, say)
  if (taking.kind === "short") throw shortOf(studio, batch.plan, passes, now.happenedOn, say, taking.missing)
  writeCoats(now, batch.id, taking.taken, say)
  const supplyIds = new Set(taking.taken.flatMap(({ need }) => need.draws.map((draw) => draw.supplyId)))
  return lowAmong(studio, supplyIds, taking.shelf, now.happenedOn)
}

/**
 * Writes the coats of some layers and takes their amounts: one coat for each mix with the cups it served, and
 * one for whatever else the layer takes, with all its cups.
 */
function writeCoats(now: Act, batchId: number, taken: readonly Taken[], say: Say): void {
  for (const more of say.heldMore ?? []) {
    if (more.amount > 0) move(now, more.containerId, more.amount, { kind: "count", basis: "estimated" })
  }
  for (const { pass, need, picks } of taken) {
    let served = 0
    const parts: { mix: number | null; cupIds: readonly number[] }[] = need.mixes.map((mix, index) => {
      const cupIds = pass.cupIds.slice(served, served + mix.cups)
      served += mix.cups
      if (served >= pass.cupIds.length) served = 0
      return { mix: index, cupIds }
    })
    const hasMore = need.draws.some((draw) => draw.mix === null)
    if (hasMore || parts.length === 0) parts.unshift({ mix: null, cupIds: pass.cupIds })

    for (const part of parts) {
      const mine = picks.filter((pick) => need.draws[pick.want]?.mix === part.mix)
      const mix = part.mix === null ? undefined : need.mixes[part.mix]
      const coatId = addCoat(now, {
        batchId,
        layerId: need.layerId,
        cupIds: part.cupIds,
        workings: need.draws.filter((draw) => draw.mix === part.mix).map((draw) => draw.working),
        insisted: mine.some((pick) => pick.pastItsDay),
        ...(mix && {
          mix: {
            resinSystemId: mix.system.id,
            plannedA: mix.partA,
            plannedB: mix.partB,
            actualA: mix.partA,
            actualB: mix.partB,
            residueUl: mix.residueUl,
          },
        }),
      })
      for (const pick of mine)
        move(now, pick.containerId, -pick.amount, { kind: "use", basis: "planned", coatId })
    }
  }
}
