import { stringify } from "csv-stringify/sync"
import { plusDays, sayDate } from "../domain/dates.ts"
import { formatMoney } from "../domain/money.ts"
import type { OrderCost } from "../domain/pack-mix.ts"
import { formatAmount } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { openPurchases, type Reason, type ShoppingLine, type ShoppingList, shoppingList } from "./service.ts"

export function shoppingPage(studio: Studio) {
  const list = shoppingList(studio)
  const { units, currency } = settingsOf(studio)
  const say = (reason: Reason) => {
    const amount = (value: number) =>
      `${formatAmount(value, reason.baseUnit, units)}${reason.baseUnit === "each" ? " pcs" : ""}`
    const short =
      reason.neededOn === null
        ? ""
        : `${amount(reason.missing)} missing from ${sayDate(reason.neededOn, list.today)}`
    const low =
      reason.belowMinimum === 0 ? "" : `${amount(reason.belowMinimum)} below its minimum when all is made`
    return `${reason.supply}: ${[short, low].filter(Boolean).join(", ")}`
  }
  return {
    title: "Shopping",
    lead: leadOf(list, currency),
    today: list.today,
    sellers: list.sellers.map((seller) => ({
      ...seller,
      lines: seller.lines.map((line) => ({
        ...line,
        form: `buy-${line.sellerId}-${line.packId}`,
        why: line.reasons.map(say),
        expectedOn: plusDays(list.today, line.leadTimeDays),
      })),
      text: textOf(seller.seller, seller.lines),
      terms: termsWords(seller.order, currency),
    })),
    nobodySells: list.nobodySells.map(say),
    purchases: openPurchases(studio).map((purchase) => ({
      ...purchase,
      overdue: purchase.expectedOn < list.today,
    })),
  }
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
export function shoppingCsv(studio: Studio): string {
  const { sellers } = shoppingList(studio)
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
  return stringify(rows, { header: true, columns, record_delimiter: "windows", escape_formulas: true })
}

function leadOf(list: ShoppingList, currency: string): string {
  if (list.sellers.length === 0) {
    return list.nobodySells.length === 0
      ? "Nothing needs to be bought: the plans are covered and nothing is below its minimum."
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
