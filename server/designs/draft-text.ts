import type { BaseUnit } from "../domain/plan.ts"
import type { Band } from "../domain/profile.ts"
import { fieldAmount, fieldUnit, type UnitName } from "../domain/units.ts"
import { lengthUnit } from "../supplies/service.ts"
import { type Draft, type DraftUse, EMPTY_USE } from "./draft.ts"
import type { Choices } from "./draft-steps.ts"
import type { DesignInput, PieceUseInput, UseInput } from "./inputs.ts"
import { sortOf } from "./use-sorts.ts"
import { filmUnit, timeText } from "./words.ts"

/** A design as a draft: read back by `entryOf` it is the same to the last µL. */
export function draftOf(design: DesignInput, choices: Choices): Draft {
  const { version } = design
  const onCup = (um: number) => fieldText(um, "um", lengthUnit(choices.units))
  const band = (band: Band | null) => ({
    bandFrom: band === null ? "" : onCup(band.fromUm),
    bandTo: band === null ? "" : onCup(band.toUm),
  })
  return {
    name: design.name,
    blankSupplyId: String(version.blankSupplyId),
    price: version.priceMicro === 0 ? "" : String(version.priceMicro / 1e6),
    fullCure: timeText(version.fullCureMin),
    layers: version.layers.map((layer) => ({
      kind: layer.kind,
      name: layer.name,
      handsOn: String(layer.handsOnMin),
      turner: timeText(layer.turnerMin),
      earliest: timeText(layer.recoatEarliestMin),
      latest: layer.recoatLatestMin === null ? "" : timeText(layer.recoatLatestMin),
      ...band(layer.band),
      open: "",
      uses: layer.uses.map((use) => draftUse(use, choices)),
    })),
    removed: null,
  }
}

function draftUse(use: UseInput, choices: Choices): DraftUse {
  const { units } = choices
  const film = (um: number) => fieldText(um, "um", filmUnit(units))
  if ("resinSystemId" in use) {
    const volume = (ul: number) => (ul === 0 ? "0" : fieldText(ul, "uL", fieldUnit("uL", units)))
    return {
      ...EMPTY_USE,
      sort: "resin",
      how: use.how,
      resinSystemId: String(use.resinSystemId),
      amount: use.how === "resin-film" ? film(use.amount) : volume(use.amount),
      share: percentText(use.sharePpm),
      drip: percentText(use.dripPpm),
      residue: volume(use.residueUl),
    }
  }
  const supply = choices.supplies.find((one) => one.id === use.supplyId)!
  const common = { ...EMPTY_USE, how: use.how, supplyId: String(use.supplyId) }
  if (use.how === "piece") return { ...common, ...pieceFields(use, choices) }
  const own = { ...common, sort: sortOf(use.how, supply), share: percentText(use.sharePpm) }
  if (use.how === "spray-film") {
    return {
      ...own,
      amount: film(use.dryUm),
      passes: String(use.passes),
      solids: percentText(use.solidsPpm),
      lands: percentText(use.transferPpm),
    }
  }
  return { ...own, amount: fieldText(use.amount, supply.baseUnit, fieldUnit(supply.baseUnit, units)) }
}

function pieceFields(use: PieceUseInput, { units }: Choices) {
  const side = (um: number) => fieldText(um, "um", fieldUnit("um", units))
  const small = (um: number) => (um === 0 ? "0" : fieldText(um, "um", lengthUnit(units)))
  const laid = {
    margin: small(use.marginUm),
    gap: small(use.gapUm),
    turn: use.mayTurn ? "1" : "",
    spoiled: percentText(use.reprintPpm),
  }
  return use.cut.shape === "wrap"
    ? { ...laid, sort: "wrap" as const, overlap: small(use.cut.overlapUm) }
    : { ...laid, sort: "piece" as const, width: side(use.cut.widthUm), height: side(use.cut.heightUm) }
}

function fieldText(amount: number, baseUnit: BaseUnit, unit: UnitName): string {
  return baseUnit === "each" ? String(amount) : `${fieldAmount(amount, unit)} ${unit}`
}

function percentText(ppm: number): string {
  return String(ppm / 10_000)
}
