import type { Selectable } from "kysely"
import { madeOf } from "../../db/made-of.ts"
import type { Tables } from "../../db/tables.ts"
import { sql } from "../../db/words.ts"
import type { PlanSupply, ResinSystem } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { mustBeThere, nameMustBeFree } from "./names.ts"
import { planSupplies, type Supply, suppliesList } from "./supplies.ts"

/** A resin system as its data sheet states it, the parts by their supplies. */
export interface ResinSystemInput extends Omit<ResinSystem, "id" | "partA" | "partB" | "maxPigmentPpm"> {
  partASupplyId: number
  partBSupplyId: number
  /** left out: not known */
  maxPigmentPpm?: number | null
}

type Row = Selectable<Tables["resin_system"]>
const SYSTEMS = "SELECT * FROM resin_system ORDER BY name COLLATE NOCASE"

/** Every resin system with its parts, by name. @param supplies all of them, where they have been read already */
export function resinSystems(studio: Studio, supplies = planSupplies(studio)): readonly ResinSystem[] {
  return systemsOf(studio.file, studio.file.allText<Row>(SYSTEMS), supplies)
}

const systemsOf = madeOf((rows: readonly Row[], supplies: ReadonlyMap<number, PlanSupply>): ResinSystem[] =>
  rows.map((row) => ({
    id: row.id,
    name: row.name,
    partA: supplies.get(row.part_a_supply_id)!,
    partB: supplies.get(row.part_b_supply_id)!,
    ratioBasis: row.ratio_basis,
    ratioA: row.ratio_a,
    ratioB: row.ratio_b,
    potLifeMin: row.pot_life_min,
    largestMixUl: row.largest_mix_ul,
    mixingMin: row.mixing_min,
    cupWorkMin: row.cup_work_min,
    recoatEarliestMin: row.recoat_earliest_min,
    recoatLatestMin: row.recoat_latest_min,
    fullCureMin: row.full_cure_min,
    maxPigmentPpm: row.max_pigment_ppm,
  })),
)

/** @throws {Refusal} 404: no such system */
export function resinSystemById(studio: Studio, id: number): ResinSystem {
  const found = resinSystems(studio).find((system) => system.id === id)
  if (!found) throw new Refusal("There is no such resin system.", { status: 404 })
  return found
}

/**
 * @throws {Refusal} the name is taken; the parts are one and the same, not counted by volume or weight, or lack a
 *   density that the ratio needs; times that contradict each other
 */
export function addResinSystem(studio: Studio, system: ResinSystemInput): number {
  const { file } = studio
  return file.transaction(() => {
    nameMustBeFree(file, "resin_system", system.name)
    checkSystem(studio, system)
    return file.insert("resin_system", columnsOf(system))
  })
}

/** @throws {Refusal} as `addResinSystem`; no such system */
export function changeResinSystem(studio: Studio, id: number, system: ResinSystemInput): void {
  const { file } = studio
  file.transaction(() => {
    mustBeThere(file, "resin_system", id)
    nameMustBeFree(file, "resin_system", system.name, id)
    checkSystem(studio, system)
    file.run(sql.updateTable("resin_system").set(columnsOf(system)).where("id", "=", id))
  })
}

function checkSystem(studio: Studio, system: ResinSystemInput): void {
  const supplies = new Map(suppliesList(studio).map((supply) => [supply.id, supply]))
  const partA = supplies.get(system.partASupplyId)
  const partB = supplies.get(system.partBSupplyId)
  if (!partA) throw new Refusal("Part A: choose a supply from the list.", { field: "partASupplyId" })
  if (!partB) throw new Refusal("Part B: choose a supply from the list.", { field: "partBSupplyId" })
  if (partA.id === partB.id) {
    throw new Refusal("Part A and part B must be two supplies.", { field: "partBSupplyId" })
  }
  if (!(system.ratioA > 0 && system.ratioB > 0)) {
    throw new Refusal("A mix needs more than zero parts of A and of B: take both from the label.", {
      field: system.ratioA > 0 ? "ratioB" : "ratioA",
    })
  }
  checkPart(partA, system, "partASupplyId")
  checkPart(partB, system, "partBSupplyId")
  if (system.mixingMin >= system.potLifeMin) {
    throw new Refusal(
      "Measuring and stirring takes as long as the pot life, so nothing could be poured: check both times.",
      { field: "mixingMin" },
    )
  }
  if (system.recoatLatestMin !== null && system.recoatLatestMin < system.recoatEarliestMin) {
    throw new Refusal("The latest next coat cannot come before the earliest.", { field: "recoatLatestHours" })
  }
  if (system.fullCureMin < system.recoatEarliestMin) {
    throw new Refusal("It cannot be fully cured before the next coat may go on: check both times.", {
      field: "fullCureHours",
    })
  }
}

/** Ratios by weight, and parts on the scale of a ratio by volume, can only be worked out with a density. */
function checkPart(part: Supply, system: ResinSystemInput, field: string): void {
  if (part.baseUnit !== "uL" && part.baseUnit !== "mg") {
    throw new Refusal(`${part.name} must be counted by volume or by weight to be a part of a resin.`, {
      field,
    })
  }
  if (part.densityMgPerMl !== null) return
  if (system.ratioBasis === "mass" || part.baseUnit === "mg") {
    throw new Refusal(
      `${system.ratioBasis === "mass" ? "A ratio by weight" : `${part.name} is counted by weight, and a ratio by volume`} needs the density of ${part.name}: put it in below, its data sheet has it.`,
      { field },
    )
  }
}

function columnsOf(system: ResinSystemInput) {
  return {
    name: system.name,
    part_a_supply_id: system.partASupplyId,
    part_b_supply_id: system.partBSupplyId,
    ratio_basis: system.ratioBasis,
    ratio_a: system.ratioA,
    ratio_b: system.ratioB,
    pot_life_min: system.potLifeMin,
    largest_mix_ul: system.largestMixUl,
    mixing_min: system.mixingMin,
    cup_work_min: system.cupWorkMin,
    recoat_earliest_min: system.recoatEarliestMin,
    recoat_latest_min: system.recoatLatestMin,
    full_cure_min: system.fullCureMin,
    max_pigment_ppm: system.maxPigmentPpm ?? null,
  }
}
