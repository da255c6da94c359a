import { type Buy, type Lack, whatToBuy } from "../domain/buying.ts"
import { daysBetween, type IsoDate, plusDays } from "../domain/dates.ts"
import type { Shortfall } from "../domain/forecast.ts"
import { type BreakNews, breakNews, cheapestCount, costOf } from "../domain/pack-mix.ts"
import { addLife, type Life } from "../domain/shelf-life.ts"
import type { Studio } from "../ledger/studio.ts"
import { type PackInfo, packs, type Supply, sellers } from "../supplies/service.ts"

/** Whole packs to buy, with their names. */
export interface AnswerBuy extends Buy {
  pack: string
  seller: string
  /** ordered today, when it is at the door */
  hereOn: IsoDate
  /** what the seller's price breaks make of it; null: none is held or near */
  breaks: BreakNews | null
  /** what one pack holds of each supply */
  contents: readonly { supplyId: number; amount: number }[]
  /** it comes too late: who could bring the same sooner; null: nobody */
  sooner: Sooner | null
}

/** Whole packs that would be here before those that cost least. */
export interface Sooner {
  packId: number
  pack: string
  seller: string
  count: number
  costMicro: number
  hereOn: IsoDate
}

/** What to buy for what runs short. */
export function buysFor(
  studio: Studio,
  shortfalls: readonly Shortfall[],
  supplies: ReadonlyMap<number, Supply>,
  today: IsoDate,
): AnswerBuy[] {
  if (shortfalls.length === 0) return []
  const lacks = shortfalls.map((short) => ({
    supplyId: short.supplyId,
    amount: short.missing,
    neededOn: short.firstOn,
    leadTimeDays: supplies.get(short.supplyId)!.leadTimeDays,
    keeps: keepsOf(short, supplies.get(short.supplyId)!.shelfLife),
  }))
  return whatToBuyHere(studio, lacks, today).buys
}

/** How fast what is missing is used from its first day to its last, and how long the supply keeps. */
export function keepsOf({ days, missing }: Shortfall, shelfLife: Life | null): NonNullable<Lack["keeps"]> {
  const first = days[0]?.on ?? ""
  const last = days.at(-1)?.on ?? first
  const keeps =
    shelfLife === null || shelfLife.unit === "never" ? null : daysBetween(first, addLife(first, shelfLife))
  return { usePerDay: missing / (daysBetween(first, last) + 1), days: keeps }
}

/** `whatToBuy` over this studio's packs and sellers, with names. */
export function whatToBuyHere(
  studio: Studio,
  lacks: Parameters<typeof whatToBuy>[0],
  today: IsoDate,
): { buys: AnswerBuy[]; nobodySells: number[] } {
  const sold = packs(studio)
  const leadOf = new Map(sellers(studio).map((seller) => [seller.id, seller.leadTimeDays]))
  const { buys, nobodySells } = whatToBuy(
    lacks,
    sold.map((pack) => ({
      packId: pack.id,
      contents: pack.contents.map((content) => ({
        supplyId: content.supplyId,
        amount: content.amount * content.containerCount,
      })),
      offers: pack.offers.map((offer) => ({ ...offer, leadTimeDays: leadOf.get(offer.sellerId) ?? 0 })),
    })),
    today,
  )
  const packOf = new Map(sold.map((pack) => [pack.id, pack]))
  const packsOf = new Map<number, PackInfo[]>()
  for (const pack of sold) {
    for (const supplyId of new Set(pack.contents.map((one) => one.supplyId))) {
      const known = packsOf.get(supplyId)
      if (known) known.push(pack)
      else packsOf.set(supplyId, [pack])
    }
  }
  return {
    nobodySells,
    buys: buys.map((buy) => {
      const pack = packOf.get(buy.packId)!
      const offer = pack.offers.find(({ sellerId }) => sellerId === buy.sellerId)!
      return {
        ...buy,
        pack: pack.name,
        seller: offer.seller,
        breaks: breakNews(offer, buy.count),
        hereOn: plusDays(today, buy.leadTimeDays),
        sooner: buy.late ? soonerThan(buy, lacks, packsOf, leadOf, today) : null,
        contents: pack.contents.map(({ supplyId, amount, containerCount }) => ({
          supplyId,
          amount: amount * containerCount,
        })),
      }
    }),
  }
}

/** The quickest seller's cheapest pack for what comes too late, where that is quicker than what costs least. */
function soonerThan(
  { supplyIds, leadTimeDays }: Buy,
  lacks: readonly Lack[],
  packsOf: ReadonlyMap<number, readonly PackInfo[]>,
  leadOf: ReadonlyMap<number, number>,
  today: IsoDate,
): Sooner | null {
  const own = lacks.filter((lack) => supplyIds.includes(lack.supplyId))
  // the supply's own lead time goes before any seller's
  if (own.some((lack) => lack.leadTimeDays !== null)) return null
  // what holds all of it holds the first
  const ways = (packsOf.get(own[0]?.supplyId ?? 0) ?? []).flatMap((pack) => {
    const counts = own.map(({ supplyId, amount }) => {
      const held = pack.contents.reduce(
        (sum, one) => sum + (one.supplyId === supplyId ? one.amount * one.containerCount : 0),
        0,
      )
      return held === 0 ? Number.POSITIVE_INFINITY : Math.ceil(amount / held)
    })
    const enough = Math.max(...counts)
    if (!Number.isFinite(enough)) return []
    return pack.offers.map((offer) => {
      const count = cheapestCount(offer, enough)
      return {
        packId: pack.id,
        pack: pack.name,
        seller: offer.seller,
        count,
        costMicro: costOf(offer, count),
        days: leadOf.get(offer.sellerId) ?? 0,
      }
    })
  })
  const [best] = ways
    .filter(({ days }) => days < leadTimeDays)
    .sort((a, b) => a.days - b.days || a.costMicro - b.costMicro)
  if (!best) return null
  const { days, ...sooner } = best
  return { ...sooner, hereOn: plusDays(today, days) }
}
