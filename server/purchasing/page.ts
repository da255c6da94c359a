import { plusDays, sayDate } from "../domain/dates.ts"
import { formatMoney } from "../domain/money.ts"
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
    const low = reason.belowMinimum === 0 ? "" : `${amount(reason.belowMinimum)} below its minimum`
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
    })),
    nobodySells: list.nobodySells.map(say),
    purchases: openPurchases(studio).map((purchase) => ({
      ...purchase,
      overdue: purchase.expectedOn < list.today,
    })),
  }
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
