/**
 * SQL: that an action was not undone.
 *
 * ```ts
 * `SELECT … FROM movement m WHERE ${stands("m.action_id")}`
 * ```
 *
 * @param action the column with the action's id
 */
export function stands(action: string): string {
  return `NOT EXISTS (SELECT 1 FROM action r WHERE r.reverses_action_id = ${action})`
}
