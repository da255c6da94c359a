import type { ResinUse } from "./plan.ts"
import { Refusal } from "./refusal.ts"
import { UNITS } from "./units.ts"

/**
 * Resin to mix, in one mixing cup, for a number of cups. What stays in the mixing cup is lost once, however
 * many cups the mix serves:
 *
 *     mixed = cups × poured over one cup + residue
 *
 * @param use film, mixed or applied amount, with share, drip and residue
 * @param areaMm2 coated area of one cup
 * @param cups whole number, at least one
 * @returns µL, not rounded
 * @throws {Refusal} see `pouredPerCupUl`
 */
export function mixedForCups(use: ResinUse, areaMm2: number, cups: number): number {
  if (!Number.isInteger(cups) || cups < 1) throw new RangeError(`a mix serves whole cups, not ${cups}`)
  return cups * pouredPerCupUl(use, areaMm2) + use.residueUl
}

/**
 * Resin poured over one cup, what then drips off it included, what stays in the mixing cup not.
 *
 * - film: area × share × film ÷ (1 − drip). 1 mm² under 1 µm is a thousandth of a mm³, and 1 mm³ is 1 µL.
 * - mixed: (amount − residue) × share, the amount being one cup's alone
 * - applied: amount × share
 *
 * @returns µL, not rounded
 * @throws {Refusal} nothing to pour: no amount, or no more than stays in the mixing cup; or all of it drips off
 */
export function pouredPerCupUl(use: ResinUse, areaMm2: number): number {
  if (!(areaMm2 > 0)) throw new RangeError(`no film lies on ${areaMm2} mm²`)
  const share = use.sharePpm / 1e6
  const { name } = use.system
  if (use.amount <= 0 || share <= 0) throw new Refusal(`Say how much ${name} goes on a cup.`)
  if (use.dripPpm >= 1_000_000) throw new Refusal(`If all the ${name} drips off, none stays on the cup.`)
  switch (use.how) {
    case "resin-film":
      return (areaMm2 * share * use.amount) / 1000 / staysOn(use)
    case "resin-applied":
      return use.amount * share
    case "resin-mixed":
      if (use.amount <= use.residueUl) {
        throw new Refusal(
          `The ${name} mixed for one cup must be more than what stays in the mixing cup and on the stick.`,
        )
      }
      return (use.amount - use.residueUl) * share
  }
}

/**
 * Wet film on the part of the cup that is covered, after drips: poured × (1 − drip) ÷ (area × share).
 * Coating epoxy is all solids, so the cured film is as thick.
 *
 * @param areaMm2 coated area of one cup
 * @returns µm, not rounded
 * @throws {Refusal} see `pouredPerCupUl`
 */
export function filmUm(use: ResinUse, areaMm2: number): number {
  const onCupMm3 = pouredPerCupUl(use, areaMm2) * staysOn(use)
  return (onCupMm3 * 1000) / (areaMm2 * (use.sharePpm / 1e6))
}

/** A coating's solids by volume and the thickness it dries to. */
export interface DryFilm {
  /** solids by volume, above 0 up to 1 */
  solids: number
  dryUm: number
}

/**
 * Surface that a litre covers when nothing is lost: m²/L = solids in % × 10 ÷ dry film in µm
 * (the coatings industry's theoretical spreading rate, printed in most makers' general notes).
 *
 * @returns m²/L
 */
export function theoreticalSpreadingRate({ solids, dryUm }: DryFilm): number {
  mustBeShare("solids", solids)
  mustBePositive("dry film", dryUm)
  return (solids * 1000) / dryUm
}

/**
 * Surface that a litre, or a US gallon, covers when only part of what is sprayed lands on it:
 * theoretical rate × transfer efficiency (R. Joseph, "Calculating Coating Coverage").
 *
 * @param film.transfer share of the sprayed solids that lands, above 0 up to 1
 */
export function practicalSpreadingRate(film: DryFilm & { transfer: number }): {
  m2PerL: number
  ft2PerUsGal: number
} {
  mustBeShare("transfer", film.transfer)
  const m2PerL = theoreticalSpreadingRate(film) * film.transfer
  const litresPerGal = UNITS.gal.size / UNITS.L.size
  const m2PerFt2 = UNITS["ft²"].size / UNITS["m²"].size
  return { m2PerL, ft2PerUsGal: (m2PerL * litresPerGal) / m2PerFt2 }
}

/**
 * Wet film to lay for a dry one: dry × (1 + thinner) ÷ solids (the coatings industry's estimating guides).
 *
 * @param film.thinner parts of thinner to one of coating by volume; 0 when not thinned
 * @returns µm
 */
export function wetFilmUm({ solids, dryUm, thinner }: DryFilm & { thinner: number }): number {
  mustBeShare("solids", solids)
  mustBePositive("dry film", dryUm)
  if (!(thinner >= 0)) throw new RangeError(`thinner cannot be ${thinner}`)
  return (dryUm * (1 + thinner)) / solids
}

/** What does not drip off, as a share of what was poured. */
function staysOn(use: ResinUse): number {
  return 1 - use.dripPpm / 1e6
}

function mustBePositive(what: string, value: number): void {
  if (!(value > 0)) throw new RangeError(`${what} must be above zero, not ${value}`)
}

function mustBeShare(what: string, value: number): void {
  if (!(value > 0 && value <= 1)) throw new RangeError(`${what} must be above 0 and at most 1, not ${value}`)
}
