import type { Selectable } from "kysely"
import { madeOf } from "../../db/made-of.ts"
import type { LifeUnit, Tables } from "../../db/tables.ts"
import { sql } from "../../db/words.ts"
import { isHazard } from "../domain/hazards.ts"
import type { BaseUnit, PlanSupply, SheetSize, SupplyKind } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Life } from "../domain/shelf-life.ts"
import { lifeOf } from "../ledger/on-hand.ts"
import type { Studio } from "../ledger/studio.ts"
import { mustBeThere, nameMustBeFree } from "./names.ts"

/** All that a studio says of a supply. */
export interface SupplyInput {
  name: string
  kind: SupplyKind
  baseUnit: BaseUnit
  densityMgPerMl: number | null
  /** unopened, from the day it was made; null: not known */
  shelfLife: Life | null
  /** from the day it is opened; null: not known */
  openLife: Life | null
  /** null: as the seller says */
  leadTimeDays: number | null
  /** below this much on hand it counts as low; in base units */
  minimumAmount: number
  hazards: readonly string[]
  /** "#1f6f8b": a swatch to tell it by */
  colour: string | null
  note: string
  /** what a container never gives up, in base units: the last of a spray can; left out: nothing */
  keptBack?: number
  /** one sheet, of something counted by area; left out or null: not known */
  sheet?: SheetSize | null
  /** width of the roll, of something counted by length; left out or null: not known */
  rollWidthUm?: number | null
}

export interface Supply extends Required<SupplyInput> {
  id: number
}

/** Every supply, by kind and name. */
export function suppliesList(studio: Studio): Supply[] {
  const { file } = studio
  const hazards = new Map<number, string[]>()
  for (const row of file.allText<Selectable<Tables["supply_hazard"]>>(
    "SELECT * FROM supply_hazard ORDER BY hazard",
  )) {
    hazards.set(row.supply_id, [...(hazards.get(row.supply_id) ?? []), row.hazard])
  }
  return file.allText<SupplyRow>(SUPPLIES).map((row) => fromRow(row, hazards.get(row.id) ?? []))
}

type SupplyRow = Selectable<Tables["supply"]>
const SUPPLIES = "SELECT * FROM supply ORDER BY kind, name COLLATE NOCASE"

/** What the computations need of every supply, by its id, in the order of `suppliesList`. */
export function planSupplies({ file }: Studio): ReadonlyMap<number, PlanSupply> {
  return planSuppliesOf(file, file.allText<SupplyRow>(SUPPLIES))
}

const planSuppliesOf = madeOf(
  (rows: readonly SupplyRow[]): ReadonlyMap<number, PlanSupply> =>
    new Map(rows.map((row) => [row.id, planSupply(fromRow(row, []))])),
)

/** @throws {Refusal} 404: no such supply */
export function supplyById(studio: Studio, id: number): Supply {
  const { file } = studio
  const row = file.first(sql.selectFrom("supply").selectAll().where("id", "=", id))
  if (!row) throw new Refusal("There is no such supply.", { status: 404 })
  const hazards = file.all(
    sql.selectFrom("supply_hazard").select("hazard").where("supply_id", "=", id).orderBy("hazard"),
  )
  return fromRow(
    row,
    hazards.map((one) => one.hazard),
  )
}

/** What the computations need of a supply. */
export function planSupply(supply: Supply): PlanSupply {
  const { id, name, kind, baseUnit, densityMgPerMl, sheet, rollWidthUm } = supply
  return { id, name, kind, baseUnit, densityMgPerMl, sheet, rollWidthUm }
}

/** mg/mL: from loose glitter to the heaviest metal, as the file allows. */
const LEAST_DENSITY = 100
const MOST_DENSITY = 25_000

/**
 * @throws {Refusal} the name is taken; a blank that is not counted by the piece; a density nothing has; a size of
 *   sheet or roll for something counted another way
 */
export function addSupply(studio: Studio, supply: SupplyInput): number {
  const { file } = studio
  return file.transaction(() => {
    nameMustBeFree(file, "supply", supply.name)
    return writeSupply(studio, supply)
  })
}

/**
 * The same inside a transaction, for a name that is known to be free: looking through all names for each of many
 * would take as long again for each.
 */
export function writeSupply(studio: Studio, supply: SupplyInput): number {
  checkFigures(supply)
  const id = studio.file.insert("supply", columnsOf(supply))
  keepHazards(studio, id, supply.hazards)
  return id
}

/**
 * Changes a supply. What it is counted in stays once anything is written in that unit: amounts would otherwise
 * turn into other amounts.
 *
 * @throws {Refusal} no such supply; the name is taken; its unit or kind can no longer change; as `addSupply`
 */
export function changeSupply(studio: Studio, id: number, supply: SupplyInput): void {
  const { file } = studio
  file.transaction(() => {
    nameMustBeFree(file, "supply", supply.name, id)
    rewriteSupply(studio, id, supply)
  })
}

/** The same inside a transaction, where its name is not changed. */
export function rewriteSupply(studio: Studio, id: number, supply: SupplyInput): void {
  const { file } = studio
  const before = supplyById(studio, id)
  checkFigures(supply)
  if (supply.baseUnit !== before.baseUnit) unitMustBeFree(studio, before)
  if (before.kind === "blank" && supply.kind !== "blank") blankMustBeFree(studio, before)
  file.run(sql.updateTable("supply").set(columnsOf(supply)).where("id", "=", id))
  keepHazards(studio, id, supply.hazards)
}

