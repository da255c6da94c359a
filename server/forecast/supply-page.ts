import { sayDate } from "../domain/dates.ts"
import { formatAmount } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { type SupplyAnswer, supplyForecast } from "./service.ts"
import { shortRows } from "./short-rows.ts"
import { supplyPicture } from "./supply-picture.ts"

/** How long one supply lasts. */
export function supplyPage(studio: Studio, supplyId: number) {
  const answer = supplyForecast(studio, supplyId)
  const { units } = settingsOf(studio)
  const say = (amount: number) => formatAmount(amount, answer.supply.baseUnit, units)
  return {
    title: answer.supply.name,
    back: { to: "/forecast", label: "What runs short" },
    lead: leadOf(answer, say),
    supplyId,
    baseUnit: answer.supply.baseUnit,
    picture: supplyPicture(answer, units),
    shortfalls: answer.shortfall === null ? [] : shortRows([answer.shortfall]),
    days: answer.days.filter((day, n) => n === 0 || day.received + day.used + day.expired > 0),
  }
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
