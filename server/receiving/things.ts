import { type Hazard, USUAL_HAZARDS } from "../domain/hazards.ts"
import type { BaseUnit, SupplyKind } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import { fieldUnit, formatAmount, inBareOunces, parseAmount, type UnitSystem } from "../domain/units.ts"
import type { Act } from "../ledger/act.ts"
import { changed, made } from "../ledger/row-change.ts"
import { type Studio, settingsOf } from "../ledger/studio.ts"
import {
  addNewThing,
  addSupply,
  changePack,
  packById,
  packs,
  packsByCode,
  type SupplyInput,
  suppliesList,
} from "../supplies/service.ts"

/** A thing as a person describes it with the bottle in the hand. */
export interface Described {
  /** of a supply; one that is known under that name is meant */
  name: string
  /** only of a new one */
  kind: SupplyKind | null
  /** what one holds, with its unit: "400 mL" */
  holds: string
  sprayCan: boolean
}

/** What it turned out to be. */
export interface Thing {
  /** the id of one that is known, or all that is needed to add it */
  supply: number | SupplyInput
  name: string
  baseUnit: BaseUnit
  /** what one holds, in base units */
  holds: number
}

/**
 * Reads a description. A name that is known is that supply, counted as it is; of a new one the unit of the
 * amount says how it is counted.
 *
 * @param prefix of the form's fields, for the sentence to stand beside the right one: "second"
 * @throws {Refusal} an amount that cannot be read; a new thing without its kind
 */
export function thingOf(studio: Studio, described: Described, prefix?: string): Thing {
  const field = (name: string) => (prefix === undefined ? name : `${prefix}[${name}]`)
  const { units } = settingsOf(studio)
  const known = suppliesList(studio).find((supply) => sameName(supply.name, described.name))
  if (known) {
    const read = parseAmount(
      described.holds,
      known.baseUnit,
      fieldUnit(known.baseUnit, units),
      known.densityMgPerMl,
    )
    if (!read.ok) throw new Refusal(read.message, { field: field("holds") })
    return { supply: known.id, name: known.name, baseUnit: known.baseUnit, holds: read.amount }
  }
  if (described.kind === null)
    throw new Refusal(`Say what sort of thing ${described.name} is.`, { field: field("kind") })
  const read = readAnyAmount(described.holds, described.kind, units)
  if (!read.ok) throw new Refusal(read.message, { field: field("holds") })
  return {
    supply: newSupply(described, described.kind, read.baseUnit),
    name: described.name,
    baseUnit: read.baseUnit,
    holds: read.amount,
  }
}

/** The supply's id, added if it is new. */
export function keepSupply(studio: Studio, thing: Thing): number {
  return typeof thing.supply === "number" ? thing.supply : addSupply(studio, thing.supply)
}

/**
 * Adds a pack for a code nobody knew, with its supplies and maker where they are new.
 *
 * @param second the other half of a kit
 * @returns the pack's id
 */
export function addDescribed(
  studio: Studio,
  now: Act,
  pack: {
    code: string | null
    makerName: string | null
    first: Thing
    second: Thing | null
    containerCount: number
  },
): number {
  const { first, second } = pack
  const name = packName(pack, settingsOf(studio).units)
  // The code may have been given to it on another page meanwhile.
  const before = pack.code === null ? [] : packsByCode(studio, pack.code)
  const same = before.find((one) => sameName(one.name, name))
  if (same) return same.id
  const thing = {
    code: pack.code,
    supply: first.supply,
    packName: freeName(studio, name),
    makerId: null,
    makerName: pack.makerName,
    amount: first.holds,
    containerCount: pack.containerCount,
    sellerId: null,
    priceMicro: null,
  }
  const packId = addNewThing(studio, thing, now)
  if (second !== null) {
    const { supply } = second
    const half = {
      supplyId: typeof supply === "number" ? supply : made(now, "supply", () => addSupply(studio, supply)),
      amount: second.holds,
      containerCount: pack.containerCount,
    }
    const alone = packById(studio, packId)
    changed(now, "pack", packId, () =>
      changePack(studio, packId, { ...alone, contents: [...alone.contents, half] }),
    )
  }
  return packId
}

