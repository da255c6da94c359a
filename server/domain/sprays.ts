import { practicalSpreadingRate } from "./films.ts"
import type { PlanSupply } from "./plan.ts"
import { Refusal } from "./refusal.ts"

/**
 * Share of the sprayed solids that lands on a cup, where the maker knows no better: 30 %. Common practice, no
 * source: a can's fan is wider than a cup, and much of it goes past a narrow, round target. (R. Joseph's example
 * for larger parts takes 35 %.) A can weighed before and after says what it is on this bench: see
 * `transferFromWeighed`.
 */
export const USUAL_TRANSFER_PPM = 300_000

/** A sprayed film by its data sheet. */
export interface SprayFilm {
  /** dry film of one pass, µm */
  dryUm: number
  passes: number
  /** solids by volume of what leaves the can or gun, propellant and thinner counted */
  solidsPpm: number
  /** share of the sprayed solids that lands on the cup */
  transferPpm: number
  /** how much of the coated surface it is sprayed on */
  sharePpm: number
}

/**
 * Paint sprayed for one cup, overspray counted:
 *
 *     area × share ÷ practical spreading rate, the rate being
 *     solids × transfer ÷ (dry film a pass × passes)
 *
 * (R. Joseph, "Calculating Coating Coverage", Paint & Coatings Resource Center; see `practicalSpreadingRate`)
 *
 * @param areaMm2 coated area of one cup
 * @returns µL, not rounded
 * @throws {Refusal} a figure of the film is missing or cannot be
 */
export function sprayedUl(film: SprayFilm, areaMm2: number): number {
  if (!(areaMm2 > 0)) throw new RangeError(`no film lies on ${areaMm2} mm²`)
  if (!(film.sharePpm > 0)) throw new Refusal("Say how much of the cup is sprayed.")
  if (!(film.dryUm > 0)) throw new Refusal("Say how thick one pass dries: more than zero.")
  if (!Number.isInteger(film.passes) || film.passes < 1) {
    throw new Refusal("Passes are whole, and at least one.")
  }
  const m2PerL = spreadingRate(film, film.dryUm * film.passes)
  // 1 m²/L is 1 mm²/µL
  return (areaMm2 * (film.sharePpm / 1e6)) / m2PerL
}

/**
 * The same in what the paint is counted in: µL, or mg by its density.
 *
 * @returns base units of `supply`, not rounded
 * @throws {Refusal} see `sprayedUl`; paint counted in mg without a density, or counted in neither
 */
export function sprayedAmount(film: SprayFilm, areaMm2: number, supply: PlanSupply): number {
  return sprayedUl(film, areaMm2) * baseUnitsPerUl(supply)
}

/**
 * The dry film, all passes together, that a weighed or measured amount leaves on a cup: the reverse of
 * `sprayedAmount`. `film.dryUm` and `film.passes` are not asked for.
 *
 * @param amount sprayed for one cup, in base units of `supply`
 * @returns µm, not rounded
 * @throws {Refusal} see `sprayedAmount`
 */
export function sprayedDryUm(
  film: Pick<SprayFilm, "solidsPpm" | "transferPpm" | "sharePpm">,
  areaMm2: number,
  supply: PlanSupply,
  amount: number,
): number {
  if (!(areaMm2 > 0)) throw new RangeError(`no film lies on ${areaMm2} mm²`)
  if (!(film.sharePpm > 0)) throw new Refusal("Say how much of the cup is sprayed.")
  if (!(amount > 0)) throw new Refusal(`Say how much ${supply.name} goes on a cup.`)
  const ul = amount / baseUnitsPerUl(supply)
  // what would cover 1 µm thick, spread over what it covers
  return (spreadingRate(film, 1) * ul) / (areaMm2 * (film.sharePpm / 1e6))
}

