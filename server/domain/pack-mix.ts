/** A lower price a pack, from so many packs on. */
interface PriceBreak {
  fromCount: number
  priceMicro: number
}

/** One size at one seller, for one supply. */
export interface PackChoice {
  packId: number
  /** base units in one pack that will really be used; less than it holds where it would go off first (`usableOf`) */
  covers: number
  priceMicro: number
  /** cheaper a pack from so many on, counts rising */
  breaks: readonly PriceBreak[]
}

/** So many of each size, and what they cost together. */
export interface PackMix {
  counts: ReadonlyMap<number, number>
  costMicro: number
  /** above the need */
  over: number
}

/** Nobody buys more packs of one size at once; past it the need is a slip of the thumb. */
const MOST_PACKS = 2_000

/**
 * The mix of whole packs that covers a need for least money. Of equal cost the one with least over, then with
 * fewest packs.
 *
 * Exact: tries the sizes one after the other with every count, and gives up a branch as soon as even the best rate
 * a unit could not make it cheaper than the best mix found.
 *
 * @param need base units, above zero
 * @param choices of one seller; at least one that covers anything
 * @returns null when nothing covers anything, or a need for more packs than anybody buys
 */
export function cheapestMix(need: number, choices: readonly PackChoice[]): PackMix | null {
  if (!(need > 0)) throw new RangeError(`nothing is bought for a need of ${need}`)
  // the cheapest rate first: a good mix is found early, and most branches end at once
  const sizes = choices
    .filter((choice) => choice.covers > 0)
    .map((choice) => ({ ...choice, rate: bestPrice(choice) / choice.covers }))
    .toSorted((a, b) => a.rate - b.rate || b.covers - a.covers || a.packId - b.packId)
  if (sizes.length === 0) return null
  let best: { counts: number[]; costMicro: number; over: number; packs: number } | null = null

  const search = (index: number, left: number, counts: readonly number[], costMicro: number) => {
    if (left <= 0) {
      const packs = counts.reduce((a, b) => a + b, 0)
      const found = { counts: [...counts], costMicro, over: 0 - left, packs }
      if (best === null || isBetter(found, best)) best = found
      return
    }
    const size = sizes[index]
    // sizes come by rate, so what is left costs at least this
    if (!size || (best !== null && costMicro + left * size.rate > best.costMicro + 0.5)) return
    const enough = Math.min(MOST_PACKS, Math.ceil(left / size.covers))
    // one more than enough can be cheaper where it reaches a break
    const most = Math.max(enough, ...size.breaks.map((one) => Math.min(one.fromCount, MOST_PACKS)))
    for (let count = most; count >= 0; count--) {
      search(index + 1, left - count * size.covers, [...counts, count], costMicro + costOf(size, count))
    }
  }
  search(0, need, [], 0)
  if (best === null) return null
  const found: { counts: number[]; costMicro: number; over: number } = best
  return {
    counts: new Map(
      found.counts.flatMap((count, index) =>
        count > 0 ? [[sizes[index]?.packId ?? 0, count] as const] : [],
      ),
    ),
    costMicro: found.costMicro,
    over: found.over,
  }
}

/** What a seller asks for a pack. */
type Asked = Pick<PackChoice, "priceMicro" | "breaks">

/** What so many packs cost, at the price that holds from that count on. */
export function costOf(asked: Asked, count: number): number {
  return count * (breakAt(asked, count) ?? asked).priceMicro
}

/** The break whose price holds for so many packs; null: the price of one. */
function breakAt({ breaks }: Asked, count: number): PriceBreak | null {
  return breaks.findLast((one) => count >= one.fromCount) ?? null
}

/** So many packs, or as many more as a break asks for where those cost less together. */
export function cheapestCount(asked: Asked, enough: number): number {
  const more = asked.breaks.map((one) => one.fromCount).filter((count) => count > enough)
  return more.reduce((best, count) => (costOf(asked, count) < costOf(asked, best) ? count : best), enough)
}

/** Further away than so many packs nobody is told of a break. Common practice, no source. */
const FEW_PACKS = 3

/** What price breaks make of so many packs of one kind. */
export interface BreakNews {
  /** the price a pack from so many on, which these packs have; null: they have none */
  held: PriceBreak | null
  /** a pack fewer costs as much or more */
  fewerCost: "as much" | "more" | null
  /** the next break, a few packs more, and what so many would cost */
  near: (PriceBreak & { more: number; costMicro: number }) | null
}

/** @returns null: no break is held or near */
export function breakNews(asked: Asked, count: number): BreakNews | null {
  const held = breakAt(asked, count)
  const below = count > 1 ? costOf(asked, count - 1) : Number.NEGATIVE_INFINITY
  const next = asked.breaks.find((one) => one.fromCount > count)
  const near =
    next && next.fromCount - count <= FEW_PACKS
      ? { ...next, more: next.fromCount - count, costMicro: costOf(asked, next.fromCount) }
      : null
  if (held === null && near === null) return null
  return {
    held,
    fewerCost: below > costOf(asked, count) ? "more" : below === costOf(asked, count) ? "as much" : null,
    near,
  }
}

/**
 * How much of a pack will be used before it goes off: all of it, or what is used while it keeps.
 *
 * @param usePerDay base units; 0: nothing is known, and all of it counts
 * @param keepsDays days until it must be used up, once it has come; null: it keeps
 */
export function usableOf(amount: number, usePerDay: number, keepsDays: number | null): number {
  if (keepsDays === null || usePerDay <= 0) return amount
  return Math.min(amount, Math.floor(usePerDay * keepsDays))
}

/** How a seller sends. Null: no such rule. */
export interface SellerTerms {
  /** takes no order below */
  minimumMicro: number | null
  shippingMicro: number
  /** ships without charge from */
  freeFromMicro: number | null
}

/** What an order at a seller comes to, and what would change it. */
export interface OrderCost {
  goodsMicro: number
  shippingMicro: number
  totalMicro: number
  /** how much more it takes to be accepted; 0: it is */
  belowMinimumMicro: number
  /** how much more until nothing is charged for shipping; null: it is free already, or never */
  untilFreeMicro: number | null
}

/** Minimum, shipping and free shipping as they apply to goods of that worth. */
export function orderCost(goodsMicro: number, terms: SellerTerms): OrderCost {
  const isFree = terms.freeFromMicro !== null && goodsMicro >= terms.freeFromMicro
  const shippingMicro = goodsMicro === 0 || isFree ? 0 : terms.shippingMicro
  return {
    goodsMicro,
    shippingMicro,
    totalMicro: goodsMicro + shippingMicro,
    belowMinimumMicro: goodsMicro === 0 ? 0 : Math.max(0, (terms.minimumMicro ?? 0) - goodsMicro),
    untilFreeMicro:
      terms.freeFromMicro === null || isFree || shippingMicro === 0 ? null : terms.freeFromMicro - goodsMicro,
  }
}

function bestPrice({ priceMicro, breaks }: PackChoice): number {
  return Math.min(priceMicro, ...breaks.map((one) => one.priceMicro))
}

function isBetter(
  one: { costMicro: number; over: number; packs: number },
  other: { costMicro: number; over: number; packs: number },
): boolean {
  if (one.costMicro !== other.costMicro) return one.costMicro < other.costMicro
  return one.over !== other.over ? one.over < other.over : one.packs < other.packs
}
