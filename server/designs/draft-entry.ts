import type { Blank } from "../domain/plan.ts"
import type { Band } from "../domain/profile.ts"
import { heightUm } from "../domain/profile.ts"
import { fieldUnit } from "../domain/units.ts"
import { lengthUnit, type Supply } from "../supplies/service.ts"
import { chosen, count, text } from "../web/fields.ts"
import { FormError, type Problem } from "../web/forms.ts"
import type { Draft, DraftLayer, DraftUse } from "./draft.ts"
import type { Choices } from "./draft-steps.ts"
import { isNothing, Reader } from "./entry-reader.ts"
import type { DesignInput, LayerInput, PieceUseInput, ResinUseInput, UseInput } from "./inputs.ts"

/**
 * A draft as input for the service.
 *
 * @throws {FormError} a sentence for each field that cannot be read, named by its layer
 */
export function entryOf(draft: Draft, choices: Choices): DesignInput {
  const problems: Problem[] = []
  const reader = new Reader(problems, "", "")
  const blank = choices.blanks.find((one) => String(one.supply.id) === draft.blankSupplyId)
  const entry: DesignInput = {
    name: reader.take(text(80, "Name"), draft.name, "name") ?? "",
    version: {
      blankSupplyId: reader.take(chosen("Cup"), draft.blankSupplyId, "blankSupplyId") ?? 0,
      fullCureMin: reader.time(draft.fullCure, "Full cure", "fullCure"),
      priceMicro: draft.price.trim() === "" ? 0 : reader.money(draft.price, choices.currency, "price"),
      layers: draft.layers.map((layer, index) => layerEntry(layer, index, blank, choices, problems)),
    },
  }
  if (entry.version.layers.length === 0) {
    problems.push({ field: null, sentence: "A design needs at least one layer: add the first one below." })
  }
  if (problems.length > 0) throw new FormError(problems)
  return entry
}

/** A line of resin and the band it lies on, as far as they can be read yet; null while they cannot. */
export function resinSoFar(
  use: DraftUse,
  layer: DraftLayer,
  blank: Blank,
  choices: Choices,
): { use: ResinUseInput; band: Band | null } | null {
  const { how } = use
  if (how !== "resin-mixed" && how !== "resin-applied" && how !== "resin-film") return null
  const problems: Problem[] = []
  const reader = new Reader(problems, "", "")
  const read = {
    use: resinEntry(use, how, reader, choices),
    band: bandEntry(layer, blank, reader, choices),
  }
  return problems.length === 0 ? read : null
}

function layerEntry(
  layer: DraftLayer,
  index: number,
  blank: Blank | undefined,
  choices: Choices,
  problems: Problem[],
): LayerInput {
  const name = layer.name.trim() === "" ? `Layer ${index + 1}` : layer.name.trim()
  const reader = new Reader(problems, `layers[${index}]`, `${name}: `)
  const { kind } = layer
  const recoatEarliestMin = reader.time(layer.earliest, "Next layer, earliest", "earliest")
  const recoatLatestMin =
    layer.latest.trim() === "" ? null : reader.time(layer.latest, "Next layer, latest", "latest")
  if (recoatLatestMin !== null && recoatLatestMin < recoatEarliestMin) {
    reader.refuse("The latest next layer cannot come before the earliest.", "latest")
  }
  const shared = layer.uses.filter((use) => use.share.trim() !== "")
  const nothingShared = shared.length > 1 && shared.every((use) => isNothing(use.share))
  if (nothingShared) {
    reader.refuse("All shares of the surface are zero: give at least one a share.", "uses")
  }
  return {
    kind,
    name: reader.take(text(80, "Name"), layer.name, "name") ?? "",
    handsOnMin: reader.take(count(10_000, "Your work", 0), layer.handsOn, "handsOn") ?? 0,
    turnerMin: reader.time(layer.turner, "On a turner", "turner"),
    recoatEarliestMin,
    recoatLatestMin,
    band: bandEntry(layer, blank, reader, choices),
    uses: layer.uses.flatMap((use, place) => {
      const line = new Reader(problems, `layers[${index}][uses][${place}]`, `${name}: `)
      return useEntry(nothingShared ? { ...use, share: "" } : use, line, choices) ?? []
    }),
  }
}

