import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { type Supply, suppliesList, supplyById } from "./supplies.ts"

/** A supply that may be used in place of another. */
export interface Allowed {
  supplyId: number
  /** so much of it stands for 1 of the other, in millionths */
  ratioPpm: number
}

/** The file keeps no more or less than this of a substitute for 1. */
export const RATIO_PPM = { least: 1_000, most: 1_000_000_000 }

const MOST = 8

/** What became a part of a resin after it was said to stand in for something does not any more. */
const NO_PART =
  "NOT EXISTS (SELECT 1 FROM resin_system r WHERE r.part_a_supply_id IN (x.supply_id, x.substitute_id) OR r.part_b_supply_id IN (x.supply_id, x.substitute_id))"

/** What may be used in place of a supply, by the supply's id, in the order of their names. */
export function substitutes(studio: Studio): Map<number, Allowed[]> {
  const allowed = new Map<number, Allowed[]>()
  for (const { supply_id, ...one } of studio.file.allText<Allowed & { supply_id: number }>(
    `SELECT x.supply_id, x.substitute_id AS supplyId, x.ratio_ppm AS ratioPpm
     FROM supply_substitute x JOIN supply s ON s.id = x.substitute_id
     WHERE ${NO_PART} ORDER BY s.name COLLATE NOCASE`,
  )) {
    allowed.set(supply_id, [...(allowed.get(supply_id) ?? []), one])
  }
  return allowed
}

/** What can be said to stand in for a supply: counted alike, and neither a blank nor a part of a resin. */
export function possibleSubstitutes(studio: Studio, supplyId: number): Supply[] {
  const all = suppliesList(studio)
  const supply = all.find((one) => one.id === supplyId)
  const parts = resinParts(studio)
  if (!supply || supply.kind === "blank" || parts.has(supplyId)) return []
  return all.filter(
    ({ id, kind, baseUnit }) =>
      id !== supplyId && kind !== "blank" && baseUnit === supply.baseUnit && !parts.has(id),
  )
}

/**
 * Keeps what may be used in place of a supply; what was allowed before and is not among them is not any more.
 *
 * @throws {Refusal} no such supply; named twice, counted otherwise, a blank, a part of a resin; a ratio nothing has
 */
export function keepSubstitutes(studio: Studio, supplyId: number, allowed: readonly Allowed[]): void {
  const { file } = studio
  file.transaction(() => {
    const supply = supplyById(studio, supplyId)
    if (allowed.length > MOST) throw new Refusal(`A supply has at most ${MOST} substitutes.`)
    for (const [index, { supplyId: other, ratioPpm }] of allowed.entries()) {
      const field = `substitutes[${index}][supplyId]`
      mustFit(studio, supply, other, field)
      if (allowed.findIndex((one) => one.supplyId === other) !== index)
        throw new Refusal("That substitute is there twice: say it once.", { field })
      if (!(ratioPpm >= RATIO_PPM.least && ratioPpm <= RATIO_PPM.most))
        throw new Refusal("How much of it stands for 1 lies between 0.001 and 1000.", {
          field: `substitutes[${index}][ratio]`,
        })
    }
    file.runText("DELETE FROM supply_substitute WHERE supply_id = ?", [supplyId])
    for (const { supplyId: other, ratioPpm } of allowed)
      file.insert("supply_substitute", { supply_id: supplyId, substitute_id: other, ratio_ppm: ratioPpm })
  })
}

function mustFit(studio: Studio, supply: Supply, otherId: number, field: string): void {
  const other = suppliesList(studio).find(({ id }) => id === otherId)
  if (!other || other.id === supply.id)
    throw new Refusal("Choose another supply that may be used in its place.", { field })
  const parts = resinParts(studio)
  if (parts.has(supply.id) || parts.has(other.id))
    throw new Refusal(
      "A part of a resin has no substitute: A sets only with its own B. Set up another resin and a design with it.",
      { field },
    )
  if (supply.kind === "blank" || other.kind === "blank")
    throw new Refusal("A blank has no substitute: another cup has another surface. Give it a design.", {
      field,
    })
  if (other.baseUnit !== supply.baseUnit)
    throw new Refusal(`${other.name} is not counted as ${supply.name} is, so it cannot stand in for it.`, {
      field,
    })
}

function resinParts(studio: Studio): Set<number> {
  return new Set(
    studio.file
      .allText<{ id: number }>(
        "SELECT part_a_supply_id AS id FROM resin_system UNION SELECT part_b_supply_id FROM resin_system",
      )
      .map(({ id }) => id),
  )
}
