import { Refusal } from "../domain/refusal.ts"
import { type Actor, act, type Done } from "../ledger/act.ts"
import { markLot } from "../ledger/marks.ts"
import type { Studio } from "../ledger/studio.ts"

/** A lot of the other part of a resin that carries the same number, as the two bottles of a kit do. */
export interface LotOfPair {
  lotId: number
  supply: string
  number: string
  held: boolean
}

/** The lots that came in a pair with this one: the other part of one of its resins, the same number. */
export function pairOfLot(studio: Studio, lotId: number): LotOfPair[] {
  return studio.file
    .allText<Omit<LotOfPair, "held"> & { held: number }>(
      `SELECT DISTINCT o.id AS lotId, s.name AS supply, o.number, o.held
       FROM lot l JOIN resin_system r ON l.supply_id IN (r.part_a_supply_id, r.part_b_supply_id)
         JOIN lot o ON o.supply_id IN (r.part_a_supply_id, r.part_b_supply_id) AND o.supply_id <> l.supply_id
           AND o.number = l.number COLLATE NOCASE
         JOIN supply s ON s.id = o.supply_id
       WHERE l.id = ? ORDER BY s.name LIMIT 10`,
      [lotId],
    )
    .map((row) => ({ ...row, held: row.held === 1 }))
}

/**
 * Holds a lot and the one it came in a pair with, as one action that one undo takes back. One that is held already
 * stays so.
 *
 * @throws {Refusal} unknown, no pair, or both held already
 */
export function holdBoth(
  studio: Studio,
  by: Actor,
  pair: { lotId: number; otherId: number },
): Done<{ lotIds: number[] }> {
  return act(studio, "hold", by, pair, (now) => {
    if (!pairOfLot(studio, pair.lotId).some((one) => one.lotId === pair.otherId)) {
      throw new Refusal("These two lots are no pair any more.", { status: 404 })
    }
    const lots = now.file.allText<{ id: number; number: string; supply: string }>(
      `SELECT l.id, l.number, s.name AS supply FROM lot l JOIN supply s ON s.id = l.supply_id
       WHERE l.id IN (?, ?) AND l.held = 0 ORDER BY s.name`,
      [pair.lotId, pair.otherId],
    )
    if (lots.length === 0) throw new Refusal("Both are held already.", { status: 409 })
    for (const lot of lots) markLot(now, lot.id, "held")
    const names = lots.map((lot) => `lot ${lot.number} of ${lot.supply}`).join(" and ")
    return { summary: `Held ${names}`, answer: { lotIds: lots.map((lot) => lot.id) } }
  })
}
