import { type IsoDate, plusDays, sayDate } from "../domain/dates.ts"
import type { AnswerLine, AskedAnswer, ForecastAnswer, WhatIf } from "./service.ts"

const MOST_NAMED = 4

/**
 * The answer in a sentence or two: "Enough for 31 of 40 Sea glass for Ann; hardener stops you on Tue 8 Dec."
 * The first line to run short is told; of others, how many.
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
    return `${looseWords}Enough for everything planned: ${count(lines.length, "order line")}, ${count(cups, "cup")}.`
  }
  const more =
    others.length === 0
      ? ""
      : ` ${count(others.length, "more line")} of ${lines.length} ${others.length === 1 ? "runs" : "run"} short.`
  return `${looseWords}${lineSentence(first, answer)}${more}`
}

/** How far the shelf reaches for one line. */
export function lineSentence(line: AnswerLine, answer: ForecastAnswer): string {
  const alone = answer.lines.filter((one) => one.cups > 0).length === 1
  const name = `${line.design}${line.buyer === null ? "" : ` for ${line.buyer}`}`
  const what = alone ? "cups" : `cups of ${name}`
  if (line.problem !== null) return `${name} cannot be worked out. ${line.problem}`
  if (line.limit === "time") {
    const when = line.readyOn === null ? "" : ` All can be ready on ${sayDate(line.readyOn, answer.today)}.`
    return `For ${sayDate(line.dueOn, answer.today)} only ${line.able} of ${line.cups} ${what} can be ready.${when}`
  }
  if (line.covered === line.cups) {
    return line.cups === 1 ? `Enough for the one cup of ${name}.` : `Enough for all ${line.cups} ${what}.`
  }
  const reach =
    line.covered === 0 ? `Not enough for one of ${line.cups}` : `Enough for ${line.covered} of ${line.cups}`
  return `${reach} ${what}; ${stopWords(line, answer)}.`
}

function stopWords(line: AnswerLine, answer: ForecastAnswer): string {
  if (line.stops === null) return "something is missing"
  const { supplyId, on } = line.stops
  const supply = answer.shortfalls.find((short) => short.supplyId === supplyId)?.supply ?? "something"
  return `${supply} stops you ${onDay(on, answer.today)}`
}

/** "Earliest ready Wed 23 Dec. For Sat 19 Dec: 31 of 40. Lids stops you on Mon 14 Dec." */
export function promiseSentence(line: AskedAnswer, answer: ForecastAnswer): string {
  const { today } = answer
  if (line.problem !== null) return lineSentence(line, answer)
  if (line.unplanned) return `${unplannedWords(answer)} ${lineSentence(line, answer)}`
  const all = line.cups === 1 ? "the one cup" : `all ${line.cups}`
  const forDay = `For ${sayDate(line.dueOn, today)}: ${line.limit === null ? all : `${line.able} of ${line.cups}`}.`
  const why =
    line.limit === null
      ? ""
      : line.limit === "supplies"
        ? ` ${capital(stopWords(line, answer))}.${canStillCome(line, answer) ? " Order today and all can be in time." : ""}`
        : " Your hours and turners allow no more."
  return `${earliestWords(line, today)} ${forDay}${why}`
}

/** What is missing, ordered today, is here early enough for all of it. */
export function canStillCome(line: AskedAnswer, { shippingDays }: ForecastAnswer): boolean {
  return (
    line.limit === "supplies" &&
    line.earliestOn !== null &&
    plusDays(line.earliestOn, shippingDays) <= line.dueOn
  )
}

function earliestWords(line: AskedAnswer, today: IsoDate): string {
  if (line.earliestOn !== null) return `Earliest ready ${sayDate(line.earliestOn, today)}.`
  const nobody = line.waitsFor.filter((one) => one.here === null).map((one) => one.supply)
  return nobody.length > 0
    ? `When it can be ready cannot be said: nobody sells ${someOf(nobody)}.`
    : "It cannot be ready within three years."
}

/** What stands behind the earliest day: what is waited for, what no plan can beat, when it must be begun. */
export function promiseDetails(line: AskedAnswer, answer: ForecastAnswer): string[] {
  const { today, shippingDays } = answer
  const day = (date: IsoDate) => sayDate(date, today)
  const details: string[] = []
  if (line.hereOn !== null) {
    const names = someOf(line.waitsFor.map((one) => one.supply))
    details.push(`That is begun on ${day(line.hereOn)}, when ${names} can be here if ordered today.`)
  }
  if (line.earliestOn !== null && shippingDays > 0) {
    details.push(
      `Sent then, it is there ${count(shippingDays, "day")} later, on ${day(plusDays(line.earliestOn, shippingDays))}.`,
    )
  }
  if (line.latestStartOn !== null) {
    details.push(
      `Begin it by ${day(line.latestStartOn)} to have it in time, everything else staying as planned.`,
    )
  }
  if (line.boundOn !== null && line.earliestOn !== null) {
    details.push(
      line.boundOn < line.earliestOn
        ? `No plan can have it ready before ${day(line.boundOn)}, even with nothing else to do and all supplies here.`
        : "No plan can have it ready sooner.",
    )
  }
  if (line.spareCups > 0) {
    const { scrapped, made } = line.scrap
    details.push(
      `Supplies are counted for ${count(line.spareCups, "cup")} more, since some will be scrapped: ${scrapped} of ${made} so far, on top of 1 of 20 to begin with (common practice, no source).`,
    )
  }
  return details
}

function unplannedWords({ places }: ForecastAnswer): string {
  return places === 0
    ? "No day can be given: no turner places are set. Put them in under Set up."
    : "No day can be given: a layer takes longer than your working day."
}

/** The answer about lines that are not kept; of several, when all are ready and how many are in time. */
export function whatIfSentence({ asked, with: answer }: WhatIf): string {
  const [line, ...others] = asked
  if (!line) return ""
  if (others.length === 0) return promiseSentence(line, answer)
  const days = asked.map((one) => one.earliestOn)
  const last = days.includes(null) ? null : days.toSorted().at(-1)
  const earliest = last
    ? `All ready ${sayDate(last, answer.today)} at the earliest.`
    : "Not all can be given a day."
  const able = asked.reduce((sum, one) => sum + one.able, 0)
  const cups = asked.reduce((sum, one) => sum + one.cups, 0)
  return `${earliest} In time: ${able} of ${count(cups, "cup")}.`
}

/** What they would make short. */
export function addsSentence(answer: WhatIf): string {
  return answer.adds.length === 0
    ? "It makes nothing short that is not short already."
    : `It alone makes ${someOf(answer.adds.map((short) => short.supply))} short.`
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1)
}

function looseLack(answer: ForecastAnswer): string {
  const names = answer.shortfalls
    .filter((short) => short.firstOn === answer.today && short.loose)
    .map((short) => short.supply)
  return `Batches in work lack ${list(names)} today.`
}

export function shortLines(lines: readonly AnswerLine[]): AnswerLine[] {
  const day = (line: AnswerLine) => line.stops?.on ?? line.dueOn
  return lines
    .filter((line) => line.able < line.cups)
    .sort((a, b) => (day(a) < day(b) ? -1 : day(a) > day(b) ? 1 : 0))
}

function onDay(day: IsoDate, today: IsoDate): string {
  return day === today ? "today" : `on ${sayDate(day, today)}`
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
