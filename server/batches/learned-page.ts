import { LAYER_WORDS } from "../designs/service.ts"
import { type Bias, FEWEST } from "../domain/learning.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { formatAmount, type UnitSystem } from "../domain/units.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { resinSystems, suppliesList } from "../supplies/service.ts"
import { countedUse } from "./counted.ts"
import { type Learned, learned, type OfferedChange } from "./learned.ts"

/** The picture's scale: from so much to so much of the plan, in % of it. */
const [LEAST, MOST] = [60, 140]

/** Planned against actual, with what it suggests. */
export function learnedPage(studio: Studio) {
  const { units } = settingsOf(studio)
  const supplies = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
  const systems = new Map(resinSystems(studio).map((system) => [system.id, system]))
  const rows = learned(studio)
    .map((row) => {
      const unit: BaseUnit = row.what === "resin" ? "uL" : (supplies.get(row.id)?.baseUnit ?? "each")
      const name = row.what === "resin" ? systems.get(row.id)?.name : supplies.get(row.id)?.name
      return rowView(row, name ?? "", unit, units)
    })
    .sort((a, b) => a.rank - b.rank || a.title.localeCompare(b.title))
  const offers = rows.reduce((sum, row) => sum + row.offers.length, 0)
  return {
    title: "Planned against actual",
    lead: leadOf(rows.length, offers),
    counted: countedUse(studio).map((one) => ({
      ...one,
      ...beside(one),
      bottles: one.bottles.map((bottle) => ({ ...bottle, ...beside(bottle) })),
    })),
    back: { to: "/batches", label: "Batches" },
    rows,
    fewest: FEWEST,
    least: LEAST,
    most: MOST,
  }
}

function leadOf(rows: number, offers: number): string {
  if (rows === 0) {
    return "Nothing has been measured yet: say on a batch's page what was poured, or weigh a can before and after."
  }
  return offers === 0
    ? "What was measured fits the plans, as far as it can be said."
    : `${offers} ${offers === 1 ? "figure" : "figures"} of your designs could be corrected. Nothing changes until you save it in the design.`
}

/** How far the counts are from the plans: "12 mL more", in % of what was planned. */
function beside({ planned, counted }: { planned: number; counted: number }) {
  return {
    by: Math.abs(counted - planned),
    word: counted > planned ? "more" : counted < planned ? "less" : "",
    ofPlan: percent((counted - planned) / planned),
  }
}

const RANK: Record<Bias["verdict"], number> = { more: 0, less: 0, "no difference": 1, "too few": 2 }

function rowView({ kind, bias, offers }: Learned, name: string, unit: BaseUnit, units: UnitSystem) {
  return {
    title: `${LAYER_WORDS[kind]}: ${name}`,
    sentence: bias.sentence,
    verdict: bias.verdict,
    rank: RANK[bias.verdict],
    count: bias.count,
    ratio: bias.ratio === null ? null : percent(bias.ratio),
    spread: bias.spread === null ? null : percent(bias.spread),
    interval: bias.interval && { low: percent(bias.interval.low), high: percent(bias.interval.high) },
    picture: pictureOf(bias),
    offers: offers.map(({ design, layer, to, change }) => ({
      design,
      layer,
      to,
      ...sayChange(change, unit, units),
    })),
  }
}

/** Where mean and interval stand on the picture's scale, 0 to 100; what lies past its ends stands at them. */
function pictureOf({ ratio, interval }: Bias) {
  if (ratio === null || interval === null) return null
  const place = (value: number) => Math.min(100, Math.max(0, ((value * 100 - LEAST) / (MOST - LEAST)) * 100))
  const [low, high] = [place(interval.low), place(interval.high)]
  return {
    mean: round(place(ratio)),
    low: round(low),
    width: round(Math.max(0.5, high - low)),
    asPlanned: place(1),
  }
}

function sayChange(
  { what, from, to }: OfferedChange,
  unit: BaseUnit,
  units: UnitSystem,
): { what: string; from: string; becomes: string } {
  const amount = (value: number) => formatAmount(value, unit, units)
  const film = (um: number) => (units === "us" ? `${(um / 25.4).toFixed(1)} mil` : `${Math.round(um)} µm`)
  const part = (ppm: number) => `${Math.round(ppm / 1000) / 10} %`
  switch (what) {
    case "amount":
      return { what: "Amount", from: amount(from), becomes: amount(to) }
    case "film":
      return { what: "Film", from: film(from), becomes: film(to) }
    case "drip":
      return { what: "Drips off", from: part(from), becomes: part(to) }
    case "transfer":
      return { what: "Paint that lands", from: part(from), becomes: part(to) }
  }
}

function percent(share: number): number {
  return Math.round(share * 1000) / 10
}

function round(value: number): number {
  return Math.round(value * 100) / 100
}
