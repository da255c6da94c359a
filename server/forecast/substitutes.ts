import type { IsoDate } from "../domain/dates.ts"
import type { Forecast, Shortfall } from "../domain/forecast.ts"
import { isResin } from "../domain/layers.ts"
import type { BaseUnit, ResinSystem } from "../domain/plan.ts"
import { Refusal, refusalOr } from "../domain/refusal.ts"
import { mixedFrom, mixedPerPart } from "../domain/resin-parts.ts"
import { usableLeft } from "../domain/sprays.ts"
import type { Studio } from "../ledger/studio.ts"
import { resinSubstitutes, resinSystems, substitutes } from "../supplies/service.ts"
import type { State } from "./state.ts"

/**
 * What may be used in place of a supply that runs short, or in place of the whole resin it is a part of. An offer
 * only: the forecast never takes it.
 */
export interface OfferedSubstitute {
  /** null: a resin */
  supplyId: number | null
  /** a supply's name; "Hard Gloss, mixed" of a resin */
  supply: string
  /** of a resin, that of what is mixed: µL */
  baseUnit: BaseUnit
  /** so much of it stands for 1 of what is short, in millionths; of a resin, what is mixed with 1 of the short part */
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
  const [allowed, resins] = [substitutes(studio), offeredResins(studio, state)]
  if (allowed.size === 0 && resins.length === 0) return offers
  const isShort = new Set(shortfalls.map((short) => short.supplyId))
  for (const short of shortfalls) {
    const free = (supplyId: number) => freeOf(supplyId, short, state, takenFrom)
    const supplies = (allowed.get(short.supplyId) ?? [])
      // what is short itself has nothing to give
      .filter((one) => !isShort.has(one.supplyId))
      .map(({ supplyId, ratioPpm }): OfferedSubstitute => {
        const { name, baseUnit } = state.supplies.get(supplyId)!
        return { supplyId, supply: name, baseUnit, ratioPpm, free: free(supplyId) }
      })
    const whole = resins
      .filter(({ current: { partA, partB } }) => partA.id === short.supplyId || partB.id === short.supplyId)
      .filter(({ other: { partA, partB } }) => !isShort.has(partA.id) && !isShort.has(partB.id))
      .flatMap(({ current, other }) => resinOffer(current, other, short.supplyId, free))
    const own = [...supplies, ...whole].filter((one) => one.free > 0)
    if (own.length > 0) offers.set(short.supplyId, own)
  }
  return offers
}

/** A resin that something still to be made is mixed from now, and another that may be used in its place. */
interface OfferedResin {
  current: ResinSystem
  other: ResinSystem
}

/** As a batch's page offers them: what is allowed in place of the design's own, and that itself where another stands in. */
function offeredResins(studio: Studio, { work }: State): OfferedResin[] {
  const allowed = resinSubstitutes(studio)
  if (allowed.size === 0) return []
  const systems = new Map(resinSystems(studio).map((system) => [system.id, system]))
  const offered = new Map<string, OfferedResin>()
  const plans = new Set(
    [...work.lines.flatMap(({ open }) => open.work), ...work.loose].map(({ plan }) => plan),
  )
  for (const use of [...plans].flatMap(({ layers }) => layers.flatMap(({ uses }) => uses))) {
    if (!isResin(use)) continue
    const { system: current, inPlaceOf: own = current } = use
    for (const id of [own.id, ...(allowed.get(own.id) ?? [])])
      if (id !== current.id) offered.set(`${current.id} ${id}`, { current, other: systems.get(id)! })
  }
  return [...offered.values()]
}

/** Nothing where a density is missing: how much it makes cannot be said then. */
function resinOffer(
  current: ResinSystem,
  other: ResinSystem,
  shortId: number,
  free: (supplyId: number) => number,
): OfferedSubstitute[] {
  const part = current.partA.id === shortId ? "A" : "B"
  const offer = refusalOr((): OfferedSubstitute => {
    return {
      supplyId: null,
      supply: `${other.name}, mixed`,
      baseUnit: "uL",
      ratioPpm: mixedPerPart(current, part) * 1e6,
      free: mixedFrom(other, free(other.partA.id), free(other.partB.id)),
    }
  })
  return offer instanceof Refusal ? [] : [offer]
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