function packName(
  {
    makerName,
    first,
    second,
    containerCount,
  }: { makerName: string | null; first: Thing; second: Thing | null; containerCount: number },
  units: UnitSystem,
): string {
  const say = (thing: Thing) => `${thing.name}, ${pieces(thing, units)}`
  const inside = second === null ? say(first) : `${say(first)} and ${say(second)}`
  const many = containerCount === 1 ? "" : `${containerCount} × `
  const made =
    makerName === null || first.name.toLowerCase().startsWith(makerName.toLowerCase()) ? "" : `${makerName} `
  return `${many}${made}${inside}`.slice(0, 190)
}

function pieces(thing: Thing, units: UnitSystem): string {
  const said = formatAmount(thing.holds, thing.baseUnit, units)
  return thing.baseUnit === "each" ? `${said} pcs` : said
}

/** A second pack of the same name gets a number. */
function freeName(studio: Studio, name: string): string {
  const taken = packs(studio).map((pack) => pack.name)
  let free = name
  for (let n = 2; taken.some((other) => sameName(other, free)); n++) free = `${name} (${n})`
  return free
}

const BY_UNIT: readonly BaseUnit[] = ["uL", "mg", "um", "mm2", "each"]
/** Sold by volume in one place and by weight in another. */
const POURED: readonly SupplyKind[] = ["resin", "hardener", "solvent"]
const BY_THE_PIECE: readonly SupplyKind[] = ["blank", "abrasive", "consumable", "packaging", "other"]

/** Read as whatever its unit measures. Of things that come by the piece a bare number is pieces. */
function readAnyAmount(
  text: string,
  kind: SupplyKind,
  units: UnitSystem,
): { ok: true; baseUnit: BaseUnit; amount: number } | { ok: false; message: string } {
  if (/^[\d.,\s¼½¾/]+$/u.test(text)) {
    if (!BY_THE_PIECE.includes(kind))
      return {
        ok: false,
        message: `Write the unit too, as it stands on the label: ${text.trim()} mL or ${text.trim()} g.`,
      }
    const read = parseAmount(text, "each", "pcs")
    return read.ok ? { ...read, baseUnit: "each" } : read
  }
  if (POURED.includes(kind) && inBareOunces(text))
    return {
      ok: false,
      message: `“oz” alone may be a weight or a volume: write “fl oz” for fluid ounces, “oz wt” for a weight.`,
    }
  let sentence = ""
  // cups are counted by the piece, however much one holds
  for (const baseUnit of kind === "blank" ? (["each"] as const) : BY_UNIT) {
    const read = parseAmount(text, baseUnit, fieldUnit(baseUnit, units))
    if (read.ok) return { ...read, baseUnit }
    sentence ||= read.message
  }
  return { ok: false, message: sentence }
}

function newSupply({ name, sprayCan }: Described, kind: SupplyKind, baseUnit: BaseUnit): SupplyInput {
  return {
    name,
    kind,
    baseUnit,
    densityMgPerMl: null,
    shelfLife: null,
    openLife: null,
    leadTimeDays: null,
    minimumAmount: 0,
    hazards: [...new Set([...usualHazards(kind), ...(sprayCan ? USUAL_HAZARDS.aerosol : [])])],
    colour: null,
    note: "",
  }
}

/** To begin with, until somebody reads the safety data sheet into Set up. */
function usualHazards(kind: SupplyKind): readonly Hazard[] {
  switch (kind) {
    case "resin":
      return USUAL_HAZARDS["epoxy resin"]
    case "hardener":
      return USUAL_HAZARDS["amine hardener"]
    case "solvent":
      return USUAL_HAZARDS["isopropyl alcohol"]
    case "glitter":
    case "abrasive":
      return USUAL_HAZARDS["glitter or abrasive"]
    case "paint":
    case "pigment":
    case "vinyl":
    case "blank":
    case "consumable":
    case "packaging":
    case "other":
      return []
  }
}

function sameName(one: string, other: string): boolean {
  return one.trim().toLowerCase() === other.trim().toLowerCase()
}
