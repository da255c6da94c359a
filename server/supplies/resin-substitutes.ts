import type { ResinSystem } from "../domain/plan.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Studio } from "../ledger/studio.ts"
import { resinSystemById, resinSystems } from "./resin-systems.ts"

const MOST = 8

/** Which whole resins may be used in place of a resin, by its id, in the order of their names. */
export function resinSubstitutes({ file }: Studio): Map<number, number[]> {
  const allowed = new Map<number, number[]>()
  for (const { system_id, substitute_id } of file.allText<{ system_id: number; substitute_id: number }>(
    `SELECT x.system_id, x.substitute_id FROM resin_substitute x JOIN resin_system r ON r.id = x.substitute_id
     ORDER BY r.name COLLATE NOCASE`,
  )) {
    allowed.set(system_id, [...(allowed.get(system_id) ?? []), substitute_id])
  }
  return allowed
}

/** What can be said to stand in for a resin: any other, whatever its ratio, since A and B go together. */
export function possibleResinSubstitutes(studio: Studio, systemId: number): ResinSystem[] {
  return resinSystems(studio).filter(({ id }) => id !== systemId)
}

/**
 * Keeps which resins may be used in place of a resin; what was allowed before and is not among them is not any more.
 *
 * @throws {Refusal} no such resin; more than a few; itself, one named twice, one that is not there
 */
export function keepResinSubstitutes(studio: Studio, systemId: number, allowed: readonly number[]): void {
  const { file } = studio
  file.transaction(() => {
    const { id } = resinSystemById(studio, systemId)
    const others = new Set(possibleResinSubstitutes(studio, id).map((system) => system.id))
    if (allowed.length > MOST) throw new Refusal(`A resin has at most ${MOST} substitutes.`)
    for (const [index, other] of allowed.entries()) {
      const field = `substitutes[${index}][systemId]`
      if (!others.has(other))
        throw new Refusal("Choose another resin that may be used in its place.", { field })
      if (allowed.indexOf(other) !== index)
        throw new Refusal("That substitute is there twice: say it once.", { field })
    }
    file.runText("DELETE FROM resin_substitute WHERE system_id = ?", [id])
    for (const other of allowed) file.insert("resin_substitute", { system_id: id, substitute_id: other })
  })
}
