import { cupCosts } from "../batches/service.ts"
import { type IsoDate, sayDate } from "../domain/dates.ts"
import { formatMoney, smallestCoin } from "../domain/money.ts"
import { roundParts } from "../domain/rounding.ts"
import { type Studio, settingsOf, todayOf } from "../ledger/studio.ts"
import { KINDS } from "../shelf/service.ts"
import {
  byGroup,
  type CupMoney,
  finishedCups,
  type Margin,
  marginOf,
  orderMustBeThere,
  roundMargins,
} from "./cups.ts"
import { COLUMNS, type Column, materials, rounded } from "./materials.ts"
import { type SupplyValue, shelfValue } from "./shelf-value.ts"
import type { Span } from "./span.ts"
import { leftOut } from "./unpriced.ts"
import { losses } from "./waste.ts"
import { reasonOf } from "./waste-reasons.ts"
import { COLUMN_WORDS, COMING, GOING, NO_ADVICE } from "./words.ts"

const BACK = { to: "/money", label: "Money" }

/** Where money is told, with the figure that each page is about. */
export function moneyPage(studio: Studio, year: Span) {
  const say = sayer(studio)
  const worth = sum(shelfValue(studio.file, null).map(({ micro }) => micro))
  const { total } = account(studio, year)
  const cups = finishedCups(studio, year)
  const margin = marginOf(cups)
  return {
    title: "Money",
    lead: `What is on the shelf cost ${say(worth)}. This year ${say(total.cups)} of materials went into cups.`,
    places: [
      {
        to: "/money/shelf",
        label: "What the shelf is worth",
        about: "today or on any past day",
        figure: say(worth),
      },
      {
        to: "/money/materials",
        label: "Materials of a year",
        about: "on the shelf before, bought, used, on the shelf after: for the tax return",
        figure: `${say(total.bought + total.extras)} bought this year`,
      },
      {
        to: "/money/designs",
        label: "What cups cost and bring",
        about: "by design, from the very bottles they were made from",
        figure:
          cups.length === 0 ? "none finished this year" : `${say(margin.leftMicro)} left over this year`,
      },
      {
        to: "/money/orders",
        label: "What orders bring",
        about: "price, materials and what is left over of each order",
        figure: "",
      },
      {
        to: "/money/waste",
        label: "Waste in money",
        about: "spilled, thrown away, given away, missing at a count",
        figure: `${say(total.waste + total.given + total.counted)} this year`,
      },
    ],
    note: NO_ADVICE,
  }
}

/** The shelf's value at the end of a day, by kind and supply, rounded so that all of it adds up. */
export function shelfPage(studio: Studio, asked: IsoDate | null) {
  const today = todayOf(studio)
  const say = sayer(studio)
  const day = asked === null || asked >= today ? null : asked
  const supplies = shelfRows(studio, day)
  const total = sum(supplies.map(({ micro }) => micro))
  const below = supplies.filter(({ micro, amount }) => micro < 0 || amount < 0)
  return {
    title: "What the shelf is worth",
    lead:
      day === null
        ? `What is on the shelf today cost ${say(total)}.`
        : `What was on the shelf at the end of ${sayDate(day, today)} had cost ${say(total)}.`,
    back: BACK,
    on: day ?? today,
    today,
    isPast: day !== null,
    csv: `/money/shelf.csv?on=${day ?? today}`,
    kinds: KINDS.map(({ value, label }) => {
      const rows = supplies.filter(({ kind }) => kind === value)
      return { label, rows, micro: sum(rows.map(({ micro }) => micro)) }
    }).filter(({ rows }) => rows.length > 0),
    total,
    below: below.map(({ supply }) => supply).join(", "),
  }
}

/** Rounded to the smallest coin; the parts add up to the rounded whole. */
export function shelfRows(studio: Studio, day: IsoDate | null): SupplyValue[] {
  const supplies = shelfValue(studio.file, day)
  const micros = roundParts(
    supplies.map(({ micro }) => micro),
    coinOf(studio),
  )
  return supplies.map((supply, index) => ({ ...supply, micro: micros[index] ?? 0 }))
}

/** The account of a span of days, to the smallest coin. */
export function account(studio: Studio, span: Span) {
  return rounded(materials(studio.file, span.from, span.until), coinOf(studio))
}

export function materialsPage(studio: Studio, span: Span) {
  const say = sayer(studio)
  const { kinds, total } = account(studio, span)
  const gone = sum(GOING.map((column) => total[column]))
  const shown = COLUMNS.filter(
    (column) =>
      ["opening", "bought", "cups", "closing"].includes(column) || kinds.some(({ of }) => of[column] !== 0),
  )
  const line = (column: Column) => ({ ...COLUMN_WORDS[column], micro: total[column] })
  return {
    title: "Materials of a year",
    lead: `${say(gone)} of materials left the shelf ${span.words}; ${say(total.cups)} of it went into cups.`,
    back: BACK,
    span,
    csv: `/money/materials.csv?${span.query}`,
    isEmpty: kinds.length === 0,
    coming: COMING.filter((column) => shown.includes(column)).map(line),
    closing: line("closing"),
    gone,
    going: GOING.filter((column) => shown.includes(column)).map(line),
    columns: shown.map((column) => COLUMN_WORDS[column].label),
    kinds: kinds.map(({ kind, of }) => ({
      label: kindLabel(kind),
      cells: shown.map((column) => ({ label: COLUMN_WORDS[column].label, micro: of[column] })),
    })),
    totals: shown.map((column) => ({ label: COLUMN_WORDS[column].label, micro: total[column] })),
    note: NO_ADVICE,
  }
}

