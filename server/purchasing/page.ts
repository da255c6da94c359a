import { type IsoDate, plusDays, sayDate } from "../domain/dates.ts"
import { formatMoney } from "../domain/money.ts"
import type { OrderCost } from "../domain/pack-mix.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { substituteAmount } from "../domain/substitutes.ts"
import { formatAmount, type UnitSystem } from "../domain/units.ts"
import type { OfferedSubstitute } from "../forecast/service.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { csvOf } from "../web/csv.ts"
import { HORIZON_NAMES, HORIZON_WORDS, type HorizonName, horizonDays } from "./horizon.ts"
import {
  type OpenPurchase,
  openPurchases,
  type Reason,
  type ShoppingLine,
  type ShoppingList,
  shoppingList,
} from "./service.ts"

export function shoppingPage(studio: Studio, horizon: HorizonName = "all") {
  const list = shoppingList(studio, horizonDays(horizon))
  const { units, currency } = settingsOf(studio)
  const say = (reason: Reason) => reasonWords(reason, list.today, units)
  return {
    title: "Shopping",
    lead: leadOf(list, currency, horizon),
    today: list.today,
    horizon,
    horizons: HORIZON_NAMES.map((name) => ({
      name,
      label: HORIZON_WORDS[name],
      isChosen: name === horizon,
    })),
    until: horizonDays(horizon) === null ? null : plusDays(list.today, horizonDays(horizon)!),
    later: list.later,
    sellers: list.sellers.map((seller) => ({
      ...seller,
      form: `buy-${seller.sellerId}`,
      lines: seller.lines.map((line) => ({
        ...line,
        label: `${line.count} × ${line.pack}`,
        why: line.reasons.map((reason) => ({
          supplyId: reason.supplyId,
          supply: reason.supply,
          words: `${say(reason)}; ${holdsWords(line, reason, units)}`,
        })),
        insteadOf: line.reasons.flatMap((reason) =>
          reason.substitutes.map((one) => offerWords(one, reason, units)),
        ),
      })),
      expectedOn: plusDays(list.today, Math.max(...seller.lines.map((line) => line.leadTimeDays))),
      text: textOf(seller.seller, seller.lines),
      terms: termsWords(seller.order, currency),
    })),
    nobodySells: list.nobodySells.map((reason) => ({
      supplyId: reason.supplyId,
      supply: reason.supply,
      words: say(reason),
      insteadOf: reason.substitutes.map((one) => offerWords(one, reason, units)),
    })),
    coming: comingBySeller(studio, list.today),
  }
}

/** What is ordered and has not come, by seller, the next expected first. */
function comingBySeller(studio: Studio, today: IsoDate) {
  const groups = new Map<
    number,
    { sellerId: number; seller: string; purchases: (OpenPurchase & { overdue: boolean })[] }
  >()
  for (const purchase of openPurchases(studio)) {
    const { sellerId, seller } = purchase
    const group = groups.get(sellerId) ?? { sellerId, seller, purchases: [] }
    groups.set(sellerId, group)
    group.purchases.push({ ...purchase, overdue: purchase.expectedOn < today })
  }
  return [...groups.values()]
}

function reasonWords(reason: Reason, today: IsoDate, units: UnitSystem): string {
  const amount = (value: number) => amountWords(value, reason.baseUnit, units)
  const short =
    reason.neededOn === null
      ? ""
      : `${amount(reason.missing)} missing from ${sayDate(reason.neededOn, today)}`
  const low =
    reason.belowMinimum === 0 ? "" : `${amount(reason.belowMinimum)} below its minimum when all is made`
  return [short, low].filter(Boolean).join(", ")
}

/** "3 packs hold 168 g": why so many. */
function holdsWords(
  { count, contents }: ShoppingLine,
  { supplyId, baseUnit }: Reason,
  units: UnitSystem,
): string {
  const one = contents.reduce((sum, content) => sum + (content.supplyId === supplyId ? content.amount : 0), 0)
  const packs = count === 1 ? "a pack holds" : `${count} packs hold`
  return `${packs} ${amountWords(count * one, baseUnit, units)}`
}

