import type { IsoDate } from "../domain/dates.ts"
import type { Forecast, Shortfall } from "../domain/forecast.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { usableLeft } from "../domain/sprays.ts"
import type { Studio } from "../ledger/studio.ts"
import { substitutes } from "../supplies/service.ts"
import type { State } from "./state.ts"

/** What may be used in place of a supply that runs short. An offer only: the forecast never takes it. */
export interface OfferedSubstitute {
  supplyId: number
  supply: string
  baseUnit: BaseUnit
  /** so much of it stands for 1 of what is short, in millionths */
  ratioPpm: number
  /** what no plan takes of it, here by the first short day and good until the last; in its base unit */
  free: number
}

/** By the supply that is short: what may be used in its place, of which something is free after all other needs. */
export function substitutesFor(
  studio: Studio,
  state: State,
  { shortfalls, takenFrom }: Forecast,
): ReadonlyMap<number, OfferedSubstitute[]> {
  const offers = new Map<number, OfferedSubstitute[]>()
  if (shortfalls.length === 0) return offers
  const allowed = substitutes(studio)
  if (allowed.size === 0) return offers
  const isShort = new Set(shortfalls.map((short) => short.supplyId))
  for (const short of shortfalls) {
    const own = (allowed.get(short.supplyId) ?? [])
      // what is short itself has nothing to give
      .filter((one) => !isShort.has(one.supplyId))
      .map(({ supplyId, ratioPpm }): OfferedSubstitute => {
        const { name, baseUnit } = state.supplies.get(supplyId)!
        return { supplyId, supply: name, baseUnit, ratioPpm, free: freeOf(supplyId, short, state, takenFrom) }
      })
      .filter((one) => one.free > 0)
    if (own.length > 0) offers.set(short.supplyId, own)
  }
  return offers
}

function freeOf(
  supplyId: number,
  { firstOn, days }: Shortfall,
  { today, shelf, arrivals }: State,
  takenFrom: ReadonlyMap<number, number>,
): number {
  const last = days.at(-1)?.on ?? firstOn
  const here = shelf.map((container) => ({ on: today, container }))
  return [...here, ...arrivals]
    .filter(({ on, container }) => container.supplyId === supplyId && on <= firstOn && lasts(container, last))
    .reduce((sum, { container: { containerId, amountLeft, keptBack = 0 } }) => {
      return sum + Math.max(0, usableLeft(amountLeft, keptBack) - (takenFrom.get(containerId) ?? 0))
    }, 0)
}

function lasts(
  { held, useBy }: State["shelf"][number] | State["arrivals"][number]["container"],
  until: IsoDate,
) {
  return !held && (useBy === null || useBy >= until)
}
