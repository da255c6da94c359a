import { type IsoDate, plusDays, sayDate } from "../domain/dates.ts"
import { formatMoney } from "../domain/money.ts"
import type { OrderCost } from "../domain/pack-mix.ts"
import { type Said, sayAmount } from "../domain/said-amounts.ts"
import { substituteAmount } from "../domain/substitutes.ts"
import type { UnitSystem } from "../domain/units.ts"
import { breakWords, linesAsked } from "../forecast/service.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { orderById, ordersList } from "../orders/service.ts"
import { csvOf } from "../web/csv.ts"
import type { FormState } from "../web/forms.ts"
import { HORIZON_NAMES, HORIZON_WORDS, type HorizonName, horizonDays } from "./horizon.ts"
import {
  type OpenPurchase,
  openPurchases,
  type Reason,
  type ShoppingLine,
  type ShoppingList,
  shoppingList,
  TERMS,
} from "./service.ts"

/** What a shopping list is asked for. */
export interface Asking {
  horizon: HorizonName
  /** a draft order that is counted in; null: what is planned alone */
  draft: number | null
}

/** The address of the list, or of its table. */
export function shoppingAddress({ horizon, draft }: Asking, path = "/shopping"): string {
  return `${path}?horizon=${horizon}${draft === null ? "" : `&draft=${draft}`}`
}

const ALL: Asking = { horizon: "all", draft: null }

/** @throws {Refusal} no such draft order */
export function shoppingPage(studio: Studio, asking: Asking = ALL, state: FormState | null = null) {
  const { horizon, draft } = asking
  const list = listFor(studio, asking)
  const { units, currency } = settingsOf(studio)
  const say = (reason: Reason) => reasonWords(reason, list.today, units)
  return {
    title: "Shopping",
    lead: leadOf(list, currency, horizon),
    ...draftWords(studio, draft),
    today: list.today,
    horizon,
    table: shoppingAddress(asking, "/shopping.csv"),
    horizons: HORIZON_NAMES.map((name) => ({
      to: shoppingAddress({ horizon: name, draft }),
      label: HORIZON_WORDS[name],
      isChosen: name === horizon,
    })),
    until: horizonDays(horizon) === null ? null : plusDays(list.today, horizonDays(horizon)!),
    later: list.later,
    sellers: list.sellers.map((seller) => ({
      ...seller,
      form: `buy-${seller.sellerId}`,
      // the second tap, once it was said
      against: saidAgainst(state, `buy-${seller.sellerId}`),
      lines: seller.lines.map((line) => ({
        ...line,
        label: `${line.count} × ${line.pack}`,
        why: line.reasons.map((reason) => ({
          supplyId: reason.supplyId,
          supply: reason.supply,
          words: `${say(reason)}; ${holdsWords(line, reason, units)}`,
        })),
        instead: insteadOf(line.reasons),
        breakSays: breakWords(line, currency),
      })),
      expectedOn: plusDays(list.today, Math.max(...seller.lines.map((line) => line.leadTimeDays))),
      text: textOf(seller.seller, seller.lines),
      terms: termsWords(seller.order, currency),
      tooSmall: tooSmallWords(seller.order, currency),
    })),
    nobodySells: list.nobodySells.map((reason) => ({
      supplyId: reason.supplyId,
      supply: reason.supply,
      words: say(reason),
      instead: insteadOf([reason]),
    })),
    coming: comingBySeller(studio, list.today),
  }
}

function listFor(studio: Studio, { horizon, draft }: Asking): ShoppingList {
  const extra = draft === null ? [] : linesAsked(studio, { kind: "draft", orderId: draft })
  return shoppingList(studio, horizonDays(horizon), extra)
}