/**
 * The transfer efficiency that a weighed can stands for, when the dry film on the cup is known.
 *
 * @param amount sprayed for one cup, in base units of `supply`
 * @returns ppm, not rounded; more than a million means that less was sprayed than lies on the cup, so that a
 *   figure is wrong
 * @throws {Refusal} see `sprayedAmount`
 */
export function transferFromWeighed(
  film: Omit<SprayFilm, "transferPpm">,
  areaMm2: number,
  supply: PlanSupply,
  amount: number,
): number {
  if (!(amount > 0)) throw new Refusal(`Say how much ${supply.name} goes on a cup.`)
  return (1e6 * sprayedAmount({ ...film, transferPpm: 1_000_000 }, areaMm2, supply)) / amount
}

/**
 * What of a container can still be sprayed: what is left less what it never gives up, and never less than none.
 *
 * @param left amount in the container, and `keptBack` what stays in it for good, both in base units
 */
export function usableLeft(left: number, keptBack: number): number {
  return Math.max(0, left - keptBack)
}

/** What several colours' shares of the surface come to together. */
export interface ColourShares {
  totalPpm: number
  meaning: "overlap" | "whole" | "bare"
  /** what that means on the cup */
  sentence: string
}

/** Three thirds typed as 33.3 % are the whole. */
const WHOLE_WITHIN_PPM = 5_000

/**
 * What shares of several colours mean: more than the whole overlap, less leave some of the surface without any.
 * Either is a way to work, and neither is refused.
 *
 * @param sharesPpm each colour's share of the surface, none negative
 * @throws {Refusal} no share above zero
 */
export function shareOfColours(sharesPpm: readonly number[]): ColourShares {
  if (sharesPpm.some((share) => !(share >= 0))) throw new Refusal("A share cannot be less than zero.")
  const totalPpm = sharesPpm.reduce((sum, share) => sum + share, 0)
  if (totalPpm === 0) throw new Refusal("All shares are zero: give at least one colour a share of the cup.")
  const overPpm = totalPpm - 1_000_000
  if (Math.abs(overPpm) <= WHOLE_WITHIN_PPM) {
    return { totalPpm, meaning: "whole", sentence: "Together the colours cover the cup once." }
  }
  return overPpm > 0
    ? {
        totalPpm,
        meaning: "overlap",
        sentence: `The shares come to ${percent(totalPpm)}, ${percent(overPpm)} more than the whole: colours lie over one another.`,
      }
    : {
        totalPpm,
        meaning: "bare",
        sentence: `The shares come to ${percent(totalPpm)}: ${percent(-overPpm)} of the cup or more stays without these colours.`,
      }
}

function spreadingRate(
  { solidsPpm, transferPpm }: Pick<SprayFilm, "solidsPpm" | "transferPpm">,
  dryUm: number,
) {
  if (!(solidsPpm > 0 && solidsPpm <= 1_000_000)) {
    throw new Refusal("Solids by volume are more than 0 % and at most 100 %.")
  }
  if (!(transferPpm > 0 && transferPpm <= 1_000_000)) {
    throw new Refusal("The share that lands on the cup is more than 0 % and at most 100 %.")
  }
  return practicalSpreadingRate({ solids: solidsPpm / 1e6, transfer: transferPpm / 1e6, dryUm }).m2PerL
}

/** 1 mg/mL is a thousandth of a mg in a µL. */
function baseUnitsPerUl({ name, baseUnit, densityMgPerMl }: PlanSupply): number {
  switch (baseUnit) {
    case "uL":
      return 1
    case "mg":
      if (densityMgPerMl === null) {
        throw new Refusal(`${name} is weighed: its density is needed to work out a film from its data sheet.`)
      }
      return densityMgPerMl / 1000
    case "um":
    case "mm2":
    case "each":
      throw new Refusal(
        `${name} is counted neither by volume nor by weight, so it cannot be sprayed as a film.`,
      )
  }
}

/** To one decimal where there is one: 33.3 %, 130 %. */
function percent(ppm: number): string {
  return `${Math.round(ppm / 1_000) / 10} %`
}
