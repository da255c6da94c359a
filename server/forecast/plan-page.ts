import { daysBetween, type IsoDate, sayDate } from "../domain/dates.ts"
import type { DayStep } from "../domain/forecast.ts"
import type { Studio } from "../ledger/studio.ts"
import { type Asked, backOf, linesAsked, supposingWords } from "./asked.ts"
import { type ForecastAnswer, forecast } from "./service.ts"
import { turnerPicture } from "./turner-picture.ts"
import { count } from "./words.ts"

const DAYS_DRAWN = 14
const DAYS_LISTED = 30
const DAYS_OPEN = 3

/** What to do each day, and what turns meanwhile; with an order that is asked about, as if it were planned. */
export function planPage(studio: Studio, asked: Asked = { kind: "nothing" }) {
  const answer = forecast(studio, { extra: linesAsked(studio, asked) })
  const days = byDay(answer.steps)
  const last = answer.steps.at(-1)?.on ?? answer.today
  const drawn = Math.min(DAYS_DRAWN, daysBetween(answer.today, last) + 2)
  return {
    title: "What to do each day",
    lead: leadOf(answer, days),
    back: backOf(asked),
    supposing: supposingWords(asked),
    picture: answer.steps.length === 0 ? null : turnerPicture(answer, drawn),
    days: [...days].slice(0, DAYS_LISTED).map(([on, steps], index) => ({
      on,
      later: index >= DAYS_OPEN,
      told: `${count(steps.length, "layer")}, ${hours(workOf(steps))}`,
      handsOn: hours(workOf(steps)),
      steps: steps.map((step) => stepView(step, answer)),
    })),
    more: Math.max(0, days.size - DAYS_LISTED),
  }
}

function byDay(steps: readonly DayStep[]): Map<IsoDate, DayStep[]> {
  const days = new Map<IsoDate, DayStep[]>()
  for (const step of steps) days.set(step.on, [...(days.get(step.on) ?? []), step])
  return days
}

function leadOf({ today, steps }: ForecastAnswer, days: ReadonlyMap<IsoDate, DayStep[]>): string {
  if (steps.length === 0) return "Nothing is planned: no order waits to be made."
  const now = days.get(today)
  if (now) return `Today: ${count(now.length, "layer")}, ${hours(workOf(now))} of your work.`
  const next = steps[0]!.on
  return `Nothing to do today. The next layer is on ${sayDate(next, today)}.`
}

function stepView(step: DayStep, { lines }: ForecastAnswer) {
  const line = lines.find((one) => one.lineId === step.lineId)
  return {
    time:
      step.handsOffMin > step.startMin
        ? `${clock(step.startMin)}–${clock(step.handsOffMin)}`
        : clock(step.startMin),
    name: step.name,
    cups: step.cups,
    design: step.design,
    buyer: line?.buyer ?? null,
    orderId: line?.orderId ?? null,
    turnsUntil:
      step.turnedMin === step.handsOffMin
        ? null
        : `${clock(step.turnedMin)}${Math.floor(step.turnedMin / 1440) > Math.floor(step.startMin / 1440) ? ` ${daysLater(step)}` : ""}`,
    scuffs: step.scuffs,
  }
}

function daysLater({ startMin, turnedMin }: DayStep): string {
  const days = Math.floor(turnedMin / 1440) - Math.floor(startMin / 1440)
  return days === 1 ? "the next day" : `${days} days later`
}

function workOf(steps: readonly DayStep[]): number {
  return steps.reduce((sum, step) => sum + step.handsOffMin - step.startMin, 0)
}

function clock(minutes: number): string {
  const inDay = minutes % 1440
  return `${Math.floor(inDay / 60)}:${String(inDay % 60).padStart(2, "0")}`
}

function hours(minutes: number): string {
  const whole = Math.floor(minutes / 60)
  const rest = minutes % 60
  if (whole === 0) return `${rest} min`
  return rest === 0 ? `${whole} h` : `${whole} h ${rest} min`
}
