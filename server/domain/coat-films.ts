import { filmUm, pouredPerCupUl } from "./films.ts"
import type { AmountUse, Layer, PlanSupply, ResinUse, SprayUse, Working } from "./plan.ts"
import { type ColourShares, shareOfColours } from "./sprays.ts"
import { input, type Surface, sharePart, surfaceInput } from "./workings.ts"

/** A coat of mixed resin on one cup, each way it can be said: µL mixed and poured, µL and µm that stay. */
export interface ResinCoat {
  use: ResinUse
  /** for one cup alone, what stays in the mixing cup included */
  mixedUl: number
  /** over the cup, what drips off it included */
  pouredUl: number
  onCupUl: number
  filmUm: number
  working: Working
}

/** Glitter in or on a coat of resin; its own volume thickens the coat. */
export interface GlitterFilm {
  supply: PlanSupply
  /** spread over the layer's surface; null: its density is not known */
  um: number | null
  working: Working | null
}

/** Paint on the cup. */
export interface PaintFilm {
  supply: PlanSupply
  sharePpm: number
  /** dry, where it lies; null: it is not sprayed by its data sheet */
  um: number | null
}

/** What a layer leaves on one cup. */
export interface CoatFilms {
  resin: readonly ResinCoat[]
  glitter: readonly GlitterFilm[]
  paint: readonly PaintFilm[]
  /** resin and glitter together, µm; null where the layer has no resin */
  coatUm: number | null
}

/**
 * What a layer leaves on one cup, worked out from its uses.
 *
 * A coat of resin is as thick as its resin and its glitter together, each spread over the layer's surface. Of
 * glitter stirred in by the litre, as much stays on as of the resin; what goes on by the cup or by area stays on
 * whole. Coating epoxy is all solids, so the cured film is as thick as the wet one.
 *
 * @throws {Refusal} see `pouredPerCupUl`
 */
export function coatFilms(layer: Layer, surface: Surface): CoatFilms {
  const resin = layer.uses.filter((use) => "system" in use).map((use) => resinCoat(use, surface))
  const glitter =
    resin.length === 0 ? [] : layer.uses.filter(isGlitter).map((use) => glitterFilm(use, resin, surface))
  const paint = layer.uses.filter(isColour).map(
    (use): PaintFilm => ({
      supply: use.supply,
      sharePpm: use.sharePpm,
      um: use.how === "spray-film" ? use.dryUm * use.passes : null,
    }),
  )
  const resinUm = resin.reduce((sum, coat) => sum + coat.filmUm, 0)
  const glitterUm = glitter.reduce((sum, film) => sum + (film.um ?? 0), 0)
  return { resin, glitter, paint, coatUm: resin.length === 0 ? null : resinUm + glitterUm }
}

/**
 * What the shares of a layer's colours come to together; null where it has fewer than two.
 *
 * @throws {Refusal} no share above zero
 */
export function coloursOf(layer: Layer): ColourShares | null {
  const colours = layer.uses.filter(isColour)
  return colours.length < 2 ? null : shareOfColours(colours.map((use) => use.sharePpm))
}

/** A coat of resin said every way. */
export function resinCoat(use: ResinUse, surface: Surface): ResinCoat {
  const pouredUl = pouredPerCupUl(use, surface.mm2)
  const um = filmUm(use, surface.mm2)
  return {
    use,
    mixedUl: pouredUl + use.residueUl,
    pouredUl,
    onCupUl: pouredUl * (1 - use.dripPpm / 1e6),
    filmUm: um,
    working: resinFilmWorking(use, pouredUl, um, surface),
  }
}

function resinFilmWorking(use: ResinUse, pouredUl: number, um: number, surface: Surface): Working {
  const share = sharePart(use)
  const area = surfaceInput(surface)
  return {
    title: `Film of ${use.system.name} on one cup`,
    formula: `poured over a cup × (1 − drips) ÷ ${share.inputs.length === 0 ? area.name : `(${area.name}${share.formula})`}`,
    inputs: [
      input(
        "poured over a cup",
        Math.round(pouredUl),
        "uL",
        use.how === "resin-applied" ? "design" : "worked out",
      ),
      input("drips", use.dripPpm, "ppm", "design"),
      area,
      ...share.inputs,
    ],
    result: { value: um, unit: "um" },
  }
}

function glitterFilm(use: AmountUse, resin: readonly ResinCoat[], surface: Surface): GlitterFilm {
  const { supply } = use
  if (supply.baseUnit !== "mg" || supply.densityMgPerMl === null) return { supply, um: null, working: null }
  const mg = glitterOnCupMg(use, resin, surface)
  const um = ((mg / supply.densityMgPerMl) * 1e6) / surface.mm2
  const area = surfaceInput(surface)
  return {
    supply,
    um,
    working: {
      title: `${supply.name}: its own volume in the coat`,
      formula: `glitter on one cup ÷ density ÷ ${area.name}`,
      inputs: [
        input("glitter on one cup", Math.round(mg), "mg", "worked out"),
        input("density", supply.densityMgPerMl, "mg/mL", "supply"),
        area,
      ],
      result: { value: um, unit: "um" },
    },
  }
}

/** What of a glitter use stays on one cup, mg. */
function glitterOnCupMg(use: AmountUse, resin: readonly ResinCoat[], surface: Surface): number {
  const share = use.sharePpm / 1e6
  const mixedUl = resin.reduce((sum, coat) => sum + coat.mixedUl, 0)
  const onCupUl = resin.reduce((sum, coat) => sum + coat.onCupUl, 0)
  switch (use.how) {
    case "per-cup":
      return use.amount * share
    case "per-area":
    case "sprinkled":
      return (surface.mm2 / 1e6) * use.amount * share
    case "per-resin":
      return (onCupUl / 1e6) * use.amount
    // stirred into the mix for one cup
    case "per-mix":
    case "per-batch":
    case "per-session":
      return use.amount * (onCupUl / mixedUl)
  }
}

function isGlitter(use: Layer["uses"][number]): use is AmountUse {
  return "supply" in use && use.supply.kind === "glitter" && use.how !== "piece" && use.how !== "spray-film"
}

/** Paint that goes on the cup by a share of its surface, rather than into the resin. */
function isColour(use: Layer["uses"][number]): use is AmountUse | SprayUse {
  if (!("supply" in use) || use.supply.kind !== "paint") return false
  return use.how === "per-cup" || use.how === "per-area" || use.how === "spray-film"
}
