import type { ResinCoat } from "../domain/coat-films.ts"
import type { LayerKind } from "../domain/plan.ts"
import { formatAmount, toUnit, type UnitName, type UnitSystem } from "../domain/units.ts"

/** What kinds of layer are called, in the order they are usually put on. */
export const LAYER_WORDS: Record<LayerKind, string> = {
  prep: "Prep",
  "base-coat": "Base coat",
  spray: "Sprayed colours",
  resin: "Resin coat",
  "wash-off": "Wash-off",
  vinyl: "Vinyl",
  "final-coat": "Final coat",
  counted: "Lid, box, card",
}

/** A length of time as a person says it: "45 min", "1 h 20 min", "16 h", "3 days 4 h". */
export function sayMinutes(minutes: number): string {
  const days = Math.floor(minutes / 1440)
  const hours = Math.floor((minutes % 1440) / 60)
  const rest = minutes % 60
  const said = [
    days === 0 ? "" : `${days} ${days === 1 ? "day" : "days"}`,
    hours === 0 ? "" : `${hours} h`,
    // beside days nobody counts minutes
    rest === 0 || days > 0 ? "" : `${rest} min`,
  ].filter(Boolean)
  return said.length === 0 ? "no time" : said.join(" ")
}

/** A length of time for a field, exact: "12 h", "5 min", "1 h 30 min". */
export function timeText(minutes: number): string {
  const hours = Math.floor(minutes / 60)
  const rest = minutes % 60
  if (rest === 0) return `${hours} h`
  return hours === 0 ? `${rest} min` : `${hours} h ${rest} min`
}

const TIME_PART = /^\s*(\d{1,6}(?:[.,]\d{1,4})?)\s*(days?|d|hours?|hrs?|h|minutes?|mins?|m)?\b\s*/i
const LONGEST_MIN = 365 * 1440

/**
 * A length of time as it is typed: "12 h", "12" (hours), "30 min", "1 h 30 min", "3 days".
 *
 * @returns whole minutes, zero or more; null when it cannot be read or is longer than a year
 */
export function readTime(text: string): number | null {
  let rest = text.trim()
  let minutes = 0
  if (rest === "") return null
  while (rest !== "") {
    const [part = "", number = "", unit] = TIME_PART.exec(rest) ?? []
    // a number without a unit is hours, when it stands alone
    if (part === "" || (unit === undefined && part !== text.trim())) return null
    const size = { d: 1440, h: 60, m: 1 }[(unit ?? "h").charAt(0).toLowerCase()] ?? 60
    minutes += Number(number.replace(",", ".")) * size
    rest = rest.slice(part.length)
  }
  const whole = Math.round(minutes)
  return whole <= LONGEST_MIN ? whole : null
}

/** What a bare number means as a film. */
export function filmUnit(units: UnitSystem): UnitName {
  return units === "us" ? "mil" : "µm"
}

/** What a coat of resin comes to for one cup, beginning with what was entered. */
export function sayCoat(coat: ResinCoat, units: UnitSystem): string {
  const volume = (ul: number) => formatAmount(Math.round(ul), "uL", units)
  const film = sayFilm(coat.filmUm, units)
  const stays = `${volume(coat.onCupUl)} stay on it, a film of ${film}`
  switch (coat.use.how) {
    case "resin-mixed":
      return `${volume(coat.mixedUl)} mixed for one cup, ${volume(coat.pouredUl)} of it poured over the cup; ${stays}.`
    case "resin-applied":
      return `${volume(coat.pouredUl)} poured over one cup, ${volume(coat.mixedUl)} mixed for it; ${stays}.`
    case "resin-film":
      return `A film of ${film} is ${volume(coat.onCupUl)} on the cup: ${volume(coat.pouredUl)} poured over one cup, ${volume(coat.mixedUl)} mixed for it.`
  }
}

/** A film as it is measured: "0.34 mm", "13 mil". */
export function sayFilm(um: number, units: UnitSystem): string {
  if (units === "us") return `${Number(toUnit(um, "mil").toPrecision(2))} mil`
  return `${Number(toUnit(um, "mm").toPrecision(2))} mm`
}