/** What is counted in besides the planned orders, and the way back to where it was asked. */
function draftWords(studio: Studio, draft: number | null) {
  if (draft === null) return { draft, counted: null, isDraft: false, drafts: draftsOf(studio) }
  const { state, buyer, lines } = orderById(studio, draft)
  const who = buyer === null ? "" : ` for ${buyer}`
  const isDraft = state === "draft"
  return {
    draft,
    isDraft,
    drafts: [],
    back: isDraft
      ? { to: `/forecast?draft=${draft}`, label: `What order ${draft} makes short` }
      : { to: `/orders/${draft}`, label: `Order ${draft}` },
    counted: !isDraft
      ? state === "planned"
        ? `Order ${draft} is planned by now: the list counts it like every other.`
        : `Order ${draft} is ${state}: the list is without it.`
      : `Draft order ${draft}${who} is counted in, as if it were planned: ${lines.map((line) => `${line.toStart} × ${line.design}`).join(", ")} to make.`,
  }
}

/** Draft orders with something to make: on no list until they are planned or asked for. */
function draftsOf(studio: Studio) {
  return ordersList(studio, ["draft"])
    .filter((order) => order.lines.some((line) => line.toStart > 0))
    .map(({ orderId, buyer, lines }) => ({
      to: shoppingAddress({ horizon: "all", draft: orderId }),
      name: `Order ${orderId}${buyer === null ? "" : ` for ${buyer}`}`,
      says: lines.map((line) => `${line.toStart} × ${line.design}`).join(", "),
    }))
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
  const amount = (value: number) => amountWords(value, reason, units)
  const short =
    reason.neededOn === null
      ? ""
      : `${amount(reason.missing)} missing from ${sayDate(reason.neededOn, today)}`
  const low =
    reason.belowMinimum === 0 ? "" : `${amount(reason.belowMinimum)} below its minimum when all is made`
  return [short, low].filter(Boolean).join(", ")
}

/** "3 packs hold 168 g": why so many. */
function holdsWords({ count, contents }: ShoppingLine, reason: Reason, units: UnitSystem): string {
  const one = contents.reduce(
    (sum, content) => sum + (content.supplyId === reason.supplyId ? content.amount : 0),
    0,
  )
  const packs = count === 1 ? "a pack holds" : `${count} packs hold`
  return `${packs} ${amountWords(count * one, reason, units)}`
}

/** What may be used in place of what is bought, for each that has something. */
function insteadOf(reasons: readonly Reason[]) {
  return reasons
    .filter((reason) => reason.substitutes.length > 0)
    .map((reason) => ({
      supply: reason.supply,
      substitutes: reason.substitutes.map((one) => {
        const needed = substituteAmount(reason.missing, one.ratioPpm)
        return { ...one, needed, isEnough: one.free >= needed }
      }),
    }))
}

function amountWords(value: number, thing: Said, units: UnitSystem): string {
  return `${sayAmount(value, thing, units)}${thing.baseUnit === "each" ? " pcs" : ""}`
}

/** What the seller's rules make of the order. */
function termsWords({ goodsMicro, shippingMicro, totalMicro, untilFreeMicro }: OrderCost, currency: string) {
  const money = (micro: number) => formatMoney(micro, currency)
  return [
    shippingMicro > 0
      ? `${money(goodsMicro)} and ${money(shippingMicro)} shipping: ${money(totalMicro)}.`
      : "",
    untilFreeMicro === null ? "" : `${money(untilFreeMicro)} more and it ships free.`,
  ].filter(Boolean)
}

function tooSmallWords({ belowMinimumMicro }: OrderCost, currency: string): string | null {
  return belowMinimumMicro > 0
    ? `The seller takes no order so small: ${formatMoney(belowMinimumMicro, currency)} more is needed.`
    : null
}

/** What was said against the order of that form; null: nothing. */
function saidAgainst(state: FormState | null, form: string): string | null {
  if (state?.form !== form) return null
  return state.problems.find(({ field }) => field === TERMS)?.sentence ?? null
}

/** The list as a table for a spreadsheet: RFC 4180, formulas made harmless. */
export function shoppingCsv(studio: Studio, asking: Asking = ALL): string {
  const { sellers } = listFor(studio, asking)
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
        : "Nothing needs to be bought: the plans are covered and nothing stays below its minimum."
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
