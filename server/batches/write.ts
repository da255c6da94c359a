import type { Act } from "../ledger/act.ts"
import { addCoat } from "../ledger/cups.ts"
import { move } from "../ledger/move.ts"
import type { Studio } from "../ledger/studio.ts"
import { type LowSupply, lowAmong } from "./low.ts"
import { judge, mixIndex, type Poured, ratioWorking } from "./measured.ts"
import type { BatchProgress } from "./progress.ts"
import { shortOf } from "./short.ts"
import { type Pass, type Say, type Taken, take } from "./take.ts"

/** What came of writing coats: what is low now of all that was taken from, and what to mind about the mixes. */
export interface Written {
  low: LowSupply[]
  remarks: string[]
  /** the coats of the layers themselves, without those of scuffing */
  coatIds: number[]
}

/** Takes what the passes need and writes their coats. @throws {Short} the shelf lacks something */
export function takeAndWrite(
  studio: Studio,
  now: Act,
  batch: BatchProgress,
  passes: readonly Pass[],
  say: Say,
): Written {
  const taking = take(studio, batch.plan, passes, now.happenedOn, say)
  if (taking.kind === "short") throw shortOf(studio, batch.plan, passes, now.happenedOn, say, taking.missing)
  for (const more of say.heldMore ?? []) {
    if (more.amount > 0) move(now, more.containerId, more.amount, { kind: "count", basis: "estimated" })
  }
  const written = taking.taken.flatMap((taken) => writeCoats(now, batch.id, taken))
  const supplyIds = new Set(taking.taken.flatMap(({ need }) => need.draws.map((draw) => draw.supplyId)))
  return {
    low: lowAmong(studio, supplyIds, taking.shelf, now.happenedOn),
    remarks: written.flatMap(({ remark }) => remark ?? []),
    coatIds: written.flatMap(({ coatId, isScuffing }) => (isScuffing ? [] : [coatId])),
  }
}

/**
 * Writes the coats of one layer and takes their amounts: one coat for each mix with the cups it served, and one
 * for whatever else the layer takes, with all its cups. Scuffing before it is a coat of its own, on the cups that
 * were scuffed.
 */
function writeCoats(now: Act, batchId: number, taken: Taken): OneWritten[] {
  const { cupIds: all, need } = taken
  let served = 0
  const parts: { mix: number | null; cupIds: readonly number[] }[] = need.mixes.map((mix, index) => {
    const cupIds = all.slice(served, served + mix.cups)
    served += mix.cups
    if (served >= all.length) served = 0
    return { mix: index, cupIds }
  })
  const hasMore = need.draws.some((draw) => draw.mix === null)
  if (hasMore || parts.length === 0) parts.unshift({ mix: null, cupIds: all })
  return parts.map(({ mix, cupIds }) => writeCoat(now, batchId, taken, mix, cupIds))
}

interface OneWritten {
  coatId: number
  isScuffing: boolean
  /** what to mind about its mix */
  remark: string | null
}

function writeCoat(
  now: Act,
  batchId: number,
  taken: Taken,
  mixAt: number | null,
  cupIds: readonly number[],
): OneWritten {
  const { pass, need, amounts, picks, scuffMin } = taken
  const isMine = (want: number) => need.draws[want]?.mix === mixAt
  const mine = picks.filter((pick) => isMine(pick.want))
  const mix = mixAt === null ? undefined : need.mixes[mixAt]
  const poured = mix && pouredInto(taken, mixAt)
  const parts = mix && (poured?.parts ?? { a: mix.partA, b: mix.partB })
  const off = mix && poured?.parts && ratioWorking(mix.system, poured.parts)
  const planned = new Map<number, number>()
  const measured = new Map<number, { amount: number; basis: "weighed" | "measured" }>()
  need.draws.forEach((draw, index) => {
    if (!isMine(index)) return
    planned.set(draw.supplyId, (planned.get(draw.supplyId) ?? 0) + draw.amount)
    const { amount, basis } = amounts[index]!
    if (basis === "planned") return
    measured.set(draw.supplyId, { amount: (measured.get(draw.supplyId)?.amount ?? 0) + amount, basis })
  })
  const coatId = addCoat(now, {
    batchId,
    layerId: need.layerId,
    cupIds,
    workings: [
      ...need.draws.filter((draw) => draw.mix === mixAt).map((draw) => draw.working),
      ...(off ? [off] : []),
    ],
    insisted: mine.some((pick) => pick.pastItsDay),
    // what scuffing takes says nothing of the layer's own amounts
    ...(scuffMin === null ? { planned, measured } : { scuffMin }),
    room: pass.room ?? null,
    ...(mix &&
      parts && {
        mix: {
          resinSystemId: mix.system.id,
          plannedA: mix.partA,
          plannedB: mix.partB,
          actualA: parts.a,
          actualB: parts.b,
          residueUl: mix.residueUl,
        },
        leftUl: poured?.leftUl ?? null,
      }),
  })
  for (const pick of mine) {
    const { basis } = amounts[pick.want]!
    move(now, pick.containerId, -pick.amount, { kind: "use", basis, coatId })
  }
  const isMeasured = mix !== undefined && poured?.parts
  const asPoured = pass.measured?.asPoured ?? false
  const remark = isMeasured ? judge(mix.system, poured.parts!, asPoured, "poured") : null
  return { coatId, isScuffing: scuffMin !== null, remark }
}

function pouredInto({ pass, need }: Taken, mixAt: number | null): Poured | undefined {
  return pass.measured?.poured.find((poured) => mixIndex(need, pass.cupIds.length, poured) === mixAt)
}
