import type { StudioFile } from "../../db/file.ts"
import { openStudioFile } from "../../db/migrate.ts"

const CUPS = 4
const LAYERS = 10
/** Containers that each layer takes from. */
const USES = 4
/** Batches that one container of each supply lasts for. */
const BATCHES = 15
const SUPPLIES = LAYERS * USES

/** Movements of a round: each supply's container is received, and taken from until its batches are made. */
const MOVEMENTS_A_ROUND = SUPPLIES + BATCHES * LAYERS * USES

/** Lots by how many containers they have: of supply 1 one, of 2 two, of 3 four. Each container makes 60 cups. */
const CONTAINERS_A_LOT = "CASE s.i WHEN 2 THEN 2 WHEN 3 THEN 4 ELSE 1 END"

/** The first three layers take from the same containers, as seal coats of one resin do; every other use has its own. */
const SUPPLY_OF_USE = `CASE WHEN l.i <= 3 AND u.i <= 3 THEN u.i ELSE (l.i - 1) * ${USES} + u.i END`

const CATALOGUE = `
  INSERT INTO maker (id, name) VALUES (1, 'Maker');
  INSERT INTO seller (id, name, lead_time_days) VALUES (1, 'Seller', 3);
  INSERT INTO buyer (id, name, contact) VALUES (1, 'Buyer', 'buyer@example.com');
  INSERT INTO supply (id, name, kind, base_unit) SELECT i, 'Supply ' || i, 'resin', 'uL' FROM series WHERE i <= ${SUPPLIES};
  INSERT INTO supply (id, name, kind, base_unit) VALUES (1000, 'Blank', 'blank', 'each');
  INSERT INTO blank (supply_id, bare_lip_um, bare_base_um) VALUES (1000, 0, 0);
  INSERT INTO design (id, name) VALUES (1, 'Design');
  INSERT INTO design_version (id, design_id, number, blank_supply_id, full_cure_min) VALUES (1, 1, 1, 1000, 0);
  INSERT INTO layer (id, version_id, position, kind, name, hands_on_min, turner_min, recoat_earliest_min)
    SELECT i, 1, i, 'resin', 'Layer ' || i, 0, 0, 0 FROM series WHERE i <= ${LAYERS};
  INSERT INTO delivery (id, seller_id, received_on, kind, note) VALUES (1, 1, '2020-01-01', 'bought', '');`