export function wastePage(studio: Studio, span: Span) {
  const say = sayer(studio)
  const all = losses(studio.file, span.from, span.until ?? undefined)
  const exact = byReason(all)
  const coins = roundParts(
    exact.map(({ micro }) => micro),
    coinOf(studio),
  )
  const reasons = exact.map((reason, index) => ({ ...reason, micro: coins[index] ?? 0 }))
  const total = sum(coins)
  const oneByOne = asTheirReasons(all, reasons, coinOf(studio))
  const scrapped = finishedCups(studio, span).filter(({ state }) => state === "scrapped")
  return {
    title: "Waste in money",
    lead:
      all.length === 0
        ? `Nothing was wasted, given away or missing ${span.words}.`
        : `${say(total)} left the shelf ${span.words} and became no cup.`,
    back: BACK,
    span,
    csv: `/money/waste.csv?${span.query}`,
    reasons,
    total,
    scrapped: {
      cups: scrapped.length,
      micro: sum(scrapped.map(({ materialsMicro }) => materialsMicro)),
    },
    all: oneByOne.slice(0, MOST_LOSSES).map((loss) => ({ ...loss, why: reasonOf(loss) })),
    more: Math.max(0, all.length - MOST_LOSSES),
  }
}

const MOST_LOSSES = 100

function byReason(all: ReturnType<typeof losses>) {
  const reasons = new Map<string, { times: number; micro: number }>()
  for (const loss of all) {
    const known = reasons.get(reasonOf(loss)) ?? { times: 0, micro: 0 }
    reasons.set(reasonOf(loss), { times: known.times + 1, micro: known.micro + loss.micro })
  }
  return [...reasons].map(([reason, sums]) => ({ reason, ...sums })).sort((a, b) => b.micro - a.micro)
}

/** The losses to the smallest coin, so that those of a reason add up to what is said of it. */
function asTheirReasons(
  all: ReturnType<typeof losses>,
  reasons: readonly { reason: string; micro: number }[],
  coin: number,
): ReturnType<typeof losses> {
  const rounded = new Map(
    reasons.flatMap(({ reason, micro }) => {
      const own = all.filter((loss) => reasonOf(loss) === reason)
      const coins = roundParts(
        own.map((loss) => loss.micro),
        coin,
        micro,
      )
      return own.map((loss, index) => [loss, coins[index] ?? 0] as const)
    }),
  )
  return all.map((loss) => ({ ...loss, micro: rounded.get(loss) ?? 0 }))
}

export function designsPage(studio: Studio, span: Span) {
  const say = sayer(studio)
  const cups = finishedCups(studio, span)
  const all = marginOf(cups)
  const out = leftOut(studio, cups)
  const { rows, all: sums } = roundMargins(
    byGroup(cups, (cup) => cup.designId).map(([designId, own]) => designRow(designId, own)),
    coinOf(studio),
  )
  return {
    title: "What cups cost and bring",
    lead:
      cups.length === 0
        ? `No cup was finished ${span.words}.`
        : `${count(all.cups, "cup")} finished ${span.words} cost ${out === "" ? "" : "at least "}${say(all.materialsMicro)} in materials` +
          `${all.cups === 0 ? "" : `, ${say(perCup(all.materialsMicro, all.cups))} each`}.`,
    back: BACK,
    span,
    csv: `/money/cups.csv?${span.query}`,
    leftOut: out,
    withWork: all.workMicro > 0,
    designs: rows.sort((a, b) => b.cups - a.cups || (a.design < b.design ? -1 : 1)),
    all: { ...told(all), ...sums },
    allSaid:
      all.pricedByDesign === all.cups
        ? "No order says a price, so every cup counts at what its design says."
        : `Of all these cups, ${priceWords(all.cups, all.unpriced, all.pricedByDesign)}.`,
  }
}

/** What holds of all cups alike is said once, above the table. */
function designRow(designId: number, cups: readonly CupMoney[]) {
  const row = told(marginOf(cups))
  const isPlain = row.pricedByDesign === row.cups || row.unpriced + row.pricedByDesign === 0
  return { designId, design: cups[0]?.design ?? "", ...row, priceWords: isPlain ? "" : row.priceWords }
}

