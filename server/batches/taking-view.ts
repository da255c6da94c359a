import type { IsoDate } from "../domain/dates.ts"
import type { Plan } from "../domain/plan.ts"
import { readableWorking } from "../domain/readable-working.ts"
import type { OnHand } from "../ledger/on-hand.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type Missing, type Pass, type Say, supplyIn, take } from "./take.ts"

/** What a layer would take and from which containers, for a page. */
export function takingView(studio: Studio, plan: Plan, pass: Pass, on: IsoDate) {
  const { units } = settingsOf(studio)
  const { taken, shelf } = take(studio, plan, [pass], on)
  const codes = new Map(shelf.map((bottle) => [bottle.containerId, bottle.code]))
  return taken.flatMap(({ need, picks }) =>
    need.draws.map((draw, index) => {
      const supply = supplyIn(plan, draw.supplyId)
      return {
        supply: supply.name,
        baseUnit: supply.baseUnit,
        amount: draw.amount,
        working: readableWorking(draw.working, units),
        picks: picks
          .filter((pick) => pick.want === index)
          .map((pick) => ({
            code: codes.get(pick.containerId) ?? "",
            amount: pick.amount,
            baseUnit: supply.baseUnit,
          })),
      }
    }),
  )
}

/**
 * When the shelf is short for some layers: for each supply what the person can say, that a bottle held more than
 * the book says, or that one past its day is used all the same. What was said already is counted in.
 */
export function shortView(studio: Studio, plan: Plan, passes: readonly Pass[], on: IsoDate, say: Say) {
  const taking = take(studio, plan, passes, on, say)
  if (taking.kind === "enough") return null
  return taking.missing.map((lack) => offersFor(lack, taking.shelf, on, say))
}

function offersFor(lack: Missing, shelf: readonly OnHand[], on: IsoDate, say: Say) {
  const bottles = shelf.filter((bottle) => bottle.supplyId === lack.supplyId && !bottle.held)
  const isPast = (bottle: OnHand) => bottle.useBy !== null && bottle.useBy < on
  return {
    supply: lack.supply,
    layer: lack.layer,
    amount: lack.amount,
    baseUnit: lack.baseUnit,
    heldMore: bottles
      .filter((bottle) => !isPast(bottle) || say.insist?.includes(bottle.containerId))
      .map(({ containerId, code }) => ({ value: containerId, label: `${code} held this much more` })),
    pastItsDay: bottles
      .filter((bottle) => isPast(bottle) && !say.insist?.includes(bottle.containerId))
      .map(({ containerId, code, useBy }) => ({ containerId, code, useBy })),
  }
}
