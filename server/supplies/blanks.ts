import { madeOf } from "../../db/made-of.ts"
import { sql } from "../../db/words.ts"
import type { Blank, PlanSupply } from "../domain/plan.ts"
import { type CoatedProfile, coatedAreaMm2, type Ring } from "../domain/profile.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import {
  addSupply,
  changeSupply,
  planSupplies,
  planSupply,
  type SupplyInput,
  supplyById,
} from "./supplies.ts"

/** A blank with its profile; its kind is "blank" and it is counted by the piece. */
export interface BlankInput extends Omit<CoatedProfile, "coatsBase"> {
  supply: Omit<SupplyInput, "kind" | "baseUnit">
  /** left out: the underside stays bare */
  coatsBase?: boolean
}

/**
 * Adds a blank: the supply and its profile.
 *
 * @returns the supply's id
 * @throws {Refusal} the name is taken; the profile cannot be a cup, or the bare bands leave nothing
 */
export function addBlank(studio: Studio, blank: BlankInput): number {
  return studio.file.transaction(() => {
    const id = addSupply(studio, { ...blank.supply, kind: "blank", baseUnit: "each" })
    setProfile(studio, id, { coatsBase: false, ...blank })
    return id
  })
}

/** @throws {Refusal} as `addBlank`; no such supply, or it is none of the blanks */
export function changeBlank(studio: Studio, supplyId: number, blank: BlankInput): void {
  studio.file.transaction(() => {
    changeSupply(studio, supplyId, { ...blank.supply, kind: "blank", baseUnit: "each" })
    setProfile(studio, supplyId, { coatsBase: false, ...blank })
  })
}

/**
 * Gives a supply of kind blank its profile, in place of the one it had. Coats already made keep the area they
 * were worked out with.
 *
 * @throws {Refusal} the supply is no blank; the profile cannot be a cup
 */
export function setProfile(studio: Studio, supplyId: number, profile: CoatedProfile): void {
  const { file } = studio
  file.transaction(() => {
    const supply = supplyById(studio, supplyId)
    if (supply.kind !== "blank") throw new Refusal(`${supply.name} is not a blank.`, { field: "kind" })
    coatedAreaMm2(profile)
    file.runText(
      `INSERT INTO blank (supply_id, bare_lip_um, bare_base_um, coats_base) VALUES (?, ?, ?, ?)
       ON CONFLICT (supply_id) DO UPDATE SET bare_lip_um = excluded.bare_lip_um,
         bare_base_um = excluded.bare_base_um, coats_base = excluded.coats_base`,
      [supplyId, profile.bareLipUm, profile.bareBaseUm, profile.coatsBase ? 1 : 0],
    )
    file.run(sql.deleteFrom("blank_ring").where("blank_supply_id", "=", supplyId))
    profile.rings.forEach((ring, index) => {
      file.insert("blank_ring", {
        blank_supply_id: supplyId,
        position: index + 1,
        height_um: ring.heightUm,
        diameter_um: ring.diameterUm,
      })
    })
  })
}

/** Every blank that has its profile, by name. @param supplies all of them, where they have been read already */
export function blanks(studio: Studio, supplies = planSupplies(studio)): readonly Blank[] {
  return blanksOf(studio.file, profileRows(studio), supplies)
}

const blanksOf = madeOf((rows: readonly ProfileRow[], supplies: ReadonlyMap<number, PlanSupply>): Blank[] => {
  const profiles = profilesOf(rows)
  return [...supplies.values()].flatMap((supply) => {
    const profile = profiles.get(supply.id)
    return profile ? [{ supply, ...profile }] : []
  })
})

/**
 * The blank with its profile.
 *
 * @throws {Refusal} no such supply; it is no blank or its profile is not known yet
 */
export function blankOf(studio: Studio, supplyId: number): Blank {
  const supply = supplyById(studio, supplyId)
  const profile = profilesOf(profileRows(studio, supplyId)).get(supplyId)
  if (!profile) {
    throw new Refusal(`${supply.name} has no profile yet. Give it one under Set up, Blanks.`, {
      field: "blankSupplyId",
    })
  }
  return { supply: planSupply(supply), ...profile }
}

interface ProfileRow {
  id: number
  bareLipUm: number
  bareBaseUm: number
  coatsBase: number
  heightUm: number
  diameterUm: number
}

/** A row for each ring, from the base up. */
function profileRows(studio: Studio, supplyId?: number): ProfileRow[] {
  return studio.file.allText<ProfileRow>(
    `SELECT b.supply_id AS id, b.bare_lip_um AS bareLipUm, b.bare_base_um AS bareBaseUm, b.coats_base AS coatsBase,
       r.height_um AS heightUm, r.diameter_um AS diameterUm
     FROM blank b JOIN blank_ring r ON r.blank_supply_id = b.supply_id
     ${supplyId === undefined ? "" : "WHERE b.supply_id = ?"} ORDER BY b.supply_id, r.position`,
    supplyId === undefined ? [] : [supplyId],
  )
}

function profilesOf(rows: readonly ProfileRow[]): Map<number, CoatedProfile & { rings: Ring[] }> {
  const profiles = new Map<number, CoatedProfile & { rings: Ring[] }>()
  for (const { id, bareLipUm, bareBaseUm, coatsBase, heightUm, diameterUm } of rows) {
    const profile = profiles.get(id) ?? { rings: [], bareLipUm, bareBaseUm, coatsBase: coatsBase === 1 }
    profile.rings.push({ heightUm, diameterUm })
    profiles.set(id, profile)
  }
  return profiles
}
