import type { Act } from "./act.ts"
import { stands } from "./stands.ts"

/** What one action brought in from a file is so much that it is taken back all together. */
export const BROUGHT_IN = "bring in"

/**
 * Takes back what an action put on the shelf, all containers at once. Only for an action that did nothing but fill
 * them, and while nothing that stands rests on it: then each holds what it came with.
 *
 * @returns false where one holds less than it came with: then each is taken back by itself, and says what is missing
 */
export function takeBackFillings(now: Act, actionId: number): boolean {
  const short = now.file.firstText(
    `SELECT 1 FROM movement m JOIN container c ON c.id = m.container_id
     WHERE m.action_id = ? AND (m.kind <> 'receive' OR c.amount_left < m.amount OR c.on_bench = 1) LIMIT 1`,
    [actionId],
  )
  if (short) return false
  now.file.runText(
    `INSERT INTO movement (action_id, container_id, kind, amount, cost_micro, basis, reverses_movement_id)
     SELECT ?, m.container_id, 'reverse', -m.amount,
       -iif(c.amount_left = m.amount, c.cost_left_micro, min(m.cost_micro, c.cost_left_micro)), m.basis, m.id
     FROM movement m JOIN container c ON c.id = m.container_id WHERE m.action_id = ? ORDER BY m.id DESC`,
    [now.actionId, actionId],
  )
  return true
}

/** Works out again, all at once, whether those containers are open or held and where they stand. */
export function refreshFilled(now: Act, actionId: number): void {
  const live = stands("a.action_id")
  const last = (column: string) =>
    `(SELECT a.${column} FROM container_change a WHERE a.container_id = container.id AND a.${column} IS NOT NULL AND ${live}
      ORDER BY a.id DESC LIMIT 1)`
  now.file.runText(
    `UPDATE container SET opened_at = NULL, opened_on = NULL, held = 0, place = nullif(${last("place")}, ''),
       empty_mg = ${last("empty_mg")}
     WHERE id IN (SELECT container_id FROM movement WHERE action_id = ?)`,
    [actionId],
  )
}
