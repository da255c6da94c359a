import { type IsoDate, plusDays, sayDate } from "../domain/dates.ts"
import { rounded } from "../web/picture.ts"
import type { ForecastAnswer } from "./service.ts"

const DAY_MIN = 1440
const LABEL = 62
const WIDTH = 360
const TOP = 18
const ROW = 40
const HIGH = 26

/** A row a day, the hours across: how many places turn, and when somebody's hands are needed. In SVG units. */
export interface TurnerPicture {
  width: number
  height: number
  /** said to those who do not see it */
  label: string
  places: number
  hours: { x: number; label: string }[]
  days: {
    name: string
    nameY: number
    baseY: number
    fullY: number
    /** the outline of what turns; null where nothing does */
    turns: string | null
    most: number
    hands: { x: number; width: number }[]
    handsY: number
  }[]
}

/** @param days so many from today on */
export function turnerPicture(answer: ForecastAnswer, days: number): TurnerPicture {
  const { today, places } = answer
  const spans = [
    ...answer.turning.map(({ cups, untilMin }) => ({ from: 0, to: untilMin, cups })),
    ...answer.steps
      .filter((step) => step.turnedMin > step.handsOffMin)
      .map((step) => ({ from: step.startMin, to: step.turnedMin, cups: step.cups })),
  ]
  const rows = Array.from({ length: days }, (_, day) => rowOf(day, spans, answer))
  const busiest = rows.reduce((a, b) => (b.most > a.most ? b : a), rows[0]!)
  return {
    width: WIDTH,
    height: TOP + ROW * days,
    label:
      busiest.most === 0
        ? "Nothing turns."
        : `Turner places over ${days} days: at most ${busiest.most} of ${places} at once, on ${busiest.name}.`,
    places,
    hours: [0, 6, 12, 18].map((hour) => ({ x: x(hour * 60), label: `${hour}:00` })),
    days: rows.map(({ on, ...row }) => ({ ...row, name: shortDay(on, today) })),
  }
}

function rowOf(
  day: number,
  spans: readonly { from: number; to: number; cups: number }[],
  { today, places, steps }: ForecastAnswer,
) {
  const start = day * DAY_MIN
  const baseY = TOP + ROW * (day + 1) - 8
  const here = spans.filter((span) => span.from < start + DAY_MIN && span.to > start)
  const edges = [
    ...new Set(here.flatMap(({ from, to }) => [Math.max(from, start), Math.min(to, start + DAY_MIN)])),
  ]
  edges.sort((a, b) => a - b)
  let path = ""
  let most = 0
  for (const [index, edge] of edges.entries()) {
    const cups = here.reduce((sum, one) => sum + (one.from <= edge && edge < one.to ? one.cups : 0), 0)
    most = Math.max(most, cups)
    const next = edges[index + 1]
    const y = rounded(baseY - (HIGH * Math.min(cups, Math.max(1, places))) / Math.max(1, places))
    if (index === 0) path = `M${x(edge - start)} ${baseY}`
    path += ` V${y}`
    path += next === undefined ? ` V${baseY} Z` : ` H${x(next - start)}`
  }
  const on = plusDays(today, day)
  return {
    on,
    name: sayDate(on, today),
    nameY: baseY - 14,
    baseY,
    fullY: baseY - HIGH,
    turns: path === "" ? null : path,
    most,
    handsY: baseY + 1,
    hands: steps
      .filter((step) => step.on === on && step.handsOffMin > step.startMin)
      .map((step) => ({
        x: x(step.startMin - start),
        width: rounded(((WIDTH - LABEL) * (step.handsOffMin - step.startMin)) / DAY_MIN),
      })),
  }
}

function x(minutes: number): number {
  return rounded(LABEL + ((WIDTH - LABEL) * minutes) / DAY_MIN)
}

function shortDay(on: IsoDate, today: IsoDate): string {
  return on === today ? "today" : sayDate(on, today)
}
