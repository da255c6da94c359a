import type { z } from "zod"
import { parseMoney } from "../domain/money.ts"
import type { BaseUnit } from "../domain/plan.ts"
import { fieldAmount, fieldUnit, parseAmount, type UnitName, type UnitSystem } from "../domain/units.ts"
import { chosen, count, decimal, text } from "../web/fields.ts"
import { FormError, type Problem } from "../web/forms.ts"
import type { Draft, DraftLayer, DraftUse } from "./draft.ts"
import type { Choices } from "./draft-steps.ts"
import type { DesignInput, LayerInput, UseInput } from "./inputs.ts"
import { sortOf } from "./use-sorts.ts"
import { readTime, timeText } from "./words.ts"

/**
 * A draft as input for the service.
 *
 * @throws {FormError} a sentence for each field that cannot be read, named by its layer
 */
export function entryOf(draft: Draft, choices: Choices): DesignInput {
  const problems: Problem[] = []
  const reader = new Reader(problems, "", "")
  const entry: DesignInput = {
    name: reader.take(text(80, "Name"), draft.name, "name") ?? "",
    version: {
      blankSupplyId: reader.take(chosen("Cup"), draft.blankSupplyId, "blankSupplyId") ?? 0,
      fullCureMin: reader.time(draft.fullCure, "Full cure", "fullCure"),
      priceMicro: draft.price.trim() === "" ? 0 : reader.money(draft.price, "price"),
      layers: draft.layers.map((layer, index) => layerEntry(layer, index, choices, problems)),
    },
  }
  if (entry.version.layers.length === 0) {
    problems.push({ field: null, sentence: "A design needs at least one layer: add the first one below." })
  }
  if (problems.length > 0) throw new FormError(problems)
  return entry
}

function layerEntry(layer: DraftLayer, index: number, choices: Choices, problems: Problem[]): LayerInput {
  const name = layer.name.trim() === "" ? `Layer ${index + 1}` : layer.name.trim()
  const reader = new Reader(problems, `layers[${index}]`, `${name}: `)
  const { kind } = layer
  const recoatEarliestMin = reader.time(layer.earliest, "Next layer, earliest", "earliest")
  const recoatLatestMin =
    layer.latest.trim() === "" ? null : reader.time(layer.latest, "Next layer, latest", "latest")
  if (recoatLatestMin !== null && recoatLatestMin < recoatEarliestMin) {
    reader.refuse("The latest next layer cannot come before the earliest.", "latest")
  }
  return {
    kind,
    name: reader.take(text(80, "Name"), layer.name, "name") ?? "",
    handsOnMin: reader.take(count(10_000, "Your work", 0), layer.handsOn, "handsOn") ?? 0,
    turnerMin: reader.time(layer.turner, "On a turner", "turner"),
    recoatEarliestMin,
    recoatLatestMin,
    uses: layer.uses.flatMap((use, place) => {
      const line = new Reader(problems, `layers[${index}][uses][${place}]`, `${name}: `)
      return useEntry(use, line, choices) ?? []
    }),
  }
}

function useEntry(use: DraftUse, reader: Reader, choices: Choices): UseInput | null {
  const { how } = use
  switch (how) {
    case "resin-mixed":
    case "resin-applied":
    case "resin-film": {
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
        sharePpm: reader.share(use.share, "Share of the surface"),
        dripPpm: reader.percent(use.drip, "Drips off", "drip", { min: 0, max: 90 }),
        residueUl: isNothing(use.residue) ? 0 : reader.amount(use.residue, "uL", unit, "residue"),
      }
    }
    case "per-cup":
    case "per-area":
    case "per-resin":
    case "per-mix":
    case "per-batch":
    case "piece": {
      const supply = choices.supplies.find((one) => String(one.id) === use.supplyId)
      if (supply === undefined) {
        reader.refuse("Choose what is used, or take the line out.", "supplyId")
        return null
      }
      const own = { supplyId: supply.id, sharePpm: 1_000_000, widthUm: null, heightUm: null }
      if (how === "piece") {
        const side = (value: string, field: string) =>
          reader.amount(value, "um", fieldUnit("um", choices.units), field)
        return {
          ...own,
          how,
          amount: 0,
          widthUm: side(use.width, "width"),
          heightUm: side(use.height, "height"),
        }
      }
      const unit = fieldUnit(supply.baseUnit, choices.units)
      return {
        ...own,
        how,
        amount: reader.amount(use.amount, supply.baseUnit, unit, "amount", supply.densityMgPerMl),
        sharePpm: use.share.trim() === "" ? 1_000_000 : reader.share(use.share, "Share of the surface"),
      }
    }
  }
}

