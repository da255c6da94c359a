import { type IsoDate, sayDate } from "../domain/dates.ts"
import type { AnswerLine, ForecastAnswer, WhatIf } from "./service.ts"

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

/** What a line that is not kept would make short. */
export function whatIfSentence(answer: WhatIf): string {
  const [line] = answer.asked
  if (!line) return ""
  const own = lineSentence(line, answer.with)
  const late = line.late && line.startBy !== null ? ` ${lateWords(line.startBy, answer.with.today)}` : ""
  const buy =
    answer.adds.length === 0
      ? " It makes nothing short that is not short already."
      : ` It alone makes ${someOf(answer.adds.map((short) => short.supply))} short.`
  return `${own}${buy}${late}`
}

/** "The first coat should have been started on Fri 27 Nov: it is too late for this date." */
export function lateWords(startBy: IsoDate, today: IsoDate): string {
  return `To be in time it should have been started ${onDay(startBy, today)}; with layers and cure as planned it will be late.`
}

/** The sentence when the turners cannot do it, null when they can. Crude: places that turn day and night. */
export function turnerSentence(answer: ForecastAnswer): string | null {
  const { turners, lines, today } = answer
  if (turners.tooMuch === null) return null
  const { lineId, readyOn, neededMin, placesMin } = turners.tooMuch
  const line = lines.find((one) => one.lineId === lineId)
  const what = line ? `${line.cups} ${line.design}` : "what is planned"
  if (turners.places === 0)
    return "No turner places are set, so turning cannot be checked. Put them in under Set up."
  return (
    `The turners cannot do it: until ${sayDate(readyOn, today)}, when ${what} must be ready, ${count(turners.places, "place")} ` +
    `${turners.places === 1 ? "gives" : "give"} ${cupDays(placesMin)} and ${cupDays(neededMin)} are needed, even turning day and night.`
  )
}

function cupDays(minutes: number): string {
  const days = Math.round((minutes / 1440) * 10) / 10
  return `${days.toLocaleString("en-US")} cup-${days === 1 ? "day" : "days"}`
}

function looseLack(answer: ForecastAnswer): string {
  const names = answer.shortfalls
    .filter((short) => short.firstOn === answer.today)
    .map((short) => short.supply)
  return `Batches in work lack ${list(names)} today.`
}

export function shortLines(lines: readonly AnswerLine[]): AnswerLine[] {
  const day = (line: AnswerLine) => line.stops?.on ?? ""
  return lines
    .filter((line) => line.covered < line.cups)
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
