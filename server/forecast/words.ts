import { type IsoDate, plusDays, sayDate } from "../domain/dates.ts"
import { formatMoney } from "../domain/money.ts"
import type { AnswerBuy, AnswerLine, AskedAnswer, ForecastAnswer, WhatIf } from "./service.ts"

const MOST_NAMED = 4

/**
 * The answer in a sentence or two: "Enough for 31 of 40 Sea glass for Ann. From Tue 8 Dec you lack Clear B."
 * The first line to run short is told; of others, how many orders.
 */
export function answerSentence(answer: ForecastAnswer): string {
  const lines = answer.lines.filter((line) => line.cups > 0)
  const short = shortLines(lines)
  const looseWords = answer.looseShort ? `${looseLack(answer)} ` : ""
  if (lines.length === 0) {
    return looseWords || "No order is planned, so nothing is needed. Ask below what a new one would take."
  }
  const [first, ...others] = short
  if (!first) {
    const cups = lines.reduce((sum, line) => sum + line.cups, 0)
    const orders = new Set(lines.map((line) => line.orderId ?? -line.lineId)).size
    return `${looseWords}Enough for everything planned: ${count(cups, "cup")} for ${count(orders, "order")}.`
  }
  return `${looseWords}${lineSentence(first, answer)}${othersWords(first, others)}`
}

function othersWords(first: AnswerLine, others: readonly AnswerLine[]): string {
  const orders = new Set(others.map((line) => line.orderId))
  orders.delete(first.orderId)
  if (orders.size > 0)
    return ` ${count(orders.size, "more order")} ${orders.size === 1 ? "falls" : "fall"} short.`
  return others.length > 0 ? " More of the same order falls short." : ""
}

/** How far the shelf reaches for one line. */
export function lineSentence(line: AnswerLine, answer: ForecastAnswer): string {
  const alone = answer.lines.filter((one) => one.cups > 0).length === 1
  const name = `${line.design}${line.buyer === null ? "" : ` for ${line.buyer}`}`
  const what = alone ? "cups" : `cups of ${name}`
  if (line.problem !== null) return `${name} cannot be worked out. ${line.problem}`
  if (line.limit === "time") {
    const when = line.readyOn === null ? "" : ` All can be ready on ${sayDate(line.readyOn, answer.today)}.`
    return `Only ${line.able} of ${line.cups} ${what} can be ready for ${sayDate(line.dueOn, answer.today)}.${when}`
  }
  if (line.covered === line.cups) {
    return line.cups === 1 ? `Enough for the one cup of ${name}.` : `Enough for all ${line.cups} ${what}.`
  }
  const reach =
    line.covered === 0 ? `Not enough for any of ${line.cups}` : `Enough for ${line.covered} of ${line.cups}`
  return `${reach} ${what}. ${lackWords(line, answer)}.`
}

/** "From Tue 8 Dec you lack Lids": right for one and for many of a thing. */
function lackWords(line: AnswerLine, answer: ForecastAnswer): string {
  if (line.stops === null) return "Something is missing"
  const { supplyId, on } = line.stops
  const short = answer.shortfalls.find((one) => one.supplyId === supplyId)
  // the day the table beside it gives: a step that is short takes what is left, and cups stop at a later one
  const from = short !== undefined && short.firstOn < on ? short.firstOn : on
  return `${from === answer.today ? "Today" : `From ${sayDate(from, answer.today)}`} you lack ${short?.supply ?? "something"}`
}

/**
 * Can it be promised? The answer first: "Yes, if you order today: all 40 can be in time for Sat 19 Dec. With what
 * you have, 31. From Mon 14 Dec you lack Lids. All ready Wed 16 Dec at the earliest."
 */
export function promiseSentence(line: AskedAnswer, answer: ForecastAnswer): string {
  const { today } = answer
  if (line.problem !== null) return lineSentence(line, answer)
  if (line.unplanned) return `${unplannedWords(answer)} ${lineSentence(line, answer)}`
  const day = sayDate(line.dueOn, today)
  const all = line.cups === 1 ? "the one cup" : `all ${line.cups}`
  if (line.limit === null) return `Yes: ${all} can be in time for ${day}. ${earliestWords(line, today)}`
  const lack =
    line.limit === "supplies" ? `${lackWords(line, answer)}.` : "Your hours and turners allow no more."
  if (canStillCome(line)) {
    const now = line.able === 0 ? "With what you have, none." : `With what you have, ${line.able}.`
    const parts = line.ordered === null ? "" : partsWords(line.ordered, today)
    return [
      `Yes, ${onceWords(line)}: ${all} can be in time for ${day}. ${now} ${lack}`,
      parts,
      earliestWords(line, today),
    ]
      .filter(Boolean)
      .join(" ")
  }
  const no =
    line.able === 0
      ? `No: none can be in time for ${day}.`
      : `Not all: ${line.able} of ${line.cups} in time for ${day}.`
  return [no, lack, orderedWords(line, today), earliestWords(line, today)].filter(Boolean).join(" ")
}

