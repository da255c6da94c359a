import { apportion } from "../domain/apportion.ts"
import { Refusal } from "../domain/refusal.ts"
import type { Act } from "../ledger/act.ts"
import { shareCost, takeBackShare } from "../ledger/costs.ts"
import { stands } from "../ledger/stands.ts"

const TAKEN_IN = `SELECT c.id, m.cost_micro AS value FROM receipt_line l
    JOIN container c ON c.receipt_line_id = l.id
    JOIN movement m ON m.container_id = c.id AND m.kind = 'receive'
  WHERE l.delivery_id = ? AND ${stands("l.action_id")}
  ORDER BY c.id`

/**
 * Shares shipping and tax out over what was taken in, by what it cost; evenly where nothing cost anything. The
 * parts add up to the whole.
 *
 * @throws {Refusal} nothing was taken in
 */
export function shareExtras(now: Act, deliveryId: number, extraMicro: number): void {
  if (extraMicro === 0) return
  const containers = now.file.allText<{ id: number; value: number }>(TAKEN_IN, [deliveryId])
  if (containers.length === 0) {
    throw new Refusal(
      "Nothing was taken in, so there is nothing to share shipping and tax over. Leave them empty.",
      {
        field: "shipping",
      },
    )
  }
  const isFree = containers.every(({ value }) => value === 0)
  const parts = apportion(
    extraMicro,
    containers.map(({ value }) => (isFree ? 1 : value)),
  )
  for (const [index, { id }] of containers.entries()) {
    const part = parts[index] ?? 0
    if (part > 0) shareCost(now, id, part)
  }
}

/** Takes the parts of a delivery's costs back: it is open again, and its lines may change. */
export function takeBackExtras(now: Act, deliveryId: number): void {
  const given = now.file.allText<{ id: number }>(
    `SELECT c.id FROM receipt_line l JOIN container c ON c.receipt_line_id = l.id
     JOIN container_cost s ON s.container_id = c.id WHERE l.delivery_id = ? GROUP BY c.id ORDER BY c.id`,
    [deliveryId],
  )
  for (const { id } of given) takeBackShare(now, id)
}
