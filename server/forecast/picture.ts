import { daysBetween, type IsoDate, plusDays, sayDate } from "../domain/dates.ts"
import { rounded } from "../web/picture.ts"
import type { AnswerShortfall, ForecastAnswer } from "./service.ts"

/** Days across, short supplies down: where each runs short, when to order it, what is coming. In SVG units. */
export interface Picture {
  width: number
  height: number
  /** said to those who do not see it */
  label: string
  ticks: { x: number; y: number; label: string; anchor: "start" | "middle" | "end" }[]
  rows: {
    name: string
    nameY: number
    lineY: number
    /** from the first short day to the end */
    afterX: number
    afterWidth: number
    barY: number
    days: { x: number; width: number; title: string }[]
    /** a triangle on the day of each arrival */
    arrivals: { points: string; title: string }[]
    /** a diamond on the order-by day; null when nobody sells it */
    order: { points: string; late: boolean; title: string } | null
  }[]
}

const WIDTH = 360
const TOP = 26
const ROW = 44
const BAR = 14
const LONGEST_DAYS = 120
const SHORTEST_DAYS = 7
const MOST_ROWS = 12

/** @returns null when nothing runs short */
export function pictureOf(answer: ForecastAnswer): Picture | null {
  const { today } = answer
  const short = answer.shortfalls.slice(0, MOST_ROWS)
  if (short.length === 0) return null
  const last = Math.max(...short.flatMap((one) => one.days.map((day) => daysBetween(today, day.on))))
  const days = Math.min(LONGEST_DAYS, Math.max(SHORTEST_DAYS, last + 2))
  const x = (day: IsoDate) => rounded((Math.min(days, Math.max(0, daysBetween(today, day))) * WIDTH) / days)
  const height = TOP + ROW * short.length
  return {
    width: WIDTH,
    height,
    label: `Runs short: ${short.map((one) => `${one.supply} from ${sayDate(one.firstOn, today)}`).join("; ")}.`,
    ticks: ticks(today, days, x),
    rows: short.map((one, index) => rowOf(one, answer, TOP + ROW * index, days, x)),
  }
}

function rowOf(
  short: AnswerShortfall,
  { today, arrivals }: ForecastAnswer,
  top: number,
  days: number,
  x: (day: IsoDate) => number,
): Picture["rows"][number] {
  const barY = top + 20
  const middle = barY + BAR / 2
  const dayWidth = Math.max(3, rounded(WIDTH / days) - 1)
  // by order-by day, so the first is the earliest
  const orderBy = short.buys[0]?.orderBy ?? null
  const at = (px: number) => Math.min(WIDTH - 6, Math.max(6, px))
  return {
    name: short.supply,
    nameY: top + 14,
    lineY: middle,
    afterX: x(short.firstOn),
    afterWidth: WIDTH - x(short.firstOn),
    barY,
    days: short.days
      .filter((day) => daysBetween(today, day.on) < days)
      .map((day) => ({ x: x(day.on), width: dayWidth, title: sayDate(day.on, today) })),
    arrivals: [...new Set(arrivals.filter((one) => one.supplyId === short.supplyId).map((one) => one.on))]
      .filter((on) => daysBetween(today, on) < days)
      .map((on) => {
        const px = at(x(on))
        return {
          points: `${px - 6},${middle + 6} ${px + 6},${middle + 6} ${px},${middle - 6}`,
          title: sayDate(on, today),
        }
      }),
    order:
      orderBy === null
        ? null
        : {
            points: diamond(at(x(orderBy)), middle),
            late: short.buys[0]?.late === true,
            title: sayDate(orderBy, today),
          },
  }
}

function diamond(x: number, y: number): string {
  return `${x - 6},${y} ${x},${y - 6} ${x + 6},${y} ${x},${y + 6}`
}

function ticks(today: IsoDate, days: number, x: (day: IsoDate) => number): Picture["ticks"] {
  const step = Math.max(1, Math.ceil(days / 4))
  const shown = [0, step, 2 * step, 3 * step, 4 * step].filter((day) => day < days)
  return shown.map((day) => {
    const date = plusDays(today, day)
    const px = x(date)
    const anchor = day === 0 ? "start" : px > WIDTH - 40 ? "end" : "middle"
    return { x: px, y: 12, anchor, label: day === 0 ? "today" : sayDate(date, today).replace(/^\w+ /, "") }
  })
}