/** Reads typed fields of one place in the form; what cannot be read becomes a problem beside its field. */
class Reader {
  readonly #problems: Problem[]
  readonly #prefix: string
  readonly #about: string

  constructor(problems: Problem[], prefix: string, about: string) {
    this.#problems = problems
    this.#prefix = prefix
    this.#about = about
  }

  take<Piece extends z.ZodType>(piece: Piece, value: string, field: string): z.output<Piece> | undefined {
    const read = piece.safeParse(value)
    if (read.success) return read.data
    this.refuse(read.error.issues[0]?.message ?? "", field)
    return undefined
  }

  amount(
    value: string,
    baseUnit: BaseUnit,
    bare: UnitName,
    field: string,
    densityMgPerMl: number | null = null,
  ): number {
    const read = parseAmount(value, baseUnit, bare, densityMgPerMl)
    if (read.ok) return read.amount
    this.refuse(read.message, field)
    return 1
  }

  /** A film's thickness, µm. */
  film(value: string, units: UnitSystem): number {
    const read = parseAmount(value, "um", filmUnit(units))
    if (read.ok) return read.amount
    const example = units === "us" ? "12 mil" : "300 µm or 0.3 mm"
    this.refuse(`A film is given by its thickness: write it like ${example}.`, "amount")
    return 1
  }

  money(value: string, field: string): number {
    const read = parseMoney(value)
    if (read.ok) return read.micro
    this.refuse(read.message, field)
    return 0
  }

  /** @returns minutes */
  time(value: string, label: string, field: string): number {
    const minutes = readTime(value)
    if (minutes !== null) return minutes
    this.refuse(`${label}: write a time like 12 h, 30 min or 3 days.`, field)
    return 0
  }

  share(value: string, label: string): number {
    return this.percent(value, label, "share", { min: 0.0001, max: 100 })
  }

  /** Percent as typed, in ppm. */
  percent(value: string, label: string, field: string, limits: { min: number; max: number }): number {
    const read = this.take(decimal({ ...limits, label, unit: "%" }), value.replace(/\s*%\s*$/, ""), field)
    return Math.round((read ?? 100) * 10_000)
  }

  refuse(sentence: string, field: string): void {
    this.#problems.push({
      field: this.#prefix === "" ? field : `${this.#prefix}[${field}]`,
      sentence: this.#about + sentence,
    })
  }
}

/** A design as a draft: read back by `entryOf` it is the same to the last µL. */
export function draftOf(design: DesignInput, choices: Choices): Draft {
  const { version } = design
  const kept = new Map(choices.supplies.map((supply) => [supply.id, supply]))
  const side = (um: number) => fieldText(um, "um", fieldUnit("um", choices.units))
  const draftUse = (use: UseInput): DraftUse => {
    const empty = { resinSystemId: "", supplyId: "", drip: "", residue: "", width: "", height: "" }
    const share = percentText(use.sharePpm)
    if ("resinSystemId" in use) {
      const isFilm = use.how === "resin-film"
      const unit = isFilm ? filmUnit(choices.units) : fieldUnit("uL", choices.units)
      return {
        ...empty,
        sort: "resin",
        how: use.how,
        resinSystemId: String(use.resinSystemId),
        amount: fieldText(use.amount, isFilm ? "um" : "uL", unit),
        share,
        drip: percentText(use.dripPpm),
        residue: use.residueUl === 0 ? "0" : fieldText(use.residueUl, "uL", fieldUnit("uL", choices.units)),
      }
    }
    const supply = kept.get(use.supplyId)!
    return {
      ...empty,
      sort: sortOf(use.how, supply),
      how: use.how,
      supplyId: String(use.supplyId),
      amount:
        use.how === "piece"
          ? ""
          : fieldText(use.amount, supply.baseUnit, fieldUnit(supply.baseUnit, choices.units)),
      share,
      width: use.widthUm === null ? "" : side(use.widthUm),
      height: use.heightUm === null ? "" : side(use.heightUm),
    }
  }
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
      open: "",
      uses: layer.uses.map(draftUse),
    })),
    removed: null,
  }
}

/** What a bare number means as a film. */
function filmUnit(units: UnitSystem): UnitName {
  return units === "us" ? "mil" : "µm"
}

function fieldText(amount: number, baseUnit: BaseUnit, unit: UnitName): string {
  return baseUnit === "each" ? String(amount) : `${fieldAmount(amount, unit)} ${unit}`
}

function percentText(ppm: number): string {
  return String(ppm / 10_000)
}

function isNothing(value: string): boolean {
  return /^\s*(?:0+(?:[.,]0*)?\D*)?$/.test(value)
}