/** A margin with what it is for one cup, and what must be said of its price. */
function told(margin: Margin) {
  const { cups, materialsMicro, priceMicro, unpriced, pricedByDesign } = margin
  return {
    ...margin,
    materialsEach: cups === 0 ? null : perCup(materialsMicro, cups),
    priceEach: cups - unpriced === 0 ? null : perCup(priceMicro, cups - unpriced),
    priceWords: priceWords(cups, unpriced, pricedByDesign),
  }
}

function priceWords(cups: number, unpriced: number, byDesign: number): string {
  if (cups > 0 && unpriced === cups) return "no price is written down"
  const words = [
    unpriced > 0 ? `${unpriced} of ${cups} without a price` : "",
    byDesign > 0 ? `${byDesign === cups ? "all" : byDesign} at the design's price` : "",
  ]
  return words.filter(Boolean).join(", ")
}

const MOST_ORDERS = 100

export function ordersPage(studio: Studio) {
  const orders = ordersWithCups(studio)
  return {
    title: "What orders bring",
    lead:
      orders.length === 0
        ? "No order has a finished cup yet."
        : `${count(orders.length, "order")} with finished cups. Only these cups are counted, each with what it took.`,
    back: BACK,
    csv: "/money/orders.csv",
    leftOut: leftOut(
      studio,
      finishedCups(studio).filter(({ orderId }) => orderId !== null),
    ),
    withWork: orders.some(({ workMicro }) => workMicro > 0),
    orders: orders.slice(0, MOST_ORDERS),
    more: Math.max(0, orders.length - MOST_ORDERS),
  }
}

/** Orders with finished cups, the newest first. */
export function ordersWithCups(studio: Studio) {
  const orders = byGroup(finishedCups(studio), (cup) => cup.orderId)
    .flatMap(([orderId, cups]) =>
      orderId === null ? [] : [{ orderId, buyer: cups[0]?.buyer ?? null, ...told(marginOf(cups)) }],
    )
    .sort((a, b) => b.orderId - a.orderId)
  return roundMargins(orders, coinOf(studio)).rows
}

/** One order: its margin by design, and each cup with what it took. */
export function orderPage(studio: Studio, orderId: number) {
  const { buyer } = orderMustBeThere(studio, orderId)
  const say = sayer(studio)
  const exact = finishedCups(studio, { orderId })
  // cup by cup, so that lines and the whole order are sums of what is shown
  const cups = roundMargins(
    exact.map((cup) => ({ ...cup, ...marginOf([cup]) })),
    coinOf(studio),
  ).rows.map((cup, index) => ({
    ...cup,
    priceMicro: exact[index]?.priceMicro === null ? null : cup.priceMicro,
  }))
  const all = told(marginOf(cups))
  const inWork = inWorkOn(studio, orderId)
  return {
    title: `Money of order ${orderId}${buyer === null ? "" : ` for ${buyer}`}`,
    lead: orderLead(all, say),
    leftOut: leftOut(studio, exact),
    back: { to: `/orders/${orderId}`, label: `Order ${orderId}` },
    all,
    withWork: all.workMicro > 0,
    inWork,
    lines: byGroup(cups, (cup) => cup.lineId).map(([lineId, own]) => ({
      lineId,
      design: own[0]?.design ?? "",
      ...told(marginOf(own)),
      own,
    })),
  }
}

function orderLead(all: ReturnType<typeof told>, say: (micro: number) => string): string {
  if (all.cups + all.scrapped === 0) return "No cup of it is finished yet."
  if (all.unpriced === all.cups)
    return `No price is written down for it. Its ${count(all.cups, "finished cup")} took ${say(all.materialsMicro)} of materials.`
  const less =
    all.workMicro > 0
      ? `${say(all.materialsMicro)} of materials and ${say(all.workMicro)} of work`
      : `${say(all.materialsMicro)} of materials`
  return `Its ${count(all.cups, "finished cup")} bring ${say(all.priceMicro)}; less ${less}, ${say(all.leftMicro)} is left over.`
}

/** Cups of an order that are not finished, and what they took so far. */
function inWorkOn(studio: Studio, orderId: number): { cups: number; micro: number } {
  const costs = cupCosts(studio.file)
  const ids = studio.file.allText<{ id: number }>(
    `SELECT u.id FROM cup u JOIN order_line l ON l.id = u.order_line_id WHERE l.order_id = ? AND u.state = 'in work'`,
    [orderId],
  )
  return { cups: ids.length, micro: sum(ids.map(({ id }) => costs.get(id) ?? 0)) }
}

export function coinOf(studio: Studio): number {
  return smallestCoin(settingsOf(studio).currency)
}

export function kindLabel(kind: string): string {
  return KINDS.find((one) => one.value === kind)?.label ?? kind
}

function sayer(studio: Studio): (micro: number) => string {
  const { currency } = settingsOf(studio)
  return (micro) => formatMoney(micro, currency)
}

function perCup(micro: number, cups: number): number {
  return Math.round(micro / cups)
}

function sum(values: readonly number[]): number {
  return values.reduce((whole, value) => whole + value, 0)
}

function count(n: number, one: string): string {
  return `${n.toLocaleString("en-US")} ${n === 1 ? one : `${one}s`}`
}