/** @param densityMgPerMl from its data sheet @throws {Refusal} no such supply; a density nothing has */
export function setDensity(studio: Studio, id: number, densityMgPerMl: number): void {
  const supply = supplyById(studio, id)
  checkFigures({ ...supply, densityMgPerMl })
  studio.file.run(sql.updateTable("supply").set({ density_mg_per_ml: densityMgPerMl }).where("id", "=", id))
}

/** Why what a supply is counted in can no longer change; null while it can. */
export function unitIsFixedBy(studio: Studio, supplyId: number): string | null {
  const has = (text: string) => studio.file.firstText(text, [supplyId]) !== undefined
  if (has("SELECT 1 FROM container WHERE supply_id = ?")) return "there are containers of it"
  if (has("SELECT 1 FROM pack_content WHERE supply_id = ?")) return "packs contain it"
  if (has("SELECT 1 FROM layer_use WHERE supply_id = ?")) return "designs use it"
  if (has("SELECT 1 FROM resin_system WHERE ? IN (part_a_supply_id, part_b_supply_id)")) {
    return "a resin system is mixed from it"
  }
  if (has("SELECT 1 FROM supply_substitute WHERE ? IN (supply_id, substitute_id)")) {
    return "it has a substitute or is one"
  }
  return null
}

/** @throws {Refusal} 404, or beside `field` on a form: no such supply */
export function supplyMustBeThere(studio: Studio, id: number, field?: string): void {
  mustBeThere(studio.file, "supply", id, field)
}

function unitMustBeFree(studio: Studio, supply: Supply): void {
  const why = unitIsFixedBy(studio, supply.id)
  if (why === null) return
  throw new Refusal(
    `${supply.name} must stay counted as it is, because ${why}. Add another supply if it should be counted another way.`,
    { field: "baseUnit" },
  )
}

function blankMustBeFree(studio: Studio, supply: Supply): void {
  if (!studio.file.firstText("SELECT 1 FROM blank WHERE supply_id = ?", [supply.id])) return
  throw new Refusal(`${supply.name} has a profile, so it stays a blank.`, { field: "kind" })
}

/** @throws {Refusal} a blank that is not counted by the piece; a density nothing has; a size that does not belong */
export function checkFigures({
  kind,
  baseUnit,
  densityMgPerMl: density,
  sheet,
  rollWidthUm,
}: SupplyInput): void {
  if (kind === "blank" && baseUnit !== "each") {
    throw new Refusal("Blanks are counted by the piece.", { field: "baseUnit" })
  }
  if (density !== null && !(density >= LEAST_DENSITY && density <= MOST_DENSITY)) {
    throw new Refusal(
      `A density lies between ${LEAST_DENSITY / 1000} and ${MOST_DENSITY / 1000} g/mL; check the unit it was typed in.`,
      { field: "density" },
    )
  }
  if (sheet && baseUnit !== "mm2") {
    throw new Refusal("Only something counted by area comes in sheets of a size.", { field: "sheetWidth" })
  }
  if (rollWidthUm && baseUnit !== "um") {
    throw new Refusal("Only something counted by length comes off a roll.", { field: "rollWidth" })
  }
}

function keepHazards(studio: Studio, supplyId: number, hazards: readonly string[]): void {
  studio.file.run(sql.deleteFrom("supply_hazard").where("supply_id", "=", supplyId))
  // a name misspelt would be a caution that is never shown
  const unknown = hazards.find((hazard) => !isHazard(hazard))
  if (unknown !== undefined) throw new RangeError(`there is no hazard class ${unknown}`)
  for (const hazard of new Set(hazards)) studio.file.insert("supply_hazard", { supply_id: supplyId, hazard })
}

function columnsOf(supply: SupplyInput) {
  return {
    name: supply.name,
    kind: supply.kind,
    base_unit: supply.baseUnit,
    density_mg_per_ml: supply.densityMgPerMl,
    shelf_life: lifeValue(supply.shelfLife),
    shelf_life_unit: lifeUnit(supply.shelfLife),
    open_life: lifeValue(supply.openLife),
    open_life_unit: lifeUnit(supply.openLife),
    lead_time_days: supply.leadTimeDays,
    minimum_amount: supply.minimumAmount,
    colour: supply.colour?.toLowerCase() ?? null,
    note: supply.note,
    kept_back: supply.keptBack ?? 0,
    sheet_width_um: supply.sheet?.widthUm ?? null,
    sheet_height_um: supply.sheet?.heightUm ?? null,
    roll_width_um: supply.rollWidthUm ?? null,
  }
}

function lifeValue(life: Life | null): number | null {
  return life === null || life.unit === "never" ? null : life.value
}

function lifeUnit(life: Life | null): LifeUnit | null {
  return life?.unit ?? null
}

function fromRow(row: SupplyRow, hazards: readonly string[]): Supply {
  return {
    id: row.id,
    name: row.name,
    kind: row.kind,
    baseUnit: row.base_unit,
    densityMgPerMl: row.density_mg_per_ml,
    shelfLife: lifeOf(row.shelf_life, row.shelf_life_unit),
    openLife: lifeOf(row.open_life, row.open_life_unit),
    leadTimeDays: row.lead_time_days,
    minimumAmount: row.minimum_amount,
    hazards,
    colour: row.colour,
    note: row.note,
    keptBack: row.kept_back,
    sheet:
      row.sheet_width_um === null || row.sheet_height_um === null
        ? null
        : { widthUm: row.sheet_width_um, heightUm: row.sheet_height_um },
    rollWidthUm: row.roll_width_um,
  }
}
