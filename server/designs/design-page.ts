import { coloursOf } from "../domain/coat-films.ts"
import { sayLayer } from "../domain/layers.ts"
import { smallestCoin } from "../domain/money.ts"
import type { BaseUnit, Blank, Working } from "../domain/plan.ts"
import { type Band, coatedAreaMm2, coveredBand } from "../domain/profile.ts"
import { readableWorking } from "../domain/readable-working.ts"
import { Refusal } from "../domain/refusal.ts"
import { roundParts } from "../domain/rounding.ts"
import { formatAmount, type UnitSystem } from "../domain/units.ts"
import { knownCost } from "../domain/unpriced.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { lengthText, lengthUnit, profilePicture, suppliesList } from "../supplies/service.ts"
import { crossSection } from "./cross-section.ts"
import { type LayerPerCup, type PerCup, perCup, type SupplyTotal } from "./per-cup.ts"
import { versionOf, versionProblems, versionsOf } from "./service.ts"
import { LAYER_WORDS, sayCoat, sayFilm, sayMinutes } from "./words.ts"

/** A version of a design, as its page shows it. */
export function designPage(
  studio: Studio,
  designId: number,
  asked: { version: number | null; cups: number },
) {
  const versions = versionsOf(studio, designId)
  const chosen = asked.version === null ? versions[0] : versions.find((one) => one.number === asked.version)
  if (!chosen) throw new Refusal("There is no such design.", { status: 404 })
  const version = versionOf(studio, chosen.versionId)
  const problems = versionProblems(studio, version.name, version.input)
  const stops = problems.filter((problem) => problem.severity === "stop")
  const made = stops.length > 0 ? null : perCup(studio, chosen.versionId, asked.cups)
  const layerName = (position: number | null) =>
    position === null ? "" : `${version.input.layers[position - 1]?.name}: `
  return {
    title: version.name,
    lead:
      made === null ? "This design cannot be made as it stands. Change what is listed below." : leadOf(made),
    back: { to: "/designs", label: "Designs" },
    designId,
    versionId: chosen.versionId,
    number: chosen.number,
    isLatest: chosen === versions[0],
    frozen: chosen.frozen,
    versions: versions.map((one) => ({ ...one, isShown: one === chosen })),
    manyVersions: versions.length > 1,
    priceMicro: version.input.priceMicro,
    stops: stops.map((problem) => layerName(problem.layerPosition) + problem.sentence),
    warnings: problems
      .filter((problem) => problem.severity === "warn")
      .map((problem) => layerName(problem.layerPosition) + problem.sentence),
    made: made && madeModel(studio, made, version.input.priceMicro),
  }
}

function leadOf({ plan, times, cups }: PerCup): string {
  const turner = times.turnerMin === 0 ? "" : ` and ${sayMinutes(times.turnerMin)} on a turner`
  return `${plan.layers.length === 1 ? "One layer" : `${plan.layers.length} layers`} on ${plan.blank.supply.name}: ${sayMinutes(times.handsOnMin)} of your work${turner}${cups === 1 ? "" : " for each cup"}, ready to use after ${sayMinutes(times.totalMin)}.`
}

