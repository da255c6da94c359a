import { resinCoat } from "../domain/coat-films.ts"
import { LAYER_KINDS } from "../domain/plan.ts"
import { coatedAreaMm2 } from "../domain/profile.ts"
import { Refusal } from "../domain/refusal.ts"
import { shareOfColours } from "../domain/sprays.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import { blanks, resinSystems, suppliesList } from "../supplies/service.ts"
import type { Problem } from "../web/forms.ts"
import { flatten } from "../web/nest.ts"
import type { Draft, DraftLayer, DraftUse } from "./draft.ts"
import { resinSoFar } from "./draft-entry.ts"
import type { Choices } from "./draft-steps.ts"
import { fits, HOW_WORDS, KINDS, SORTS } from "./use-sorts.ts"
import { LAYER_WORDS, sayCoat } from "./words.ts"

export function choicesOf(studio: Studio): Choices {
  const { units, currency } = settingsOf(studio)
  return {
    supplies: suppliesList(studio),
    systems: resinSystems(studio),
    blanks: blanks(studio),
    units,
    currency,
  }
}

/** A draft, as the editor shows it. Layers with a problem are unfolded. */
export function editorModel(studio: Studio, draft: Draft, problems: readonly Problem[]) {
  const choices = choicesOf(studio)
  const { currency } = choices
  const cups = choices.blanks.map(({ supply }) => ({ id: supply.id, name: supply.name }))
  return {
    name: draft.name,
    blankSupplyId: draft.blankSupplyId,
    price: draft.price,
    fullCure: draft.fullCure,
    currency,
    cups,
    shapeless: choices.supplies
      .filter((supply) => supply.kind === "blank" && !cups.some((cup) => cup.id === supply.id))
      .map(({ id, name }) => ({ id, name })),
    layers: draft.layers.map((layer, index) => layerModel(layer, index, draft, choices, problems)),
    kinds: LAYER_KINDS.map((kind) => ({ value: `add-layer:${kind}`, label: LAYER_WORDS[kind] })),
    nextLayer: `layer-${draft.layers.length + 1}`,
    removed: draft.removed && {
      name: draft.removed.layer.name || LAYER_WORDS[draft.removed.layer.kind],
      fields: Object.entries(flatten({ removed: draft.removed })).map(([name, [value]]) => ({ name, value })),
    },
  }
}

function layerModel(
  layer: DraftLayer,
  index: number,
  draft: Draft,
  choices: Choices,
  problems: readonly Problem[],
) {
  const prefix = `layers[${index}]`
  const here = problems.filter(({ field }) => field === prefix || field?.startsWith(`${prefix}[`))
  const known = ["name", "handsOn", "turner", "earliest", "latest", "bandFrom", "bandTo"].map(
    (field) => `${prefix}[${field}]`,
  )
  const hasBand = layer.bandFrom.trim() !== "" || layer.bandTo.trim() !== ""
  const uses = layer.uses.map((use, place) => useModel(use, index, place, layer, draft, choices))
  return {
    ...layer,
    prefix,
    index,
    number: index + 1,
    anchor: `layer-${index + 1}`,
    above: `layer-${index}`,
    below: `layer-${index + 2}`,
    shownName: layer.name.trim() || LAYER_WORDS[layer.kind],
    kindWord: LAYER_WORDS[layer.kind],
    coloursSaid: coloursSaid(layer),
    mayBand: KINDS[layer.kind].mayBand || hasBand,
    hasBand,
    bandExample: choices.units === "us" ? "3 in" : "80 mm",
    isOpen: layer.open === "1" || here.length > 0,
    isFirst: index === 0,
    isLast: index === draft.layers.length - 1,
    /** those that stand beside no field of the layer */
    problems: here.filter(({ field }) => field === prefix && !known.includes(field)),
    gist:
      uses
        .map((use) => use.gist)
        .filter(Boolean)
        .join(", ") || "nothing used",
    uses,
    offers: KINDS[layer.kind].offers.map((sort) => ({
      value: `add-use:${index}:${sort}`,
      label: SORTS[sort].add,
    })),
  }
}

function useModel(
  use: DraftUse,
  index: number,
  place: number,
  layer: DraftLayer,
  draft: Draft,
  choices: Choices,
) {
  const facts = SORTS[use.sort]
  const isResin = use.sort === "resin"
  const supply = choices.supplies.find((one) => String(one.id) === use.supplyId)
  const system = choices.systems.find((one) => String(one.id) === use.resinSystemId)
  const options = isResin
    ? choices.systems.map(({ id, name }) => ({ id, name }))
    : choices.supplies
        .filter((one) => fits(use.sort, one) || one === supply)
        .map(({ id, name }) => ({ id, name }))
  // a way of measuring that was kept stays on offer, whatever else the sort offers
  const hows = [...new Set([...facts.hows, use.how])]
  const chosen = (isResin ? system : supply)?.name
  return {
    ...use,
    prefix: `layers[${index}][uses][${place}]`,
    anchor: `layer-${index + 1}`,
    remove: `remove-use:${index}:${place}`,
    label: facts.label,
    chosenName: chosen ?? facts.label.toLowerCase(),
    isResin,
    isPiece: use.sort === "piece",
    isWrap: use.sort === "wrap",
    isCut: use.how === "piece",
    isFilm: use.sort === "film",
    mayTurn: use.turn !== "",
    amountLabel: use.sort === "film" ? "A pass dries to" : "Amount",
    hasShare: facts.hasShare,
    options,
    hows: hows.map((how) => ({ value: how, label: HOW_WORDS[how] })),
    onlyHow: hows.length === 1,
    comesTo: isResin ? comesTo(use, layer, draft, choices) : null,
    gist: chosen === undefined ? "" : `${use.how === "piece" ? "" : `${use.amount} `}${chosen}`.trim(),
  }
}

/** What a line of resin comes to on the chosen cup; null while something is missing or wrong. */
function comesTo(use: DraftUse, layer: DraftLayer, draft: Draft, choices: Choices): string | null {
  const blank = choices.blanks.find((one) => String(one.supply.id) === draft.blankSupplyId)
  const read = blank && resinSoFar(use, layer, blank, choices)
  const system = choices.systems.find((one) => one.id === read?.use.resinSystemId)
  if (!blank || !read || !system) return null
  try {
    const surface = { mm2: coatedAreaMm2(blank, read.band), isBand: read.band !== null }
    return sayCoat(resinCoat({ ...read.use, system }, surface), choices.units)
  } catch (error) {
    if (error instanceof Refusal) return null
    throw error
  }
}

/** What the shares of a layer's colours come to; null where it has fewer than two that can be read. */
function coloursSaid(layer: DraftLayer): string | null {
  const shares = layer.uses
    .filter((use) => use.sort === "paint" || use.sort === "film")
    .map((use) => Number(use.share.replace(",", ".").replace("%", "")))
  if (shares.length < 2 || !shares.every((share) => share >= 0) || !shares.some((share) => share > 0))
    return null
  return shareOfColours(shares.map((share) => share * 10_000)).sentence
}
