import { type IsoDate, plusDays } from "../domain/dates.ts"
import type { Studio } from "../ledger/studio.ts"
import { packs, type Supply, sellers } from "../supplies/service.ts"

/** How far ahead a shopping list looks: so many days, or as far as anything is planned. */
export const HORIZON_NAMES = ["14", "30", "60", "all"] as const
export type HorizonName = (typeof HORIZON_NAMES)[number]

export const HORIZON_WORDS: Record<HorizonName, string> = {
  14: "next 2 weeks",
  30: "next 30 days",
  60: "next 60 days",
  all: "all that is planned",
}

/** @returns null: as far as anything is planned */
export function horizonDays(name: HorizonName): number | null {
  return name === "all" ? null : Number(name)
}

/** By supply: days from order to door, told by those who sell it, the quickest and the slowest. */
export function toldDays(studio: Studio): Map<number, { least: number; most: number }> {
  const leadOf = new Map(sellers(studio).map((seller) => [seller.id, seller.leadTimeDays]))
  const told = new Map<number, { least: number; most: number }>()
  for (const { contents, offers } of packs(studio)) {
    const days = offers.map(({ sellerId }) => leadOf.get(sellerId) ?? 0)
    if (days.length === 0) continue
    for (const { supplyId } of contents) {
      const known = told.get(supplyId)
      told.set(supplyId, {
        least: Math.min(...days, known?.least ?? Number.POSITIVE_INFINITY),
        most: Math.max(...days, known?.most ?? 0),
      })
    }
  }
  return told
}

/**
 * Up to which day needs must be bought for now: those that fall within the horizon, and those later ones that could
 * not wait until it is over, since a delivery takes its days.
 *
 * @returns null: all of them
 */
export function lastNeedFor(
  studio: Studio,
  today: IsoDate,
  horizon: number | null,
): (supply: Pick<Supply, "id" | "leadTimeDays">) => IsoDate | null {
  if (horizon === null) return () => null
  const told = toldDays(studio)
  return ({ id, leadTimeDays }) => plusDays(today, horizon + (leadTimeDays ?? told.get(id)?.most ?? 0))
}