/** Rounds :from to :to, in the order in which rows need each other. `r` a round, `b` a batch in it, counted from 1. */
const ROUNDS = [
  `INSERT INTO action (id, kind, key, request_hash, happened_at, happened_offset_min, happened_on, recorded_at, device, summary, answer)
    SELECT (r.i - 1) * ${BATCHES + 1} + b.i, iif(b.i = 1, 'receive', 'finish'), 'r' || r.i || 'b' || b.i, '',
      date('2020-01-01', r.i || ' days') || 'T12:00:00.000Z', 0, date('2020-01-01', r.i || ' days'),
      date('2020-01-01', r.i || ' days') || 'T12:00:00.000Z', 'bench', '', 'null'
    FROM series r JOIN series b ON b.i <= ${BATCHES + 1} WHERE r.i BETWEEN :from AND :to ORDER BY 1`,
  `INSERT INTO receipt_line (id, delivery_id, action_id, count, price_micro)
    SELECT r.i, 1, (r.i - 1) * ${BATCHES + 1} + 1, 1, 0 FROM series r WHERE r.i BETWEEN :from AND :to`,
  `INSERT OR IGNORE INTO lot (id, supply_id, maker_id, number, expiry_basis)
    SELECT ((r.i - 1) / ${CONTAINERS_A_LOT}) * ${SUPPLIES} + s.i, s.i, 1, 'L' || ((r.i - 1) / ${CONTAINERS_A_LOT}), 'unknown'
    FROM series r JOIN series s ON s.i <= ${SUPPLIES} WHERE r.i BETWEEN :from AND :to`,
  `INSERT INTO container (id, code, supply_id, lot_id, receipt_line_id, full_amount)
    SELECT (r.i - 1) * ${SUPPLIES} + s.i, 'B' || r.i || '-' || s.i, s.i, ((r.i - 1) / ${CONTAINERS_A_LOT}) * ${SUPPLIES} + s.i, r.i, 1000000
    FROM series r JOIN series s ON s.i <= ${SUPPLIES} WHERE r.i BETWEEN :from AND :to ORDER BY 1`,
  `INSERT INTO movement (id, action_id, container_id, kind, amount, cost_micro, basis)
    SELECT (r.i - 1) * ${MOVEMENTS_A_ROUND} + s.i, (r.i - 1) * ${BATCHES + 1} + 1, (r.i - 1) * ${SUPPLIES} + s.i, 'receive', 1000000, 10000000, 'counted'
    FROM series r JOIN series s ON s.i <= ${SUPPLIES} WHERE r.i BETWEEN :from AND :to ORDER BY 1`,
  `INSERT INTO container_lot (container_id, lot_id, movement_id)
    SELECT c.id, c.lot_id, m.id FROM series r JOIN series s ON s.i <= ${SUPPLIES}
      JOIN container c ON c.id = (r.i - 1) * ${SUPPLIES} + s.i JOIN movement m ON m.container_id = c.id
    WHERE r.i BETWEEN :from AND :to`,
  `INSERT INTO customer_order (id, buyer_id, state, taken_on)
    SELECT r.i, 1, 'done', date('2020-01-01', r.i || ' days') FROM series r WHERE r.i BETWEEN :from AND :to`,
  `INSERT INTO order_line (id, order_id, position, design_id, quantity, due_on)
    SELECT r.i, r.i, 1, 1, ${BATCHES * CUPS}, date('2020-01-01', r.i || ' days') FROM series r WHERE r.i BETWEEN :from AND :to`,
  `INSERT INTO batch (id, action_id, version_id)
    SELECT (r.i - 1) * ${BATCHES} + b.i, (r.i - 1) * ${BATCHES + 1} + 1 + b.i, 1
    FROM series r JOIN series b ON b.i <= ${BATCHES} WHERE r.i BETWEEN :from AND :to ORDER BY 1`,
  `INSERT INTO cup (id, serial, batch_id, state, order_line_id)
    SELECT (b.id - 1) * ${CUPS} + c.i, 'C' || b.id || '-' || c.i, b.id, 'sent', (b.id - 1) / ${BATCHES} + 1
    FROM batch b JOIN series c ON c.i <= ${CUPS} WHERE (b.id - 1) / ${BATCHES} + 1 BETWEEN :from AND :to ORDER BY 1`,
  `INSERT INTO coat (id, action_id, batch_id, layer_id, workings)
    SELECT (b.id - 1) * ${LAYERS} + l.i, b.action_id, b.id, l.i, '[]'
    FROM batch b JOIN series l ON l.i <= ${LAYERS} WHERE (b.id - 1) / ${BATCHES} + 1 BETWEEN :from AND :to ORDER BY 1`,
  `INSERT INTO coat_cup (coat_id, cup_id)
    SELECT (b.id - 1) * ${LAYERS} + l.i, (b.id - 1) * ${CUPS} + c.i
    FROM batch b JOIN series l ON l.i <= ${LAYERS} JOIN series c ON c.i <= ${CUPS}
    WHERE (b.id - 1) / ${BATCHES} + 1 BETWEEN :from AND :to ORDER BY 1, 2`,
  `INSERT INTO movement (id, action_id, container_id, kind, amount, cost_micro, basis, coat_id)
    SELECT (r.i - 1) * ${MOVEMENTS_A_ROUND} + ${SUPPLIES} + (b.i - 1) * ${SUPPLIES} + (l.i - 1) * ${USES} + u.i,
      (r.i - 1) * ${BATCHES + 1} + 1 + b.i, (r.i - 1) * ${SUPPLIES} + ${SUPPLY_OF_USE}, 'use', -1000, -10000, 'planned',
      ((r.i - 1) * ${BATCHES} + b.i - 1) * ${LAYERS} + l.i
    FROM series r JOIN series b ON b.i <= ${BATCHES} JOIN series l ON l.i <= ${LAYERS} JOIN series u ON u.i <= ${USES}
    WHERE r.i BETWEEN :from AND :to ORDER BY 1`,
]

/** A file with a long history, which can be made longer. Its rules hold for every row that is written. */
export interface LongHistory {
  file: StudioFile
  /** makes it at least so many movements long; says how many there are */
  fill(movements: number): number
  /** a lot from the middle of the history that went into 60 cups, or twice or four times as many */
  lotOfCups(cups: 60 | 120 | 240): number
}

/** Years of batches written straight into a new file: only what a trace looks at. */
export function longHistory(path: string): LongHistory {
  const file = openStudioFile(path)
  file.runText("PRAGMA synchronous = OFF")
  file.script("CREATE TEMP TABLE series (i INTEGER PRIMARY KEY)")
  file.runText(
    "INSERT INTO series WITH RECURSIVE up (i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM up WHERE i < 5000) SELECT i FROM up",
  )
  file.script(CATALOGUE)
  let rounds = 0
  return {
    file,
    fill: (movements) => {
      // whole lots of four containers
      const to = Math.ceil(movements / MOVEMENTS_A_ROUND / 4) * 4
      file.transaction(() => {
        for (const text of ROUNDS) file.runText(text, { from: rounds + 1, to })
      })
      rounds = to
      return file.firstText<{ count: number }>("SELECT count(*) AS count FROM movement")!.count
    },
    lotOfCups: (cups) => {
      const supply = { 60: 1, 120: 2, 240: 3 }[cups]
      const lots = file.allText<{ id: number }>("SELECT id FROM lot WHERE supply_id = ? ORDER BY id", [
        supply,
      ])
      return lots[lots.length >> 1]!.id
    },
  }
}
