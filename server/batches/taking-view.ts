import type { IsoDate } from "../domain/dates.ts"
import type { Plan } from "../domain/plan.ts"
import type { OnHand } from "../ledger/on-hand.ts"
import type { Studio } from "../ledger/studio.ts"
import { type Pass, supplyIn, take } from "./take.ts"

/**
 * What some layers would take and from which containers, for a page; and when the shelf is short, what the
 * person can say: a bottle of that supply held more, or one past its day is used all the same.
 */
export function takingView(
  studio: Studio,
  plan: Plan,
  passes: readonly Pass[],
  on: IsoDate,
  offerMore: boolean,
) {
  const taking = take(studio, plan, passes, on)
  const codes = new Map(taking.shelf.map((bottle) => [bottle.containerId, bottle]))
  const draws = taking.taken.flatMap(({ need, picks }) =>
    need.draws.map((draw, index) => {
      const supply = supplyIn(plan, draw.supplyId)
      return {
        supply: supply.name,
        baseUnit: supply.baseUnit,
        amount: draw.amount,
        working: draw.working,
        picks: picks
          .filter((pick) => pick.want === index)
          .map((pick) => ({
            code: codes.get(pick.containerId)?.code ?? "",
            amount: pick.amount,
            baseUnit: supply.baseUnit,
          })),
      }
    }),
  )
  const missing = taking.kind === "short" ? taking.missing : []
  return {
    draws,
    missing,
    offers: offerMore || missing.length > 0 ? missing.map((lack) => offersFor(lack, taking.shelf, on)) : [],
  }
}

function offersFor(
  lack: { supplyId: number; supply: string; amount: number; baseUnit: OnHand["baseUnit"] },
  shelf: readonly OnHand[],
  on: IsoDate,
) {
  const bottles = shelf.filter((bottle) => bottle.supplyId === lack.supplyId && !bottle.held)
  const isPast = (bottle: OnHand) => bottle.useBy !== null && bottle.useBy < on
  return {
    supply: lack.supply,
    amount: lack.amount,
    baseUnit: lack.baseUnit,
    heldMore: bottles
      .filter((bottle) => !isPast(bottle))
      .map(({ containerId, code }) => ({ containerId, code })),
    pastItsDay: bottles.filter(isPast).map(({ containerId, code, useBy }) => ({ containerId, code, useBy })),
  }
}
