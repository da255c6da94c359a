import { sql } from "../../db/words.ts"
import type { Blank, PlanSupply, ResinSystem } from "../domain/plan.ts"
import type { Studio } from "../ledger/studio.ts"

/** What plans are built from. Read once, then any number of plans come from it without a query. */
export interface Catalogue {
  supplies: ReadonlyMap<number, PlanSupply>
  systems: ReadonlyMap<number, ResinSystem>
  blanks: ReadonlyMap<number, Blank>
}

export function readCatalogue(studio: Studio): Catalogue {
  const { file } = studio
  const supplies = new Map<number, PlanSupply>()
  for (const row of file.all(
    sql.selectFrom("supply").select(["id", "name", "kind", "base_unit", "density_mg_per_ml"]),
  )) {
    supplies.set(row.id, {
      id: row.id,
      name: row.name,
      kind: row.kind,
      baseUnit: row.base_unit,
      densityMgPerMl: row.density_mg_per_ml,
    })
  }
  const systems = new Map<number, ResinSystem>()
  for (const row of file.all(sql.selectFrom("resin_system").selectAll())) {
    systems.set(row.id, {
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
    })
  }
  const rings = new Map<number, { heightUm: number; diameterUm: number }[]>()
  for (const row of file.all(
    sql.selectFrom("blank_ring").selectAll().orderBy("blank_supply_id").orderBy("position"),
  )) {
    const known = rings.get(row.blank_supply_id) ?? []
    known.push({ heightUm: row.height_um, diameterUm: row.diameter_um })
    rings.set(row.blank_supply_id, known)
  }
  const blanks = new Map<number, Blank>()
  for (const row of file.all(sql.selectFrom("blank").selectAll())) {
    blanks.set(row.supply_id, {
      supply: supplies.get(row.supply_id)!,
      rings: rings.get(row.supply_id) ?? [],
      bareLipUm: row.bare_lip_um,
      bareBaseUm: row.bare_base_um,
    })
  }
  return { supplies, systems, blanks }
}
