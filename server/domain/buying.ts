import { type IsoDate, plusDays } from "./dates.ts"

/** A pack with what it holds in all, and who sells it. */
export interface BuyablePack {
  packId: number
  /** amount of each supply in one pack, all its containers together, in the supply's base unit */
  contents: readonly { supplyId: number; amount: number }[]
  offers: readonly { sellerId: number; priceMicro: number; leadTimeDays: number }[]
}

/** A supply of which there is too little. */
export interface Lack {
  supplyId: number
  amount: number
  /** the first day it is missing; null where only the minimum is not met */
  neededOn: IsoDate | null
  /** the supply's own lead time, which goes before the seller's; null when it has none */
  leadTimeDays: number | null
}

/** Whole packs from one seller. */
export interface Buy {
  packId: number
  sellerId: number
  count: number
  costMicro: number
  /** what it is bought for: of a kit often both parts */
  supplyIds: readonly number[]
  neededOn: IsoDate | null
  /** days from order to door, the longest of what it is bought for */
  leadTimeDays: number
  /** order by that day for it to be there in time; null when no day is set */
  orderBy: IsoDate | null
  /** that day is past */
  late: boolean
}

/**
 * What to buy for what is missing: for each supply the one pack and seller that covers it for least money, in
 * whole packs. Sellers that deliver in time go before those that do not. A pack that holds several of the missing
 * supplies is counted as sparing the cheapest purchase of the others.
 *
 * Equal cost: the least left over, then the lowest pack and seller.
 *
 * @returns the purchases, one for each pack and seller, by order-by day; and the supplies nobody sells
 */
export function whatToBuy(
  lacks: readonly Lack[],
  packs: readonly BuyablePack[],
  today: IsoDate,
): { buys: Buy[]; nobodySells: number[] } {
  const ways = waysBySupply(packs)
  const missing = new Map(lacks.map((lack) => [lack.supplyId, lack.amount]))
  const lackOf = new Map(lacks.map((lack) => [lack.supplyId, lack]))
  const buys = new Map<string, Buy>()
  const nobodySells: number[] = []
  for (const lack of lacks.toSorted(bySoonest)) {
    if (missing.get(lack.supplyId)! <= 0) continue
    const choices = choicesFor(lack, ways, missing, lackOf, today)
    const best = choices.reduce<Choice | null>((a, b) => (a === null || isBetter(b, a) ? b : a), null)
    if (best === null) {
      nobodySells.push(lack.supplyId)
      continue
    }
    const covered = best.way.contents.filter((content) => (missing.get(content.supplyId) ?? 0) > 0)
    for (const { supplyId, amount } of covered) {
      missing.set(supplyId, missing.get(supplyId)! - best.count * amount)
    }
    addBuy(
      buys,
      best,
      covered.map((content) => lackOf.get(content.supplyId)!),
      today,
    )
  }
  const order = (buy: Buy) => buy.orderBy ?? "~"
  return {
    buys: [...buys.values()].sort((a, b) =>
      order(a) < order(b) ? -1 : order(a) > order(b) ? 1 : a.packId - b.packId,
    ),
    nobodySells,
  }
}

/** One pack at one seller. */
interface Way {
  packId: number
  contents: BuyablePack["contents"]
  sellerId: number
  priceMicro: number
  leadTimeDays: number
}

interface Choice {
  way: Way
  count: number
  /** its price less what it spares for other supplies */
  netMicro: number
  inTime: boolean
  /** of the supply it is for */
  leftOver: number
}

function waysBySupply(packs: readonly BuyablePack[]): Map<number, Way[]> {
  const ways = new Map<number, Way[]>()
  for (const { packId, contents, offers } of packs) {
    const sums = new Map<number, number>()
    for (const { supplyId, amount } of contents) sums.set(supplyId, (sums.get(supplyId) ?? 0) + amount)
    const whole = [...sums].map(([supplyId, amount]) => ({ supplyId, amount }))
    for (const offer of offers) {
      for (const { supplyId } of whole) {
        ways.set(supplyId, [...(ways.get(supplyId) ?? []), { packId, contents: whole, ...offer }])
      }
    }
  }
  return ways
}

