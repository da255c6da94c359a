import { readNumber } from "./number-text.ts"
import type { LayerKind } from "./plan.ts"
import { COOLEST_ROOM, WARMEST_ROOM } from "./pot-life.ts"
import type { UnitSystem } from "./units.ts"

/** The room while a coat was put on, as it was said; null: not said. */
export interface Room {
  /** tenths of a degree Celsius */
  celsiusTenths: number | null
  /** relative humidity */
  humidityPercent: number | null
}

/** What a person typed: null where it was left empty. */
type Read = { ok: true; value: number | null } | { ok: false; message: string }

/** Below this epoxy is thick and cures slowly; above that humidity it may blush. Common practice, no source. */
const COOL_CELSIUS = 18
const DAMP_PERCENT = 80

/**
 * Reads a room's temperature: "22", "22.5 °C", "72 F". Without a letter it is in the studio's own degrees.
 *
 * °C = (°F − 32) × 5 ÷ 9, exactly (NIST Special Publication 811, appendix B.9).
 *
 * @returns tenths of a degree Celsius, or one sentence: not a number, or no room that cups are coated in
 */
export function readTemperature(text: string, units: UnitSystem): Read {
  const said = text.trim()
  if (said === "") return { ok: true, value: null }
  const [, digits = said, letter] = /^(.*?)\s*°?\s*([cf])?$/i.exec(said) ?? []
  const isFahrenheit = letter === undefined ? units === "us" : letter.toLowerCase() === "f"
  const read = readNumber(digits.replace(/°$/, ""))
  if (!read.ok) return { ok: false, message: `The room's temperature: ${read.message}` }
  const degrees = Number(read.decimal)
  const tenths = Math.round(isFahrenheit ? ((degrees - 32) * 50) / 9 : degrees * 10)
  if (tenths >= COOLEST_ROOM * 10 && tenths <= WARMEST_ROOM * 10) return { ok: true, value: tenths }
  const [least, most] = [COOLEST_ROOM, WARMEST_ROOM].map((one) => (isFahrenheit ? (one * 9) / 5 + 32 : one))
  return {
    ok: false,
    message: `Cups are coated in a room between ${least} and ${most} °${isFahrenheit ? "F" : "C"}: check the temperature, or leave it empty.`,
  }
}

/** Reads relative humidity, "45" or "45 %". @returns whole percent, or one sentence */
export function readHumidity(text: string): Read {
  const said = text.trim().replace(/\s*%$/, "")
  if (said === "") return { ok: true, value: null }
  const read = readNumber(said)
  const percent = read.ok ? Math.round(Number(read.decimal)) : Number.NaN
  if (percent >= 1 && percent <= 100) return { ok: true, value: percent }
  return {
    ok: false,
    message: "Humidity is a number from 1 to 100 %: check the hygrometer, or leave it empty.",
  }
}

/** "22.5" °C, or °F to the nearest half: what is shown and typed again. */
export function temperatureFigure(celsiusTenths: number, units: UnitSystem): string {
  return String(units === "us" ? Math.round((celsiusTenths * 9) / 25 + 64) / 2 : celsiusTenths / 10)
}

/** "22.5 °C, 45 % humidity"; null where nothing was said. */
export function sayRoom({ celsiusTenths, humidityPercent }: Room, units: UnitSystem): string | null {
  const said = [
    ...(celsiusTenths === null
      ? []
      : [`${temperatureFigure(celsiusTenths, units)} °${units === "us" ? "F" : "C"}`]),
    ...(humidityPercent === null ? [] : [`${humidityPercent} % humidity`]),
  ]
  return said.length === 0 ? null : said.join(", ")
}

/** What to mind about resin in such a room. Common practice, no source: the data sheet's own range counts. */
export function roomRemarks({ celsiusTenths, humidityPercent }: Room, kind: LayerKind): string[] {
  if (kind !== "resin" && kind !== "final-coat") return []
  return [
    ...(celsiusTenths !== null && celsiusTenths < COOL_CELSIUS * 10
      ? [
          "In a room this cool resin is thick and cures slowly: give it longer, and see its data sheet for the least it needs.",
        ]
      : []),
    ...(humidityPercent !== null && humidityPercent > DAMP_PERCENT
      ? [
          "In air this damp fresh resin can turn dull or greasy: look at it before the next coat, and see its data sheet.",
        ]
      : []),
  ]
}
