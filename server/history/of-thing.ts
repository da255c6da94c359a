/** Things that have a history of their own. */
export const THINGS_WITH_HISTORY = [
  "container",
  "lot",
  "cup",
  "batch",
  "order",
  "delivery",
  "supply",
  "design",
] as const
export type ThingWithHistory = (typeof THINGS_WITH_HISTORY)[number]

const rowsOf = (thing: string) =>
  `SELECT action_id FROM row_change WHERE thing = '${thing}' AND thing_id = :id`
const CUPS_OF_BATCH = `SELECT id FROM cup WHERE batch_id = :id
  UNION SELECT cup_id FROM cup_move WHERE from_batch_id = :id OR to_batch_id = :id`
const COATS_OF_CUP = "SELECT coat_id FROM coat_cup WHERE cup_id = :id"

/** SQL by kind of thing: the ids of all actions that had to do with the thing `:id`. Undoing them is added elsewhere. */
export const ACTIONS_OF: Record<ThingWithHistory, string> = {
  container: `SELECT action_id FROM movement WHERE container_id = :id
    UNION SELECT action_id FROM mark WHERE container_id = :id
    UNION SELECT action_id FROM container_change WHERE container_id = :id
    UNION SELECT action_id FROM container_cost WHERE container_id = :id
    UNION SELECT action_id FROM stocktake_line WHERE container_id = :id
    UNION SELECT m.action_id FROM container h JOIN mark m ON m.lot_id = h.lot_id WHERE h.id = :id
    UNION SELECT r.action_id FROM container h JOIN row_change r ON r.thing = 'lot' AND r.thing_id = h.lot_id WHERE h.id = :id`,
  lot: `${rowsOf("lot")}
    UNION SELECT action_id FROM mark WHERE lot_id = :id
    UNION SELECT m.action_id FROM container_lot t JOIN movement m ON m.id = t.movement_id WHERE t.lot_id = :id
    UNION SELECT action_id FROM lot_photo WHERE lot_id = :id
    UNION SELECT action_id FROM told WHERE lot_id = :id`,
  cup: `SELECT action_id FROM cup_change WHERE cup_id = :id
    UNION SELECT action_id FROM strip WHERE cup_id = :id
    UNION SELECT action_id FROM cup_move WHERE cup_id = :id
    UNION SELECT action_id FROM complaint WHERE cup_id = :id
    UNION SELECT action_id FROM coat WHERE id IN (${COATS_OF_CUP})
    UNION SELECT action_id FROM coat_actual WHERE coat_id IN (${COATS_OF_CUP})
    UNION SELECT action_id FROM mix_left WHERE coat_id IN (${COATS_OF_CUP})
    UNION SELECT k.action_id FROM mix x JOIN mix_check k ON k.mix_id = x.id WHERE x.coat_id IN (${COATS_OF_CUP})
    UNION SELECT action_id FROM making_photo WHERE cup_id = :id OR coat_id IN (${COATS_OF_CUP})`,
  batch: `SELECT action_id FROM batch WHERE id = :id
    UNION SELECT action_id FROM batch_substitute WHERE batch_id = :id
    UNION SELECT action_id FROM batch_resin_substitute WHERE batch_id = :id
    UNION SELECT action_id FROM coat WHERE batch_id = :id
    UNION SELECT action_id FROM cup_move WHERE from_batch_id = :id OR to_batch_id = :id
    UNION SELECT action_id FROM cup_change WHERE cup_id IN (${CUPS_OF_BATCH})
    UNION SELECT action_id FROM strip WHERE cup_id IN (${CUPS_OF_BATCH})`,
  order: `${rowsOf("order")}
    UNION SELECT action_id FROM told WHERE order_id = :id
    UNION SELECT h.action_id FROM order_line l JOIN cup_change h ON h.order_line_id = l.id WHERE l.order_id = :id
    UNION SELECT h.action_id FROM order_line l JOIN cup u ON u.order_line_id = l.id JOIN cup_change h ON h.cup_id = u.id
      WHERE l.order_id = :id AND h.state IN ('sent', 'returned')`,
  delivery: `${rowsOf("delivery")}
    UNION SELECT action_id FROM receipt_line WHERE delivery_id = :id
    UNION SELECT action_id FROM receipt_problem WHERE delivery_id = :id`,
  supply: rowsOf("supply"),
  design: rowsOf("design"),
}

/** SQL by kind of thing: what it is called, for `:id`; and its own page. */
export const NAME_OF: Record<ThingWithHistory, { name: string; page: (id: number, name: string) => string }> =
  {
    container: {
      name: "SELECT code AS name FROM container WHERE id = :id",
      page: (_, code) => `/containers/${code}`,
    },
    lot: {
      name: `SELECT 'lot ' || coalesce(l.number, 'without a number') || ', ' || s.name AS name FROM lot l
      JOIN supply s ON s.id = l.supply_id WHERE l.id = :id`,
      page: (id) => `/lots/${id}`,
    },
    cup: {
      name: "SELECT serial AS name FROM cup WHERE id = :id AND state IS NOT NULL",
      page: (_, serial) => `/cups/${serial}`,
    },
    batch: {
      name: "SELECT 'batch ' || id AS name FROM batch WHERE id = :id",
      page: (id) => `/batches/${id}`,
    },
    order: {
      name: "SELECT 'order ' || id AS name FROM customer_order WHERE id = :id",
      page: (id) => `/orders/${id}`,
    },
    delivery: {
      name: `SELECT 'the delivery of ' || d.received_on AS name FROM delivery d WHERE d.id = :id`,
      page: (id) => `/receive?delivery=${id}`,
    },
    supply: { name: "SELECT name FROM supply WHERE id = :id", page: (id) => `/setup/supplies/${id}` },
    design: { name: "SELECT name FROM design WHERE id = :id", page: (id) => `/designs/${id}` },
  }
