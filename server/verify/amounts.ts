import type { StudioFile } from "../../db/file.ts"
import { withdrawCost } from "../domain/money.ts"
import { type Finding, queryRule, type Rule } from "./rule.ts"

interface Movement {
  id: number
  container_id: number
  code: string
  kind: string
  amount: number
  cost_micro: number
}

/** A container's part of its delivery's costs comes in between as a movement of nothing. */
const MOVEMENTS = `SELECT m.id, m.container_id, c.code, m.kind, m.amount, m.cost_micro, m.action_id
  FROM movement m JOIN container c ON c.id = m.container_id
  UNION ALL SELECT s.id, s.container_id, c.code, 'cost', 0, s.kept_micro, s.action_id
  FROM container_cost s JOIN container c ON c.id = s.container_id
  ORDER BY 2, 7, 1`

/** Each container's movements, one after the other: never below zero, and each withdrawal takes its part of the cost. */
const replay: Rule = {
  name: "movements replay",
  check: (file: StudioFile) => {
    const wrong: Omit<Finding, "rule">[] = []
    let containerId = 0
    let left = 0
    let cost = 0
    for (const movement of file.allText<Movement>(MOVEMENTS)) {
      if (movement.container_id !== containerId) {
        containerId = movement.container_id
        left = 0
        cost = 0
      }
      const taken = -movement.amount
      if (taken > left) {
        wrong.push({
          where: movement.code,
          sentence: `Movement ${movement.id} takes ${taken} of the ${left} that were left.`,
        })
      } else if (taken > 0 && movement.kind !== "reverse") {
        const due = withdrawCost(Math.max(0, cost), taken, left)
        if (-movement.cost_micro !== due) {
          wrong.push({
            where: movement.code,
            sentence: `Movement ${movement.id} takes ${-movement.cost_micro} of the cost; its part of it is ${due}.`,
          })
        }
      }
      left += movement.amount
      cost += movement.cost_micro
      if (cost < 0) {
        wrong.push({
          where: movement.code,
          sentence: `After movement ${movement.id} the cost left is ${cost}, below nothing.`,
        })
      }
    }
    return wrong
  },
}

/** What is kept on the shelf is what the movements add up to, and the parts of deliveries' costs. */
const sums = queryRule(
  "amounts add up",
  `SELECT c.code AS place, c.amount_left, c.cost_left_micro, c.last_movement_id, coalesce(sum(m.amount), 0) AS moved,
     coalesce(sum(m.cost_micro), 0) + coalesce(s.kept, 0) AS moved_cost, coalesce(max(m.id), 0) AS last
   FROM container c LEFT JOIN movement m ON m.container_id = c.id
     LEFT JOIN (SELECT container_id, sum(kept_micro) AS kept, max(id) AS newest FROM container_cost GROUP BY container_id) s
       ON s.container_id = c.id
   GROUP BY c.id
   HAVING c.amount_left <> moved OR c.cost_left_micro <> moved_cost OR c.last_movement_id <> last
     OR c.last_cost_id <> coalesce(s.newest, 0) OR moved < 0`,
  (row) =>
    `The shelf says ${row.amount_left} left at a cost of ${row.cost_left_micro}; its movements add up to ${row.moved} at ${row.moved_cost}.`,
)

/** Nothing comes or goes in pouring from one container into another. */
const transfers = queryRule(
  "transfers balance",
  `SELECT 'action ' || m.action_id AS place, sum(m.amount) AS out_and_in, sum(m.cost_micro) AS cost_over
   FROM movement m LEFT JOIN movement taken_back ON taken_back.id = m.reverses_movement_id
   WHERE m.kind = 'transfer' OR taken_back.kind = 'transfer'
   GROUP BY m.action_id HAVING sum(m.amount) <> 0 OR sum(m.cost_micro) <> 0`,
  (row) =>
    `What was poured out and what was poured in differ by ${row.out_and_in}, and their cost by ${row.cost_over}.`,
)

/**
 * The containers of one line of a delivery came at what the line cost, to the millionth. What stood part-used on
 * the shelf carries the part of the price that is still in it, each rounded down.
 */
const receipts = queryRule(
  "receipts keep their cost",
  `SELECT 'delivery ' || l.delivery_id AS place, l.id, l.count, l.price_micro, sum(m.cost_micro) AS cost
   FROM receipt_line l JOIN delivery d ON d.id = l.delivery_id JOIN container c ON c.receipt_line_id = l.id
     JOIN movement m ON m.container_id = c.id AND m.kind = 'receive'
   GROUP BY l.id HAVING d.kind = 'bought' AND cost <> l.count * l.price_micro
     OR d.kind = 'opening' AND abs(cost - sum(1.0 * l.price_micro * m.amount / c.full_amount)) > l.count`,
  (row) =>
    `Line ${row.id}: ${row.count} packs at ${row.price_micro} each, but their containers carry ${row.cost} in all.`,
)

/** The containers of a finished delivery have its shipping and tax between them, those of an open one nothing. */
const extras = queryRule(
  "deliveries share out their costs",
  `SELECT 'delivery ' || d.id AS place, iif(d.closed = 1, d.shipping_micro + d.tax_micro, 0) AS due,
     coalesce((SELECT sum(s.share_micro) FROM receipt_line l JOIN container c ON c.receipt_line_id = l.id
       JOIN container_cost s ON s.container_id = c.id WHERE l.delivery_id = d.id), 0) AS shared
   FROM delivery d WHERE due <> shared`,
  (row) => `Its costs to share out are ${row.due}, but its containers have ${row.shared} of them.`,
)

/** Only what came with a delivery has a part of one's costs. */
const strayExtras = queryRule(
  "only deliveries share out costs",
  `SELECT c.code AS place FROM container_cost s JOIN container c ON c.id = s.container_id
   WHERE c.receipt_line_id IS NULL GROUP BY c.id`,
  () => "It came with no delivery, yet has a part of one's costs.",
)

export const amountRules: readonly Rule[] = [sums, replay, transfers, receipts, extras, strayExtras]
