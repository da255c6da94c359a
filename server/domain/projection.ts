import type { Shelved } from "./allocation.ts"
import { daysBetween, type IsoDate, plusDays } from "./dates.ts"
import type { Arrival } from "./netting.ts"
import { addLife, effectiveExpiry } from "./shelf-life.ts"
import { usableLeft } from "./sprays.ts"

/** A supply at the end of a day, in its base unit. */
export interface ProjectedDay {
  on: IsoDate
  /** what can still be used */
  left: number
  received: number
  used: number
  /** what could be used the day before and went off with something left */
  expired: number
}

/**
 * What is left of one supply day by day. What is held never counts; what is opened by being used goes off by its life
 * after opening where that comes before the label's day.
 *
 * @param shelf and `arrivals`: containers of this supply alone
 * @param takes what is used of them, see `Forecast.takes`
 * @param days how many from today on
 */
export function projection(
  today: IsoDate,
  shelf: readonly Shelved[],
  arrivals: readonly Arrival[],
  takes: readonly { on: IsoDate; containerId: number; amount: number }[],
  days: number,
): ProjectedDay[] {
  const here = shelf.filter((one) => !one.held).map((one) => bottleOf(one))
  const coming = arrivals.map(({ on, container }) => ({ on, bottle: bottleOf(container) }))
  return Array.from({ length: days }, (_, nth) => {
    const on = plusDays(today, nth)
    let received = 0
    for (const { bottle } of coming.filter((one) => one.on === on)) {
      here.push(bottle)
      received += bottle.left
    }
    let expired = 0
    for (const bottle of here) {
      if (bottle.useBy === null || bottle.useBy >= on) continue
      // what was past its day before the first day was never counted
      if (nth > 0) expired += bottle.left
      bottle.left = 0
    }
    let used = 0
    for (const { containerId, amount } of takes.filter((take) => take.on === on)) {
      const bottle = here.find((one) => one.id === containerId)
      if (!bottle) continue
      bottle.left -= amount
      used += amount
      bottle.useBy = effectiveExpiry(bottle.useBy, openedUseBy(bottle, on))
      bottle.isOpen = true
    }
    return { on, left: here.reduce((sum, bottle) => sum + bottle.left, 0), received, used, expired }
  })
}

function bottleOf(container: Shelved) {
  return {
    id: container.containerId,
    left: usableLeft(container.amountLeft, container.keptBack ?? 0),
    useBy: container.useBy,
    isOpen: container.openedOn !== null,
    openLife: container.openLife ?? null,
  }
}

function openedUseBy({ isOpen, openLife }: ReturnType<typeof bottleOf>, on: IsoDate): IsoDate | null {
  return isOpen || openLife === null || openLife.unit === "never" ? null : addLife(on, openLife)
}

/** How many days there are up to the last of some, and one more. */
export function daysUpTo(today: IsoDate, last: readonly IsoDate[]): number {
  return Math.max(1, ...last.map((on) => daysBetween(today, on) + 2))
}
