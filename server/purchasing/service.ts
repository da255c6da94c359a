import type { Lack } from "../domain/buying.ts"
import type { IsoDate } from "../domain/dates.ts"
import { type OrderCost, orderCost, type SellerTerms } from "../domain/pack-mix.ts"
import type { BaseUnit } from "../domain/plan.ts"
import {
  type AnswerBuy,
  forecast,
  keepsOf,
  type OfferedSubstitute,
  whatToBuyHere,
} from "../forecast/service.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { sellers as sellersOf, suppliesList } from "../supplies/service.ts"

export {
  cancelPurchase,
  expectPurchase,
  type OpenPurchase,
  openPurchases,
  orderPacks,
  type PurchaseInput,
} from "./purchases.ts"

/** Why a supply is on the list, in its base unit. */
export interface Reason {
  supplyId: number
  supply: string
  baseUnit: BaseUnit
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
  /** on no list, since no pack of it has a price */
  nobodySells: Reason[]
  costMicro: number
}

const NO_TERMS: SellerTerms = { minimumMicro: null, shippingMicro: 0, freeFromMicro: null }

/**
 * What to buy, by seller: whole packs for what runs short of the plans, and so much more that the minimum is still
 * there when all is made.
 * What is ordered and expected is on the list no more.
 */
export function shoppingList(studio: Studio): ShoppingList {
  const today = todayOf(studio)
  const reasons = reasonsFor(studio)
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
    nobodySells: reasons.filter((reason) => nobodySells.includes(reason.supplyId)),
    costMicro: [...sellers.values()].reduce((sum, list) => sum + list.order.totalMicro, 0),
  }
}

function reasonsFor(studio: Studio): Reason[] {
  const answer = forecast(studio)
  const short = new Map(answer.shortfalls.map((one) => [one.supplyId, one]))
  const reasons = suppliesList(studio).flatMap((supply): Reason[] => {
    const lack = short.get(supply.id)
    const left = Math.max(0, answer.leftAfter.get(supply.id) ?? 0)
    const belowMinimum = Math.max(0, supply.minimumAmount - left)
    const missing = lack?.missing ?? 0
    if (missing + belowMinimum === 0) return []
    return [
      {
        supplyId: supply.id,
        supply: supply.name,
        baseUnit: supply.baseUnit,
        amount: missing + belowMinimum,
        missing,
        belowMinimum,
        neededOn: lack?.firstOn ?? null,
        substitutes: lack?.substitutes ?? [],
        // what stays on the shelf as the minimum is used later: then all of a pack counts
        ...(lack && belowMinimum === 0 ? { keeps: keepsOf(lack, supply.shelfLife) } : {}),
      },
    ]
  })
  const order = (reason: Reason) => reason.neededOn ?? "~"
  return reasons.sort((a, b) =>
    order(a) < order(b) ? -1 : order(a) > order(b) ? 1 : a.supplyId - b.supplyId,
  )
}