function madeModel(studio: Studio, made: PerCup, priceMicro: number) {
  const { units, currency } = settingsOf(studio)
  const { cups, times, totals } = made
  const known = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
  const colours = new Map([...known].map(([id, supply]) => [id, supply.colour]))
  const costMicro = Math.round((made.materialsMicro + made.labourMicro) / cups)
  const materialsMicro = Math.round(made.materialsMicro / cups)
  // to the smallest coin, so that they add up to the price
  const coin = smallestCoin(currency)
  const [materialCoins = 0, labourCoins = 0, leftCoins = 0] = roundParts(
    [materialsMicro, costMicro - materialsMicro, priceMicro - costMicro],
    coin,
  )
  const priced = knownCost(
    materialsMicro,
    totals.flatMap((total) => (total.costMicro === null ? total.supply : [])),
  )
  const materials = { ...priced, micro: priced.micro === null ? null : materialCoins }
  // and of one cup, its supplies to its materials
  const supplyCoins = roundParts(
    totals.map((total) => total.costMicro ?? 0),
    coin,
    cups === 1 ? materialCoins : undefined,
  )
  const { blank } = made.plan
  const picture = crossSection(made.layers, blank, colours, units)
  const bands = made.layers.flatMap(({ layer }) =>
    layer.band === null ? [] : { name: String(layer.position), band: layer.band },
  )
  return {
    cups,
    isOne: cups === 1,
    blank: made.plan.blank.supply.name,
    materials,
    labourMicro: labourCoins,
    hasLabour: made.labourMicro > 0,
    costMicro,
    // what has no price yet can only make it less
    leftMicro: priceMicro === 0 || materials.micro === null ? null : leftCoins,
    leftIsMost: materials.isPart,
    handsOn: sayMinutes(times.handsOnMin),
    turner: sayMinutes(times.turnerMin),
    ready: sayMinutes(times.totalMin),
    cure: sayMinutes(made.plan.fullCureMin),
    totals: totals.map((total, index) => ({
      ...total,
      costMicro: total.costMicro === null ? null : (supplyCoins[index] ?? 0),
      aCup: sayBetween(total.aCup, total.baseUnit, units),
      byOffer: total.priced === "offer",
    })),
    picture: picture.coats.length === 0 ? null : picture,
    profile: bands.length === 0 ? null : profilePicture(blank, bands),
    layers: made.layers.map((one) => ({
      ...layerModel(one),
      band: one.layer.band === null ? null : sayBand(one.layer.band, blank, units),
      ...filmsModel(one, units),
      draws: one.need.draws.map((draw) => ({
        supply: known.get(draw.supplyId)!.name,
        baseUnit: known.get(draw.supplyId)!.baseUnit,
        colour: known.get(draw.supplyId)!.colour,
        amount: draw.amount,
        mix: draw.mix === null || one.need.mixes.length < 2 ? null : draw.mix + 1,
        working: readableWorking(draw.working, units),
      })),
    })),
  }
}

/** What a layer leaves on the cup, each with its why. */
function filmsModel({ layer, films }: LayerPerCup, units: UnitSystem) {
  const why = (working: Working | null) => working && readableWorking(working, units)
  const glitter = films.glitter.map(({ supply, um, working }) => ({
    said:
      um === null
        ? `${supply.name} thickens the coat by its own volume; by how much needs its density.`
        : `${supply.name} thickens the coat by ${sayFilm(um, units)}.`,
    working: why(working),
  }))
  const paint = films.paint.flatMap(({ supply, um }) =>
    um === null ? [] : { said: `${supply.name} dries to ${sayFilm(um, units)}.`, working: null },
  )
  return {
    films: [
      ...films.resin.map((coat) => ({
        said: `${coat.use.system.name}: ${sayCoat(coat, units)}`,
        working: why(coat.working),
      })),
      ...glitter,
      ...paint,
    ],
    colours: coloursOf(layer)?.sentence ?? null,
  }
}

/** "12 mL", or where the cups differ "0 to 1". */
function sayBetween({ least, most }: SupplyTotal["aCup"], baseUnit: BaseUnit, units: UnitSystem): string {
  const [from, to] = [formatAmount(least, baseUnit, units), formatAmount(most, baseUnit, units)]
  return from === to ? to : `${from} to ${to}`
}

/** "from the base up to 80 mm: 33 % of what this cup's coats can cover". */
function sayBand(band: Band, blank: Blank, units: UnitSystem): string {
  const { fromUm, toUm } = coveredBand(blank, band)
  const whole = coveredBand(blank)
  const at = (um: number) => `${lengthText(um, units)} ${lengthUnit(units)}`
  const from = fromUm === whole.fromUm ? "the base" : at(fromUm)
  const to = toUm === whole.toUm ? "the lip" : at(toUm)
  const share = coatedAreaMm2(blank, band) / coatedAreaMm2(blank)
  return `from ${from} up to ${to}: ${Math.round(share * 100)} % of what this cup's coats can cover`
}

function layerModel({ layer, need, hazards, cautions }: LayerPerCup) {
  const { recoatEarliestMin, recoatLatestMin } = layer
  return {
    position: layer.position,
    name: layer.name,
    said: sayLayer(layer),
    kind: LAYER_WORDS[layer.kind],
    isNamedAsKind: layer.name === LAYER_WORDS[layer.kind],
    handsOn: sayMinutes(layer.handsOnMin),
    turner: layer.turnerMin === 0 ? null : sayMinutes(layer.turnerMin),
    next: recoatEarliestMin === 0 ? null : sayMinutes(recoatEarliestMin),
    latest: recoatLatestMin === null ? null : sayMinutes(recoatLatestMin),
    mixes: need.mixes.length,
    hazards: hazards.map((label) => label.charAt(0).toLowerCase() + label.slice(1)).join(", "),
    cautions,
  }
}
