import type { IsoDate } from "../domain/dates.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { type AnswerBuy, forecast, whatToBuyHere } from "../forecast/service.ts"
import { type Studio, todayOf } from "../ledger/studio.ts"
import { lowSupplies } from "../shelf/service.ts"
import { suppliesList } from "../supplies/service.ts"

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
  /** what is bought for: the larger of what is missing and what its minimum asks for */
  amount: number
  missing: number
  belowMinimum: number
  /** the first day it is missing; null: only its minimum is not met */
  neededOn: IsoDate | null
}

export interface ShoppingLine extends AnswerBuy {
  reasons: Reason[]
}

/** What to buy from one seller. */
export interface SellerList {
  sellerId: number
  seller: string
  lines: ShoppingLine[]
  costMicro: number
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

/**
 * What to buy, by seller: whole packs for what runs short of the plans, and up to the minimum for what is low.
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
  const sellers = new Map<number, SellerList>()
  for (const buy of buys) {
    const list = sellers.get(buy.sellerId) ?? {
      sellerId: buy.sellerId,
      seller: buy.seller,
      lines: [],
      costMicro: 0,
      // buys come by order-by day, so the first is the earliest
      orderBy: buy.orderBy,
    }
    sellers.set(buy.sellerId, list)
    list.lines.push({ ...buy, reasons: reasons.filter((reason) => buy.supplyIds.includes(reason.supplyId)) })
    list.costMicro += buy.costMicro
  }
  return {
    today,
    sellers: [...sellers.values()],
    nobodySells: reasons.filter((reason) => nobodySells.includes(reason.supplyId)),
    costMicro: buys.reduce((sum, buy) => sum + buy.costMicro, 0),
  }
}

function reasonsFor(studio: Studio): Reason[] {
  const answer = forecast(studio)
  const coming = new Map<number, number>()
  for (const { supplyId, amount } of answer.arrivals)
    coming.set(supplyId, (coming.get(supplyId) ?? 0) + amount)
  const low = new Map(
    lowSupplies(studio)
      .map((one) => ({ ...one, below: one.minimum - one.onHand - (coming.get(one.supplyId) ?? 0) }))
      .filter((one) => one.below > 0)
      .map((one) => [one.supplyId, one]),
  )
  const short = answer.shortfalls.map(({ supplyId, supply, baseUnit, missing, firstOn }) => {
    const belowMinimum = low.get(supplyId)?.below ?? 0
    low.delete(supplyId)
    const amount = Math.max(missing, belowMinimum)
    return { supplyId, supply, baseUnit, amount, missing, belowMinimum, neededOn: firstOn }
  })
  const onlyLow = [...low.values()].map(({ supplyId, supply, baseUnit, below }) => ({
    supplyId,
    supply,
    baseUnit,
    amount: below,
    missing: 0,
    belowMinimum: below,
    neededOn: null,
  }))
  return [...short, ...onlyLow]
}
