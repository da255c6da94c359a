import { sayUnpriced } from "../domain/unpriced.ts"
import { isPriced } from "../ledger/priced.ts"
import { stands } from "../ledger/stands.ts"
import type { Studio } from "../ledger/studio.ts"

/** What went onto cups out of containers of which nobody said a price. Few containers are so, so they come first. */
const UNPRICED = `WITH unpriced AS MATERIALIZED (SELECT c.id, s.name FROM container c JOIN supply s ON s.id = c.supply_id
    WHERE NOT ${isPriced("c.id")})
  SELECT o.cup_id AS cupId, unpriced.name AS supply
  FROM unpriced CROSS JOIN movement m ON m.container_id = unpriced.id CROSS JOIN coat k ON k.id = m.coat_id
    CROSS JOIN coat_cup o ON o.coat_id = k.id
  WHERE m.kind IN ('use', 'reverse') AND ${stands("k.action_id")}
  GROUP BY o.cup_id, k.id, unpriced.id HAVING sum(m.amount) < 0 ORDER BY min(m.id)`

/**
 * What the materials of some cups leave out, as a sentence; "" where every price is known. What is left over is then
 * at most what it says.
 */
export function leftOut(studio: Studio, cups: readonly { id: number }[]): string {
  const ids = new Set(cups.map(({ id }) => id))
  const names = studio.file
    .allText<{ cupId: number; supply: string }>(UNPRICED)
    .flatMap(({ cupId, supply }) => (ids.has(cupId) ? supply : []))
  if (names.length === 0) return ""
  return `${sayUnpriced(names)}. The materials here leave that out: they are at least so much, and what is left over is at most so much.`
}
