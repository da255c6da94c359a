import { designs } from "../designs/service.ts"
import { daysBetween, plusDays } from "../domain/dates.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { orderById } from "../orders/service.ts"
import { type Asked, linesAsked, questionOf } from "./asked.ts"
import { cupsThere } from "./free-cups.ts"
import { pictureOf } from "./picture.ts"
import { type AnswerLine, type ForecastAnswer, forecast, type WhatIf, whatIf } from "./service.ts"
import { shortRows } from "./short-rows.ts"
import { turnerPicture } from "./turner-picture.ts"
import {
  addsSentence,
  answerSentence,
  fewerWords,
  lineSentence,
  promiseDetails,
  promiseSentence,
  whatIfSentence,
} from "./words.ts"

/** Three weeks: what a buyer who names no day usually means; only to fill the field. */
const USUAL_DAYS = 21
/** Drawn of the turners. */
const TURNER_DAYS = 35

/** @param isRefused the question could not be read: the form stands open */
export function forecastPage(studio: Studio, asked: Asked, isRefused = false) {
  const lines = linesAsked(studio, asked)
  const { currency } = settingsOf(studio)
  const supposed = lines.length > 0 ? whatIf(studio, lines) : null
  const answer = supposed?.without ?? forecast(studio)
  return {
    title: "What runs short",
    lead:
      supposed === null ? `${notAsked(studio, asked)}${answerSentence(answer)}` : whatIfSentence(supposed),
    there: cupsThere(studio, asked),
    without: supposed === null ? null : answerSentence(answer),
    answer,
    shortfalls: shortRows(answer.shortfalls, currency),
    costMicro: answer.buys.reduce((sum, buy) => sum + buy.costMicro, 0),
    picture: pictureOf(answer),
    lines: answer.lines.filter((line) => line.cups > 0).map((line) => rowOf(line, answer)),
    unused: answer.unused,
    designs: designs(studio).map((design) => ({
      id: design.designId,
      name: `${design.name} (${design.blank})`,
    })),
    today: answer.today,
    usualDay: plusDays(answer.today, USUAL_DAYS),
    asked: supposed === null ? null : askedView(studio, asked, supposed),
    typed: asked.kind === "typed" ? asked.line : null,
    isOpen: isRefused || (asked.kind === "nothing" && answer.shortfalls.length === 0),
  }
}

/** Why an order that was asked about is not answered; "" where none was. */
function notAsked(studio: Studio, asked: Asked): string {
  if (asked.kind !== "draft") return ""
  const { orderId, state } = orderById(studio, asked.orderId)
  if (state === "draft") return `All cups of order ${orderId} are there or in work. `
  return state === "planned"
    ? `Order ${orderId} is planned: it is counted in. `
    : `Order ${orderId} is ${state}. `
}

function rowOf(line: AnswerLine, answer: ForecastAnswer) {
  return {
    ...line,
    says: lineSentence(line, answer),
    beginBy: answer.latestStart(line.lineId),
    isPast: line.startBy !== null && line.startBy < answer.today,
    state: line.limit === null ? "enough" : "short",
    of: `${line.able} of ${line.cups}`,
    why: line.limit === "time" ? "hours and turners" : line.limit === "supplies" ? "supplies" : null,
  }
}

function askedView(studio: Studio, asked: Asked, answer: WhatIf) {
  const { currency } = settingsOf(studio)
  const order = asked.kind === "draft" ? orderById(studio, asked.orderId) : null
  return {
    heading: headingOf(answer, order === null ? null : order.orderId),
    sentence: addsSentence(answer),
    lines: answer.asked.map((line) => ({
      ...rowOf(line, answer.with),
      promise: promiseSentence(line, answer.with),
      details: promiseDetails(line, answer.with),
    })),
    several: answer.asked.length > 1,
    adds: shortRows(answer.adds, currency, questionOf(asked)),
    picture: pictureOf({ ...answer.with, shortfalls: answer.adds }),
    turners: turnersOf(answer.with),
    planTo: `/plan${questionOf(asked)}`,
    costMicro: answer.costMicro,
    takesFrom: answer.takesFrom.map(({ line, fewer }) => ({
      orderId: line.orderId,
      buyer: line.buyer,
      says: fewerWords(line, fewer),
    })),
    isDraft: order !== null,
    orderId: order?.orderId ?? null,
  }
}

/** The turners until all that is planned is turned; null: nothing is. */
function turnersOf(answer: ForecastAnswer) {
  const last = answer.steps.at(-1)?.on
  if (last === undefined) return null
  return turnerPicture(answer, Math.min(TURNER_DAYS, daysBetween(answer.today, last) + 2))
}

function headingOf(answer: WhatIf, orderId: number | null): string {
  if (orderId !== null) return `With order ${orderId}`
  const [line] = answer.asked
  return line ? `With this order: ${line.quantity} × ${line.design}` : "With this order"
}
