import { type IsoDate, sayDate } from "../domain/dates.ts"
import { sayAmount } from "../domain/said-amounts.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type Asked, backOf, linesAsked, questionOf, supposingWords } from "./asked.ts"
import { type SupplyAnswer, supplyForecast } from "./service.ts"
import { shortRows } from "./short-rows.ts"
import { supplyPicture } from "./supply-picture.ts"

/** How long one supply lasts. */
export function supplyPage(studio: Studio, supplyId: number, asked: Asked = { kind: "nothing" }) {
  const answer = supplyForecast(studio, supplyId, linesAsked(studio, asked))
  const { units, currency } = settingsOf(studio)
  const say = (amount: number) => sayAmount(amount, answer.supply, units)
  return {
    title: answer.supply.name,
    back: backOf(asked),
    lead: leadOf(answer, say),
    supposing: supposingWords(asked),
    supplyId,
    baseUnit: answer.supply.baseUnit,
    picture: supplyPicture(answer, units),
    shopTo: shopTo(asked),
    shortfalls: answer.shortfall === null ? [] : shortRows([answer.shortfall], currency, questionOf(asked)),
    days: daysThatChange(answer),
  }
}

/** The shopping list with it; null: it has none before it is kept. */
function shopTo(asked: Asked): string | null {
  if (asked.kind === "draft") return `/shopping${questionOf(asked)}`
  return asked.kind === "nothing" ? "/shopping" : null
}

/** Today, and the days on which something comes, is needed or goes off. */
function daysThatChange({ days, needs, shortfall }: SupplyAnswer) {
  const missing = new Map(shortfall?.days.map((day) => [day.on, day.missing]))
  return days
    .map((day) => ({ ...day, missing: missing.get(day.on) ?? 0, needs: needsOn(day.on, needs) }))
    .filter((day, n) => n === 0 || day.received + day.expired > 0 || day.needs.length > 0)
}

/** What is needed on a day, the same order and design once. */
function needsOn(day: IsoDate, needs: SupplyAnswer["needs"]) {
  const found = new Map<string, { amount: number; orderId: number | null; what: string }>()
  for (const { on, amount, orderId, design, for: for_ } of needs) {
    if (on !== day) continue
    const what = WHAT_FOR[for_](
      `${design}${orderId === null && for_ !== "loose" ? ", the order asked about" : ""}`,
    )
    const key = `${orderId} ${what}`
    found.set(key, { orderId, what, amount: (found.get(key)?.amount ?? 0) + amount })
  }
  return [...found.values()]
}

const WHAT_FOR: Record<SupplyAnswer["needs"][number]["for"], (design: string) => string> = {
  line: (design) => design,
  spare: (design) => `${design}, in case cups are scrapped`,
  loose: (design) => `${design}, for no order`,
  steady: () => "used every week whatever is made, on average",
}

function leadOf({ today, supply, days, shortfall }: SupplyAnswer, say: (amount: number) => string): string {
  if (shortfall !== null) {
    return `Runs short on ${sayDate(shortfall.firstOn, today)}: ${say(shortfall.missing)} missing in all.`
  }
  const last = days.at(-1)!
  const below = days.find((day) => day.left < supply.minimumAmount)
  const low = below ? ` It falls below its minimum on ${sayDate(below.on, today)}.` : ""
  return `Enough for all that is planned: ${say(last.left)} left on ${sayDate(last.on, today)}.${low}`
}