/** How many it would be if everything that is missing were ordered today; "" where ordering is no question. */
function orderedWords(
  line: Pick<AskedAnswer, "able" | "inTime" | "cups" | "ordered">,
  today: IsoDate,
): string {
  if (line.ordered === null) return ""
  const { able, hereOn, atOnce, lacksUnsold, isSooner, isOnItsWay } = line.ordered
  const where = isSooner ? " from whoever brings it soonest" : ""
  const what = lacksUnsold ? "what can be bought" : "what is missing"
  const here = isOnItsWay
    ? `What is missing is ordered already and here by ${sayDate(hereOn, today)}`
    : `Ordered today${where}, ${what} is here by ${sayDate(hereOn, today)}`
  if (able === line.able) return `${here}: with all else as planned, that makes no more.`
  const most = able === line.inTime && atOnce === null ? ", all that your hours and turners allow" : ""
  return [`${here}: then ${able} of ${line.cups}${most}.`, partsWords(line.ordered, today)]
    .filter(Boolean)
    .join(" ")
}

/** How so many are in time that the forecast, which plans an order as one, would not have; "" where it has. */
function partsWords({ atOnce, hereOn }: NonNullable<AskedAnswer["ordered"]>, today: IsoDate): string {
  const day = sayDate(hereOn, today)
  if (atOnce === null) return ""
  return atOnce === 0 ? `Begin on ${day}, not before.` : `Begin ${atOnce} at once and the rest on ${day}.`
}

/** What is missing, ordered today, is here early enough for all of it. */
function canStillCome(line: AskedAnswer): boolean {
  return line.ordered?.able === line.cups
}

/** Beside a figure: "all, if ordered today", "34, if ordered today"; null: ordering changes nothing. */
export function ifOrderedWords(line: AskedAnswer): string | null {
  if (line.ordered === null || line.ordered.able === line.able) return null
  const when = line.ordered.isOnItsWay ? "when what is ordered comes" : "if ordered today"
  return `${canStillCome(line) ? "all" : line.ordered.able}, ${when}`
}

/** On what a yes hangs. */
function onceWords({ ordered }: Pick<AskedAnswer, "ordered">): string {
  return ordered?.isOnItsWay ? "when what is ordered comes" : "if you order today"
}

function earliestWords(line: AskedAnswer, today: IsoDate): string {
  if (line.earliestOn !== null) {
    return `${line.cups === 1 ? "Ready" : "All ready"} ${sayDate(line.earliestOn, today)} at the earliest.`
  }
  const nobody = line.waitsFor.filter((one) => one.here === null).map((one) => one.supply)
  return nobody.length > 0
    ? `No day can be given: nobody sells ${someOf(nobody)}.`
    : "It cannot be ready within three years."
}

/** What stands behind the earliest day: what is waited for, what no plan can beat, when it must be begun. */
export function promiseDetails(line: AskedAnswer, answer: ForecastAnswer): string[] {
  const { today, shippingDays } = answer
  const day = (date: IsoDate) => sayDate(date, today)
  const details: string[] = []
  if (line.hereOn !== null) {
    const names = someOf(line.waitsFor.map((one) => one.supply))
    details.push(`Order ${names} today and all of it is here on ${day(line.hereOn)}.`)
  }
  if (line.earliestOn !== null && shippingDays > 0) {
    details.push(
      `Sent on ${day(line.earliestOn)}, it arrives on ${day(plusDays(line.earliestOn, shippingDays))}.`,
    )
  }
  if (line.latestStartOn !== null) {
    details.push(`Begin by ${day(line.latestStartOn)} at the latest, with the other orders as planned.`)
  }
  if (line.boundOn !== null && line.earliestOn !== null) {
    details.push(
      line.boundOn < line.earliestOn
        ? `The soonest of all is ${day(line.boundOn)}: everything here, nothing else to make.`
        : "It cannot be ready sooner.",
    )
  }
  if (line.spareCups > 0) {
    const { scrapped, made } = line.scrap
    details.push(
      `Supplies are counted for ${count(line.spareCups, "cup")} more, in case of scrap: ${scrapped} of ${made} were scrapped so far, and 1 of 20 is added to that, to be careful (common practice, no source).`,
    )
  }
  return details
}

function unplannedWords({ places }: ForecastAnswer): string {
  return places === 0
    ? "No day can be given: no turner places are set. Put them in under Set up."
    : "No day can be given: a layer takes longer than your working day."
}