function choicesFor(
  lack: Lack,
  ways: ReadonlyMap<number, readonly Way[]>,
  missing: ReadonlyMap<number, number>,
  lackOf: ReadonlyMap<number, Lack>,
  today: IsoDate,
): Choice[] {
  return (ways.get(lack.supplyId) ?? []).flatMap((way) => {
    const others = way.contents.filter(
      ({ supplyId }) => supplyId !== lack.supplyId && (missing.get(supplyId) ?? 0) > 0,
    )
    const enough = packsFor(missing.get(lack.supplyId)!, way, lack.supplyId)
    const counts = new Set([
      enough,
      ...others.map(({ supplyId }) => Math.max(enough, packsFor(missing.get(supplyId)!, way, supplyId))),
    ])
    return [...counts].map((count) => {
      const spared = others.map(({ supplyId, amount }) => {
        const lacking = missing.get(supplyId)!
        const alone = ways.get(supplyId)!
        return cheapest(lacking, alone, supplyId) - cheapest(lacking - count * amount, alone, supplyId)
      })
      return {
        way,
        count,
        netMicro: count * way.priceMicro - spared.reduce((a, b) => a + b, 0),
        inTime: [lack, ...others.map(({ supplyId }) => lackOf.get(supplyId)!)].every(
          (one) => !isPast(orderBy(one, way), today),
        ),
        leftOver: count * amountIn(way, lack.supplyId) - missing.get(lack.supplyId)!,
      }
    })
  })
}

function isBetter(a: Choice, b: Choice): boolean {
  if (a.inTime !== b.inTime) return a.inTime
  if (a.netMicro !== b.netMicro) return a.netMicro < b.netMicro
  if (a.leftOver !== b.leftOver) return a.leftOver < b.leftOver
  return a.way.packId < b.way.packId || (a.way.packId === b.way.packId && a.way.sellerId < b.way.sellerId)
}

function addBuy(
  buys: Map<string, Buy>,
  { way, count }: Choice,
  lacks: readonly Lack[],
  today: IsoDate,
): void {
  const key = `${way.packId} ${way.sellerId}`
  const known = buys.get(key)
  const by = earliest([known?.orderBy ?? null, ...lacks.map((lack) => orderBy(lack, way))])
  buys.set(key, {
    packId: way.packId,
    sellerId: way.sellerId,
    count: (known?.count ?? 0) + count,
    costMicro: (known?.costMicro ?? 0) + count * way.priceMicro,
    supplyIds: [...new Set([...(known?.supplyIds ?? []), ...lacks.map((lack) => lack.supplyId)])],
    neededOn: earliest([known?.neededOn ?? null, ...lacks.map((lack) => lack.neededOn)]),
    leadTimeDays: Math.max(known?.leadTimeDays ?? 0, ...lacks.map((lack) => leadTime(lack, way))),
    orderBy: by,
    late: isPast(by, today),
  })
}

function cheapest(amount: number, ways: readonly Way[], supplyId: number): number {
  return amount <= 0 ? 0 : Math.min(...ways.map((way) => packsFor(amount, way, supplyId) * way.priceMicro))
}

function packsFor(amount: number, way: Way, supplyId: number): number {
  return Math.ceil(amount / amountIn(way, supplyId))
}

function amountIn(way: Way, supplyId: number): number {
  return way.contents.find((content) => content.supplyId === supplyId)!.amount
}

function orderBy(lack: Lack, way: Way): IsoDate | null {
  return lack.neededOn === null ? null : plusDays(lack.neededOn, -leadTime(lack, way))
}

function leadTime(lack: Lack, way: Way): number {
  return lack.leadTimeDays ?? way.leadTimeDays
}

function isPast(day: IsoDate | null, today: IsoDate): boolean {
  return day !== null && day < today
}

function earliest(days: readonly (IsoDate | null)[]): IsoDate | null {
  return days.reduce((first, day) => (first === null || (day !== null && day < first) ? day : first), null)
}

function bySoonest(a: Lack, b: Lack): number {
  const [one, other] = [a.neededOn ?? "~", b.neededOn ?? "~"]
  return one < other ? -1 : one > other ? 1 : a.supplyId - b.supplyId
}