/** Heights above the base, as a length or in percent of the blank's height; empty is its base or its lip. */
function bandEntry(
  { bandFrom, bandTo }: DraftLayer,
  blank: Blank | undefined,
  reader: Reader,
  choices: Choices,
): Band | null {
  if (bandFrom.trim() === "" && bandTo.trim() === "") return null
  if (blank === undefined) {
    reader.refuse("Choose the cup before a band on it.", "bandFrom")
    return null
  }
  const lipUm = heightUm(blank.rings)
  const height = (value: string, label: string, field: string) =>
    value.includes("%")
      ? Math.round((lipUm * reader.percent(value, label, field, { min: 0, max: 100 })) / 1e6)
      : reader.lengthOrZero(value, lengthUnit(choices.units), field)
  const fromUm = height(bandFrom, "Covers from", "bandFrom")
  const toUm = bandTo.trim() === "" ? lipUm : height(bandTo, "Covers up to", "bandTo")
  if (toUm <= fromUm) reader.refuse("The band must end higher than it begins.", "bandTo")
  return { fromUm, toUm }
}

function useEntry(use: DraftUse, reader: Reader, choices: Choices): UseInput | null {
  const { how } = use
  if (how === "resin-mixed" || how === "resin-applied" || how === "resin-film") {
    return resinEntry(use, how, reader, choices)
  }
  const supply = choices.supplies.find((one) => String(one.id) === use.supplyId)
  if (supply === undefined) {
    reader.refuse("Choose what is used, or take the line out.", "supplyId")
    return null
  }
  const share = "Share of the surface"
  switch (how) {
    case "per-cup":
    case "per-area":
    case "sprinkled":
    case "per-resin":
    case "per-mix":
    case "per-batch":
    case "per-session": {
      const unit = fieldUnit(supply.baseUnit, choices.units)
      return {
        how,
        supplyId: supply.id,
        amount: reader.amount(use.amount, supply.baseUnit, unit, "amount", supply.densityMgPerMl),
        sharePpm: use.share.trim() === "" ? 1_000_000 : reader.share(use.share, share),
      }
    }
    case "spray-film":
      return {
        how,
        supplyId: supply.id,
        dryUm: reader.film(use.amount, choices.units),
        passes: reader.take(count(100, "Passes"), use.passes, "passes") ?? 1,
        solidsPpm: reader.percent(use.solids, "Solids by volume", "solids", ABOVE_NOTHING),
        transferPpm: reader.percent(use.lands, "Lands on the cup", "lands", ABOVE_NOTHING),
        sharePpm: use.share.trim() === "" ? 1_000_000 : reader.share(use.share, share),
      }
    case "piece":
      return pieceEntry(use, supply, reader, choices)
  }
}

const ABOVE_NOTHING = { min: 0.0001, max: 100 }

function resinEntry(
  use: DraftUse,
  how: ResinUseInput["how"],
  reader: Reader,
  choices: Choices,
): ResinUseInput {
  const system = choices.systems.find((one) => String(one.id) === use.resinSystemId)
  if (system === undefined) reader.refuse("Choose which resin is mixed.", "resinSystemId")
  const unit = fieldUnit("uL", choices.units)
  return {
    how,
    resinSystemId: system?.id ?? 0,
    amount:
      how === "resin-film"
        ? reader.film(use.amount, choices.units)
        : reader.amount(use.amount, "uL", unit, "amount"),
    sharePpm: use.share.trim() === "" ? 1_000_000 : reader.share(use.share, "Share of the surface"),
    dripPpm: reader.percent(use.drip, "Drips off", "drip", { min: 0, max: 90 }),
    residueUl: isNothing(use.residue) ? 0 : reader.amount(use.residue, "uL", unit, "residue"),
  }
}

function pieceEntry(use: DraftUse, supply: Supply, reader: Reader, { units }: Choices): PieceUseInput {
  const side = (value: string, field: string) => reader.amount(value, "um", fieldUnit("um", units), field)
  const small = (value: string, field: string) => reader.lengthOrZero(value, lengthUnit(units), field)
  return {
    how: "piece",
    supplyId: supply.id,
    cut:
      use.sort === "wrap"
        ? { shape: "wrap", overlapUm: small(use.overlap, "overlap") }
        : { shape: "flat", widthUm: side(use.width, "width"), heightUm: side(use.height, "height") },
    marginUm: small(use.margin, "margin"),
    gapUm: small(use.gap, "gap"),
    mayTurn: use.turn !== "",
    reprintPpm: isNothing(use.spoiled)
      ? 0
      : reader.percent(use.spoiled, "Spoiled and cut again", "spoiled", { min: 0, max: 100 }),
  }
}
