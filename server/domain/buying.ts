import { type IsoDate, plusDays } from "./dates.ts"
import { cheapestCount, cheapestMix, costOf, type PackChoice, usableOf } from "./pack-mix.ts"

/** A pack with what it holds in all, and who sells it. */
export interface BuyablePack {
  packId: number
  /** amount of each supply in one pack, all its containers together, in the supply's base unit */
  contents: readonly { supplyId: number; amount: number }[]
  offers: readonly {
    sellerId: number
    priceMicro: number
    /** cheaper a pack from so many on, counts rising */
    breaks?: PackChoice["breaks"]
    leadTimeDays: number
  }[]
}

/** A supply of which there is too little. */
export interface Lack {
  supplyId: number
  amount: number
  /** the first day it is missing; null where only the minimum is not met */
  neededOn: IsoDate | null
  /** the supply's own lead time, which goes before the seller's; null when it has none */
  leadTimeDays: number | null
  /** how fast it is used, and how long a pack keeps once it has come (null: it keeps); left out: all of it counts */
  keeps?: { usePerDay: number; days: number | null }
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
 * What to buy for what is missing: for each supply the mix of whole packs of one seller that covers it for least
 * money, price breaks counted; of a pack that goes off before it can be used up only what is used counts. Sellers that deliver in time go before
 * those that do not. A pack that holds several of the missing supplies is counted as sparing the cheapest purchase
 * of the others.
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
    const supplies = new Set(best.parts.flatMap(({ way }) => way.contents.map((content) => content.supplyId)))
    const covered = [...supplies].filter((supplyId) => (missing.get(supplyId) ?? 0) > 0)
    for (const part of best.parts) {
      for (const { supplyId, amount } of part.way.contents) {
        if (covered.includes(supplyId)) missing.set(supplyId, missing.get(supplyId)! - part.count * amount)
      }
      const own = covered.filter((supplyId) => part.way.contents.some((one) => one.supplyId === supplyId))
      addBuy(
        buys,
        part,
        own.map((supplyId) => lackOf.get(supplyId)!),
        today,
      )
    }
    // what goes off half used still covers what it was bought for
    missing.set(lack.supplyId, Math.min(0, missing.get(lack.supplyId)!))
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
  breaks: PackChoice["breaks"]
  leadTimeDays: number
}

interface Part {
  way: Way
  count: number
}

interface Choice {
  /** of one seller */
  parts: Part[]
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
        const way = { packId, contents: whole, ...offer, breaks: offer.breaks ?? [] }
        ways.set(supplyId, [...(ways.get(supplyId) ?? []), way])
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
  const single = (ways.get(lack.supplyId) ?? []).flatMap((way) => {
    const others = way.contents.filter(
      ({ supplyId }) => supplyId !== lack.supplyId && (missing.get(supplyId) ?? 0) > 0,
    )
    const enough = packsFor(missing.get(lack.supplyId)!, way, lack)
    if (enough === null) return []
    const counts = new Set([
      enough,
      ...others.map(({ supplyId }) =>
        Math.max(enough, packsFor(missing.get(supplyId)!, way, lackOf.get(supplyId)!) ?? enough),
      ),
    ])
    // more than enough can cost less where it reaches a break
    return [...new Set([...counts].map((count) => cheapestCount(way, count)))].map((count) => {
      const spared = others.map(({ supplyId, amount }) => {
        const lacking = missing.get(supplyId)!
        const alone = ways.get(supplyId)!
        const other = lackOf.get(supplyId)!
        return cheapest(lacking, alone, other) - cheapest(lacking - count * amount, alone, other)
      })
      return {
        parts: [{ way, count }],
        netMicro: costOf(way, count) - spared.reduce((a, b) => a + b, 0),
        inTime: [lack, ...others.map(({ supplyId }) => lackOf.get(supplyId)!)].every(
          (one) => !isPast(orderBy(one, way), today),
        ),
        leftOver: count * amountIn(way, lack.supplyId) - missing.get(lack.supplyId)!,
      }
    })
  })
  return [...single, ...mixesFor(lack, ways.get(lack.supplyId) ?? [], missing.get(lack.supplyId)!, today)]
}

/** Of each seller the cheapest mix of packs that hold nothing else. */
function mixesFor(lack: Lack, ways: readonly Way[], need: number, today: IsoDate): Choice[] {
  const alone = ways.filter((way) => way.contents.length === 1)
  return [...new Set(alone.map((way) => way.sellerId))].flatMap((sellerId) => {
    const own = alone.filter((way) => way.sellerId === sellerId)
    if (own.length < 2) return []
    const mix = cheapestMix(
      need,
      own.map((way) => ({ ...way, covers: coveredBy(way, lack) })),
    )
    if (mix === null || mix.counts.size < 2) return []
    const parts = own.flatMap((way) => {
      const count = mix.counts.get(way.packId)
      return count === undefined ? [] : [{ way, count }]
    })
    return {
      parts,
      netMicro: mix.costMicro,
      inTime: parts.every(({ way }) => !isPast(orderBy(lack, way), today)),
      leftOver: mix.over,
    }
  })
}

/** What one pack adds: all of it, or what is used of it before it goes off. */
function coveredBy(way: Way, { supplyId, keeps }: Lack): number {
  const amount = amountIn(way, supplyId)
  return keeps ? usableOf(amount, keeps.usePerDay, keeps.days) : amount
}

function isBetter(a: Choice, b: Choice): boolean {
  if (a.inTime !== b.inTime) return a.inTime
  if (a.netMicro !== b.netMicro) return a.netMicro < b.netMicro
  if (a.leftOver !== b.leftOver) return a.leftOver < b.leftOver
  const [one, other] = [a.parts[0]!.way, b.parts[0]!.way]
  return one.packId < other.packId || (one.packId === other.packId && one.sellerId < other.sellerId)
}

function addBuy(buys: Map<string, Buy>, { way, count }: Part, lacks: readonly Lack[], today: IsoDate): void {
  const key = `${way.packId} ${way.sellerId}`
  const known = buys.get(key)
  const by = earliest([known?.orderBy ?? null, ...lacks.map((lack) => orderBy(lack, way))])
  buys.set(key, {
    packId: way.packId,
    sellerId: way.sellerId,
    count: (known?.count ?? 0) + count,
    costMicro: costOf(way, (known?.count ?? 0) + count),
    supplyIds: [...new Set([...(known?.supplyIds ?? []), ...lacks.map((lack) => lack.supplyId)])],
    neededOn: earliest([known?.neededOn ?? null, ...lacks.map((lack) => lack.neededOn)]),
    leadTimeDays: Math.max(known?.leadTimeDays ?? 0, ...lacks.map((lack) => leadTime(lack, way))),
    orderBy: by,
    late: isPast(by, today),
  })
}

function cheapest(amount: number, ways: readonly Way[], lack: Lack): number {
  if (amount <= 0) return 0
  const costs = ways.flatMap((way) => {
    const count = packsFor(amount, way, lack)
    return count === null ? [] : [costOf(way, cheapestCount(way, count))]
  })
  return costs.length === 0 ? 0 : Math.min(...costs)
}

/** Null: nothing of it would be used before it goes off. */
function packsFor(amount: number, way: Way, lack: Lack): number | null {
  const covers = coveredBy(way, lack)
  return covers > 0 ? Math.ceil(amount / covers) : null
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
