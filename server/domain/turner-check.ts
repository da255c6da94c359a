import { daysBetween, type IsoDate } from "./dates.ts"
import { turningMin, type Work } from "./work.ts"

/** Whether the turners can do it at all; cup-minutes are one place taken for one minute. */
export interface TurnerCheck {
  places: number
  /** cup-minutes of everything still to be turned */
  neededMin: number
  /** the first line by whose day more turning is due than the places give; null when they can do it */
  tooMuch: { lineId: number | null; readyOn: IsoDate; neededMin: number; placesMin: number } | null
}

/**
 * Compares turning with turner places, crudely: places turn day and night from today until the day each line
 * must be ready. What does not fit here cannot be done; what fits may still not, since layers wait for each
 * other and for the person.
 *
 * @param loads each work with the day it must be ready, in any order
 */
export function turnerCheck(
  loads: readonly { lineId: number | null; readyOn: IsoDate; work: Work }[],
  today: IsoDate,
  places: number,
): TurnerCheck {
  let neededMin = 0
  let tooMuch: TurnerCheck["tooMuch"] = null
  for (const { lineId, readyOn, work } of loads.toSorted((a, b) =>
    a.readyOn < b.readyOn ? -1 : a.readyOn > b.readyOn ? 1 : 0,
  )) {
    const own = turningMin(work)
    neededMin += own
    // what belongs to no order has no day of its own; it only takes places away from the others
    if (own === 0 || lineId === null || tooMuch !== null) continue
    const placesMin = places * 1440 * Math.max(0, daysBetween(today, readyOn))
    if (neededMin > placesMin) tooMuch = { lineId, readyOn, neededMin, placesMin }
  }
  return { places, neededMin, tooMuch }
}
