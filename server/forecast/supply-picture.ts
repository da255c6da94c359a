import { daysBetween, type IsoDate, plusDays, sayDate } from "../domain/dates.ts"
import { sayAmount } from "../domain/said-amounts.ts"
import type { UnitSystem } from "../domain/units.ts"
import { rounded } from "../web/picture.ts"
import type { SupplyAnswer } from "./service.ts"

const WIDTH = 360
const LEFT = 8
const TOP = 26
const BASE = 170

/** What is left of a supply over the days: a line in steps, with what comes, goes off and is missing. In SVG units. */
export interface SupplyPicture {
  width: number
  height: number
  /** said to those who do not see it */
  label: string
  baseY: number
  line: string
  area: string
  most: string
  /** the safety amount; null: none is set */
  safety: { y: number; label: string } | null
  ticks: { x: number; label: string; anchor: "start" | "middle" | "end" }[]
  /** a triangle on each day something comes */
  received: { points: string; title: string }[]
  /** a cross on each day something goes off */
  expired: { d: string; title: string }[]
  short: { x: number; width: number; title: string } | null
}

export function supplyPicture(answer: SupplyAnswer, units: UnitSystem): SupplyPicture {
  const { today, days, supply, shortfall } = answer
  const say = (amount: number) => sayAmount(amount, supply, units)
  const top = Math.max(1, supply.minimumAmount, ...days.map((day) => day.left + day.used))
  const x = (day: number) => rounded(LEFT + ((WIDTH - LEFT) * day) / days.length)
  const y = (amount: number) => rounded(BASE - ((BASE - TOP) * amount) / top)
  const line = days.map((day, n) => `${n === 0 ? "M" : "L"}${x(n)} ${y(day.left)} H${x(n + 1)}`).join(" ")
  const shortDay = shortfall === null ? null : daysBetween(today, shortfall.firstOn)
  return {
    width: WIDTH,
    height: BASE + 24,
    label: labelOf(answer, say),
    baseY: BASE,
    line,
    area: `${line} V${BASE} H${x(0)} Z`,
    most: say(top),
    safety:
      supply.minimumAmount === 0
        ? null
        : { y: y(supply.minimumAmount), label: `minimum ${say(supply.minimumAmount)}` },
    ticks: ticks(today, days.length, x),
    received: days.flatMap((day, n) => {
      if (day.received === 0) return []
      const [px, py] = [x(n), y(day.left)]
      const points = `${px - 6},${py - 4} ${px + 6},${py - 4} ${px},${py - 16}`
      return [{ points, title: `${sayDate(day.on, today)}: ${say(day.received)} comes` }]
    }),
    expired: days.flatMap((day, n) => {
      if (day.expired === 0) return []
      const [px, py] = [x(n), y(day.left)]
      const d = `M${px - 5} ${py - 5} l10 10 M${px + 5} ${py - 5} l-10 10`
      return [{ d, title: `${sayDate(day.on, today)}: ${say(day.expired)} goes off` }]
    }),
    short:
      shortDay === null || shortDay >= days.length
        ? null
        : {
            x: x(shortDay),
            width: rounded(WIDTH - x(shortDay)),
            title: `runs short on ${sayDate(shortfall?.firstOn ?? today, today)}`,
          },
  }
}

function labelOf({ today, days, shortfall }: SupplyAnswer, say: (amount: number) => string): string {
  const last = days.at(-1)
  const ends = last
    ? `${say(days[0]?.left ?? 0)} today, ${say(last.left)} on ${sayDate(last.on, today)}.`
    : ""
  return shortfall === null ? ends : `${ends} Runs short on ${sayDate(shortfall.firstOn, today)}.`
}

function ticks(today: IsoDate, days: number, x: (day: number) => number): SupplyPicture["ticks"] {
  const step = Math.max(1, Math.ceil(days / 4))
  return [0, step, 2 * step, 3 * step]
    .filter((day) => day < days)
    .map((day) => ({
      x: x(day),
      anchor: day === 0 ? "start" : x(day) > WIDTH - 40 ? "end" : "middle",
      label: day === 0 ? "today" : sayDate(plusDays(today, day), today).replace(/^\w+ /, ""),
    }))
}