/** The answer about lines that are not kept; of several, how many are in time and when all are ready. */
export function whatIfSentence(answer: WhatIf): string {
  const { asked, with: withIt, takesFrom } = answer
  const [line, ...others] = asked
  if (!line) return ""
  const hurt = takesFrom.length === 0 ? "" : " But an order you planned then falls short."
  if (others.length === 0) return `${promiseSentence(line, withIt)}${hurt}`
  const days = asked.map((one) => one.earliestOn)
  const last = days.includes(null) ? null : days.toSorted().at(-1)
  const earliest = last
    ? `All ready ${sayDate(last, withIt.today)} at the earliest.`
    : "Not all can be given a day."
  const able = asked.reduce((sum, one) => sum + one.able, 0)
  const cups = asked.reduce((sum, one) => sum + one.cups, 0)
  return `${severalWords(asked, withIt.today, able, cups)} ${earliest}${hurt}`
}

/** Of several, what each of them says: all in time, all once it is ordered, or so many. */
function severalWords(asked: readonly AskedAnswer[], today: IsoDate, able: number, cups: number): string {
  const short = asked.filter((line) => line.able < line.cups)
  if (short.length === 0) return `Yes: all ${count(cups, "cup")} can be in time.`
  return short.every((line) => canStillCome(line))
    ? `Yes, ${short.every(({ ordered }) => ordered?.isOnItsWay) ? "when what is ordered comes" : "if you order today"}: all ${count(cups, "cup")} can be in time. With what you have, ${able}.`
    : [`In time: ${able} of ${count(cups, "cup")}.`, togetherOrdered(asked, today, able, cups)]
        .filter(Boolean)
        .join(" ")
}

/** The same of several lines, the last of what they lack told. */
function togetherOrdered(asked: readonly AskedAnswer[], today: IsoDate, able: number, cups: number): string {
  const ordered = asked.flatMap((line) => line.ordered ?? [])
  const hereOn = ordered
    .map((one) => one.hereOn)
    .sort()
    .at(-1)
  if (hereOn === undefined) return ""
  const all = {
    atOnce: null,
    able: asked.reduce((sum, line) => sum + (line.ordered?.able ?? line.able), 0),
    hereOn,
    lacksUnsold: ordered.some((one) => one.lacksUnsold),
    isSooner: ordered.some((one) => one.isSooner),
    isOnItsWay: ordered.every((one) => one.isOnItsWay),
  }
  const inTime = asked.reduce((sum, line) => sum + line.inTime, 0)
  return orderedWords({ able, inTime, cups, ordered: all }, today)
}

/** What it takes from an order that is planned, and for want of what: "then has 3 cups of Sea glass fewer in time, …". */
export function fewerWords(line: AnswerLine, fewer: number): string {
  const why =
    line.limit === "time"
      ? "for want of hours and turners"
      : "with the supplies you have and what is on its way"
  return `then has ${count(fewer, "cup")} of ${line.design} fewer in time, ${why}`
}

/** What they would make short. */
export function addsSentence(answer: WhatIf): string {
  return answer.adds.length === 0
    ? "It makes nothing short that is not short already."
    : `Because of it you run short of ${someOf(answer.adds.map((short) => short.supply))}.`
}

/** What a seller's price breaks make of what is bought: "$18.00 each from 3; you take 4." */
export function breakWords(
  { breaks, count, costMicro }: Pick<AnswerBuy, "breaks" | "count" | "costMicro">,
  currency: string,
): string[] {
  if (breaks === null) return []
  const money = (micro: number) => formatMoney(micro, currency)
  const { held, near, fewerCost } = breaks
  const says: string[] = []
  if (held) {
    const each = `${money(held.priceMicro)} each from ${held.fromCount}`
    says.push(
      fewerCost === null
        ? `${each}; you take ${count}.`
        : `${each}: ${count} cost ${fewerCost === "more" ? "less" : "no more"} than ${count - 1}.`,
    )
  }
  if (near) {
    says.push(
      `${near.more} more and they are ${money(near.priceMicro)} each: ${money(near.costMicro)} for ${near.fromCount}, not ${money(costMicro)} for ${count}.`,
    )
  }
  return says
}

function looseLack(answer: ForecastAnswer): string {
  const names = answer.shortfalls
    .filter((short) => short.firstOn === answer.today && short.loose)
    .map((short) => short.supply)
  return `Your batches in work lack ${list(names)} today.`
}

export function shortLines(lines: readonly AnswerLine[]): AnswerLine[] {
  const day = (line: AnswerLine) => line.stops?.on ?? line.dueOn
  return lines
    .filter((line) => line.able < line.cups)
    .sort((a, b) => (day(a) < day(b) ? -1 : day(a) > day(b) ? 1 : 0))
}

/** The first few by name, of the rest how many. */
function someOf(words: readonly string[]): string {
  return words.length <= MOST_NAMED
    ? list(words)
    : list([...words.slice(0, MOST_NAMED - 1), `${words.length - MOST_NAMED + 1} more`])
}

export function list(words: readonly string[]): string {
  return words.length < 2 ? words.join("") : `${words.slice(0, -1).join(", ")} and ${words.at(-1)}`
}

export function count(n: number, one: string): string {
  return `${n.toLocaleString("en-US")} ${n === 1 ? one : `${one}s`}`
}
