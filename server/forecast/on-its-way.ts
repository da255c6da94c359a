import type { IsoDate } from "../domain/dates.ts"
import type { Shortfall } from "../domain/forecast.ts"
import type { Arrival } from "../domain/netting.ts"
import { usableLeft } from "../domain/sprays.ts"
import type { AnswerBuy } from "./buys.ts"

/** What is ordered of a supply and comes after the day it is missing. */
export interface OnItsWay {
  /** so much of what is missing, in its base unit */
  amount: number
  /** the day the last of that is here */
  on: IsoDate
}

/**
 * What of each shortfall is ordered already and need not be bought a second time: what no plan takes of what is
 * expected after its first short day, where nobody could bring more any sooner. Where somebody could, buying is a
 * way out, so it stays proposed.
 *
 * @param takenFrom what the plans take, by container
 * @param buys what would be bought if nothing were on its way
 * @returns by supply; none: nothing of it comes that is not spoken for
 */
export function onItsWay(
  shortfalls: readonly Shortfall[],
  arrivals: readonly Arrival[],
  takenFrom: ReadonlyMap<number, number>,
  buys: readonly AnswerBuy[],
): Map<number, OnItsWay> {
  const found = new Map<number, OnItsWay>()
  for (const { supplyId, firstOn, missing } of shortfalls) {
    const soonest = buys
      .filter(({ supplyIds }) => supplyIds.includes(supplyId))
      .map((buy) => buy.sooner?.hereOn ?? buy.hereOn)
      .sort()
      .at(0)
    const late = arrivals
      .filter(({ on, container }) => container.supplyId === supplyId && on > firstOn)
      .filter(({ on }) => soonest === undefined || on <= soonest)
      .sort((a, b) => (a.on < b.on ? -1 : a.on > b.on ? 1 : 0))
    for (const { on, container } of late) {
      const { containerId, amountLeft, keptBack } = container
      const free = usableLeft(amountLeft, keptBack ?? 0) - (takenFrom.get(containerId) ?? 0)
      const known = found.get(supplyId)?.amount ?? 0
      const more = Math.min(free, missing - known)
      if (more > 0) found.set(supplyId, { amount: known + more, on })
    }
  }
  return found
}