function offerWords(offer: OfferedSubstitute, { missing }: Reason, units: UnitSystem): string {
  const amount = (value: number) => amountWords(value, offer.baseUnit, units)
  const needed = substituteAmount(missing, offer.ratioPpm)
  const part = offer.free < needed ? `; ${amount(needed)} would be needed` : ""
  return `Or use ${offer.supply}, of which ${amount(offer.free)} are free after all other needs${part}. You choose it at the batch.`
}

function amountWords(value: number, baseUnit: BaseUnit, units: UnitSystem): string {
  return `${formatAmount(value, baseUnit, units)}${baseUnit === "each" ? " pcs" : ""}`
}

/** What the seller's rules make of the order. */
function termsWords(
  { goodsMicro, shippingMicro, totalMicro, belowMinimumMicro, untilFreeMicro }: OrderCost,
  currency: string,
) {
  const money = (micro: number) => formatMoney(micro, currency)
  return [
    shippingMicro > 0
      ? `${money(goodsMicro)} and ${money(shippingMicro)} shipping: ${money(totalMicro)}.`
      : "",
    untilFreeMicro === null ? "" : `${money(untilFreeMicro)} more and it ships free.`,
    belowMinimumMicro > 0
      ? `The seller takes no order so small: ${money(belowMinimumMicro)} more is needed.`
      : "",
  ].filter(Boolean)
}

/** The list as a table for a spreadsheet: RFC 4180, formulas made harmless. */
export function shoppingCsv(studio: Studio, horizon: HorizonName = "all"): string {
  const { sellers } = shoppingList(studio, horizonDays(horizon))
  const rows = sellers.flatMap(({ seller, lines }) =>
    lines.map((line) => ({
      seller,
      pack: line.pack,
      packs: line.count,
      cost: line.costMicro / 1e6,
      currency: settingsOf(studio).currency,
      order_by: line.orderBy ?? "",
      needed_on: line.neededOn ?? "",
      here_if_ordered_today: line.hereOn,
      for: line.reasons.map((reason) => reason.supply).join("; "),
    })),
  )
  const columns = [
    "seller",
    "pack",
    "packs",
    "cost",
    "currency",
    "order_by",
    "needed_on",
    "here_if_ordered_today",
    "for",
  ]
  return csvOf(columns, rows)
}

function leadOf(list: ShoppingList, currency: string, horizon: HorizonName): string {
  if (list.sellers.length === 0) {
    return list.nobodySells.length === 0
      ? list.later.length > 0
        ? `Nothing has to be ordered in the ${HORIZON_WORDS[horizon]}.`
        : "Nothing needs to be bought: the plans are covered and nothing is below its minimum."
      : "Some supplies are needed, but no pack of them has a price."
  }
  const orderBy = list.sellers
    .map((seller) => seller.orderBy)
    .filter((day) => day !== null)
    .sort()[0]
  const packs = list.sellers.reduce(
    (sum, seller) => sum + seller.lines.reduce((n, line) => n + line.count, 0),
    0,
  )
  const when =
    orderBy === undefined
      ? ""
      : orderBy < list.today
        ? ` Some should have been ordered by ${sayDate(orderBy, list.today)}.`
        : ` Order the first by ${sayDate(orderBy, list.today)}.`
  return (
    `${packs} ${packs === 1 ? "pack" : "packs"} from ${list.sellers.length} ${list.sellers.length === 1 ? "seller" : "sellers"}, ` +
    `${formatMoney(list.costMicro, currency)} in all.${when}`
  )
}

/** Plain lines, for a message to the seller. */
function textOf(seller: string, lines: readonly ShoppingLine[]): string {
  return [`To ${seller}:`, ...lines.map((line) => `${line.count} x ${line.pack}`)].join("\n")
}
