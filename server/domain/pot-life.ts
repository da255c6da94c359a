import type { ResinSystem, Working } from "./plan.ts"
import { Refusal } from "./refusal.ts"

/** The room a data sheet states its pot life for. Common practice, no source. */
export const DATA_SHEET_CELSIUS = 23

/** The mix a data sheet states its pot life for, about 110 g of epoxy. Common practice, no source. */
export const DATA_SHEET_MIX_UL = 100_000

/** Warmer by this much, resin and hardener react twice as fast. Common practice, no source. */
const CELSIUS_TO_HALVE = 10

/** What is left of the pot life each time a mix is twice as large. Common practice, no source. */
const LEFT_BY_DOUBLING = 0.8

/** Rooms that resin is coated in. Common practice, no source: the data sheet's own range counts. */
export const COOLEST_ROOM = 5
export const WARMEST_ROOM = 40

/**
 * How long this very mix stays workable, from the moment A meets B.
 *
 *     data sheet's pot life × 0.8^(log₂(mix ÷ 100 mL)) ÷ 2^((room − 23 °C) ÷ 10 °C)
 *
 * A large mix holds its own heat, and a warm room speeds it up: both only shorten. A mix under 100 mL or a
 * room under 23 °C leaves the data sheet's time as it is. Common practice, no source.
 *
 * @param mixedUl A and B together, µL
 * @param roomCelsius where the data sheet's own 23 °C is not what the room has
 * @returns whole minutes, rounded down
 * @throws {Refusal} a room that no resin is coated in
 */
export function potLifeOfMixMin(
  system: ResinSystem,
  mixedUl: number,
  roomCelsius = DATA_SHEET_CELSIUS,
): number {
  if (!(mixedUl > 0)) throw new RangeError(`a mix of ${mixedUl} µL has no pot life`)
  if (!(roomCelsius >= COOLEST_ROOM && roomCelsius <= WARMEST_ROOM)) {
    throw new Refusal(
      `Resin is coated in a room between ${COOLEST_ROOM} and ${WARMEST_ROOM} °C: check the room's temperature.`,
      { field: "roomCelsius" },
    )
  }
  const doublings = Math.log2(Math.max(1, mixedUl / DATA_SHEET_MIX_UL))
  const halvings = Math.max(0, roomCelsius - DATA_SHEET_CELSIUS) / CELSIUS_TO_HALVE
  // a billionth less than a whole minute is the computer's error
  return Math.floor(system.potLifeMin * LEFT_BY_DOUBLING ** doublings * 0.5 ** halvings + 1e-9)
}

/**
 * How many cups a mix can coat before it thickens: (its pot life − minutes to mix) ÷ minutes a cup, whole cups.
 *
 * @param mixedUl A and B together, µL
 * @throws {Refusal} not even one: the pot life is shorter than mixing and one cup's work
 */
export function cupsWithinPotLife(
  system: ResinSystem,
  mixedUl: number,
  roomCelsius = DATA_SHEET_CELSIUS,
): number {
  const potLife = potLifeOfMixMin(system, mixedUl, roomCelsius)
  const cups = Math.floor((potLife - system.mixingMin) / system.cupWorkMin)
  if (cups >= 1) return cups
  const work = system.mixingMin + system.cupWorkMin
  const where = roomCelsius > DATA_SHEET_CELSIUS ? ` at ${roomCelsius} °C` : ""
  const help = roomCelsius > DATA_SHEET_CELSIUS ? "Work in a cooler room" : "Check its times"
  throw new Refusal(
    `${system.name} thickens after ${potLife} minutes${where}, but mixing it and coating one cup takes ${work}. ${help}, or choose a resin with a longer pot life.`,
  )
}

/** Why a mix lasts as long as it does, for the person who wonders. */
export function potLifeWorking(
  system: ResinSystem,
  mixedUl: number,
  roomCelsius = DATA_SHEET_CELSIUS,
): Working {
  return {
    title: `Pot life of this mix of ${system.name}`,
    formula:
      "data sheet's pot life, a fifth less each time the mix is twice the data sheet's, half as long for each 10 °C the room is warmer; rounded down (common practice, no source)",
    inputs: [
      { name: "data sheet's pot life", value: system.potLifeMin, unit: "min", from: "resin system" },
      { name: "this mix", value: mixedUl, unit: "uL", from: "worked out" },
      { name: "data sheet's mix", value: DATA_SHEET_MIX_UL, unit: "uL", from: "common practice" },
      { name: "room", value: roomCelsius, unit: "°C", from: "studio" },
      { name: "data sheet's room", value: DATA_SHEET_CELSIUS, unit: "°C", from: "common practice" },
    ],
    result: { value: potLifeOfMixMin(system, mixedUl, roomCelsius), unit: "min" },
  }
}
