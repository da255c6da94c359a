import type { Lack } from "../domain/buying.ts"
import type { IsoDate } from "../domain/dates.ts"
import { type OrderCost, orderCost, type SellerTerms } from "../domain/pack-mix.ts"
import type { BaseUnit, SheetSize } from "../domain/plan.ts"
import {
  type AnswerBuy,
  type AnswerShortfall,
  type DraftLine,
  forecast,
  keepsOf,
  type OfferedSubstitute,
  whatToBuyHere,
} from "../forecast/service.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { sellers as sellersOf, suppliesList } from "../supplies/service.ts"
import { lastNeedFor } from "./horizon.ts"

export {
  cancelPurchase,
  expectPurchase,
  type OpenPurchase,
  openPurchases,
  orderFromSeller,
  orderPacks,
  type PurchaseInput,
  packFrom,
  TERMS,
} from "./purchases.ts"

/** Why a supply is on the list, in its base unit. */
export interface Reason {
  supplyId: number
  supply: string
  baseUnit: BaseUnit
  /** one sheet of it; null: not known, or no sheets */
  sheet: SheetSize | null
  /** what is bought for: what is missing, and what its minimum asks for after that */
  amount: number
  missing: number
  /** how far what is left when all is made stays below the minimum */
  belowMinimum: number
  /** the first day it is missing; null: only its minimum is not met */
  neededOn: IsoDate | null
  /** what may be used in its place, of which something is free */
  substitutes: readonly OfferedSubstitute[]
  /** how fast it is used and how long it keeps */
  keeps?: NonNullable<Lack["keeps"]>
}

export interface ShoppingLine extends AnswerBuy {
  reasons: Reason[]
}

/** What to buy from one seller. */
export interface SellerList {
  sellerId: number
  seller: string
  lines: ShoppingLine[]
  /** goods alone */
  costMicro: number
  /** with shipping, minimum and free shipping as the seller has them */
  order: OrderCost
  /** the earliest order-by day on the list */
  orderBy: IsoDate | null
}

export interface ShoppingList {
  today: IsoDate
  sellers: SellerList[]
  /** short too, but it can be ordered after the horizon, by name */
  later: string[]
  /** on no list, since no pack of it has a price */
  nobodySells: Reason[]
  costMicro: number
}

const NO_TERMS: SellerTerms = { minimumMicro: null, shippingMicro: 0, freeFromMicro: null }

/**
 * What to buy, by seller: whole packs for what runs short of the plans, and so much more that the minimum is still
 * there when all is made.
 * What is ordered and expected is on the list no more, also where it comes late, unless somebody could bring more sooner.
 *
 * @param horizon in days: only what has to be ordered by then, see `lastNeedFor`; null: all that is planned
 * @param extra lines counted in as if they were planned
 */
export function shoppingList(
  studio: Studio,
  horizon: number | null = null,
  extra: readonly DraftLine[] = [],
): ShoppingList {
  const today = todayOf(studio)
  const { reasons, later } = reasonsFor(studio, lastNeedFor(studio, today, horizon), extra)
  const leadOf = new Map(suppliesList(studio).map((supply) => [supply.id, supply.leadTimeDays]))
  const { buys, nobodySells } = whatToBuyHere(
    studio,
    reasons.map((reason) => ({ ...reason, leadTimeDays: leadOf.get(reason.supplyId) ?? null })),
    today,
  )
  const terms = new Map(sellersOf(studio).map((seller) => [seller.id, seller]))
  const sellers = new Map<number, SellerList>()
  for (const buy of buys) {
    const list = sellers.get(buy.sellerId) ?? {
      sellerId: buy.sellerId,
      seller: buy.seller,
      lines: [],
      costMicro: 0,
      order: orderCost(0, NO_TERMS),
      // buys come by order-by day, so the first is the earliest
      orderBy: buy.orderBy,
    }
    sellers.set(buy.sellerId, list)
    list.lines.push({ ...buy, reasons: reasons.filter((reason) => buy.supplyIds.includes(reason.supplyId)) })
    list.costMicro += buy.costMicro
    list.order = orderCost(list.costMicro, terms.get(buy.sellerId) ?? NO_TERMS)
  }
  return {
    today,
    sellers: [...sellers.values()],
    later,
    nobodySells: reasons.filter((reason) => nobodySells.includes(reason.supplyId)),
    costMicro: [...sellers.values()].reduce((sum, list) => sum + list.order.totalMicro, 0),
  }
}

function reasonsFor(
  studio: Studio,
  lastNeed: ReturnType<typeof lastNeedFor>,
  extra: readonly DraftLine[],
): { reasons: Reason[]; later: string[] } {
  const answer = forecast(studio, { extra })
  const short = new Map(answer.shortfalls.map((one) => [one.supplyId, one]))
  const supplies = suppliesList(studio)
  const until = new Map(supplies.map((supply) => [supply.id, lastNeed(supply)]))
  const neededLater = new Map<number, number>()
  for (const { supplyId, on, amount } of answer.needs) {
    if (isAfter(on, until.get(supplyId) ?? null))
      neededLater.set(supplyId, (neededLater.get(supplyId) ?? 0) + amount)
  }
  const later: string[] = []
  const reasons = supplies.flatMap((supply): Reason[] => {
    const all = short.get(supply.id)
    const lack = all && upTo(all, until.get(supply.id) ?? null)
    if (all && !lack && all.toBuy > 0) later.push(supply.name)
    const left = Math.max(0, (answer.leftAfter.get(supply.id) ?? 0) + (neededLater.get(supply.id) ?? 0))
    const belowMinimum = Math.max(0, supply.minimumAmount - left)
    const missing = lack ? Math.max(0, lack.missing - (lack.onItsWay?.amount ?? 0)) : 0
    if (missing + belowMinimum === 0) return []
    return [
      {
        supplyId: supply.id,
        supply: supply.name,
        baseUnit: supply.baseUnit,
        sheet: supply.sheet,
        amount: missing + belowMinimum,
        missing,
        belowMinimum,
        neededOn: missing > 0 ? (lack?.firstOn ?? null) : null,
        substitutes: missing > 0 ? (lack?.substitutes ?? []) : [],
        // what stays on the shelf as the minimum is used later: then all of a pack counts
        ...(lack && belowMinimum === 0 ? { keeps: keepsOf(lack, supply.shelfLife) } : {}),
      },
    ]
  })
  const order = (reason: Reason) => reason.neededOn ?? "~"
  return {
    reasons: reasons.sort((a, b) =>
      order(a) < order(b) ? -1 : order(a) > order(b) ? 1 : a.supplyId - b.supplyId,
    ),
    later,
  }
}

/** A shortfall as far as it lies before some day; null: all of it comes later. */
function upTo(short: AnswerShortfall, last: IsoDate | null): AnswerShortfall | null {
  const days = short.days.filter(({ on }) => !isAfter(on, last))
  return days.length === 0
    ? null
    : { ...short, days, missing: days.reduce((sum, { missing }) => sum + missing, 0) }
}

function isAfter(on: IsoDate, last: IsoDate | null): boolean {
  return last !== null && on > last
}
