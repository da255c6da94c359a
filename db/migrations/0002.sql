-- Orders, purchases, deliveries and set-up are changed by actions too.

-- One thing as it stood before and after an action: its rows by table, as JSON. Null before: the action made it;
-- null after: the action did away with it.
CREATE TABLE row_change (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  thing TEXT NOT NULL CHECK (length(thing) > 0),
  thing_id INTEGER NOT NULL,
  before TEXT CHECK (json_valid(before)),
  after TEXT CHECK (json_valid(after)),
  CHECK (before IS NOT after)
) STRICT;
CREATE INDEX row_change_action ON row_change (action_id);
CREATE INDEX row_change_thing ON row_change (thing, thing_id);
CREATE INDEX cup_change_order_line ON cup_change (order_line_id) WHERE order_line_id IS NOT NULL;

-- Rows that an undo may take away or bring back keep their number for themselves. SQLite cannot add AUTOINCREMENT,
-- so the tables are made anew around their rows.
CREATE TABLE customer_order_now (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  buyer_id INTEGER REFERENCES buyer (id),
  state TEXT NOT NULL CHECK (state IN ('draft', 'planned', 'done', 'cancelled')),
  taken_on TEXT NOT NULL CHECK (taken_on GLOB '????-??-??'),
  note TEXT NOT NULL DEFAULT ''
) STRICT;
INSERT INTO customer_order_now (id, buyer_id, state, taken_on, note)
SELECT id, buyer_id, state, taken_on, note FROM customer_order;
DROP TABLE customer_order;
ALTER TABLE customer_order_now RENAME TO customer_order;

CREATE TABLE order_line_now (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  order_id INTEGER NOT NULL REFERENCES customer_order (id) ON DELETE CASCADE,
  position INTEGER NOT NULL,
  design_id INTEGER NOT NULL REFERENCES design (id),
  quantity INTEGER NOT NULL CHECK (quantity > 0),
  due_on TEXT NOT NULL CHECK (due_on GLOB '????-??-??'),
  note TEXT NOT NULL DEFAULT '',
  UNIQUE (order_id, position)
) STRICT;
INSERT INTO order_line_now (id, order_id, position, design_id, quantity, due_on, note)
SELECT id, order_id, position, design_id, quantity, due_on, note FROM order_line;
DROP TABLE order_line;
ALTER TABLE order_line_now RENAME TO order_line;

CREATE TABLE layer_now (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  version_id INTEGER NOT NULL REFERENCES design_version (id),
  position INTEGER NOT NULL CHECK (position > 0),
  kind TEXT NOT NULL CHECK (kind IN ('prep', 'base-coat', 'spray', 'resin', 'wash-off', 'vinyl', 'final-coat', 'counted')),
  name TEXT NOT NULL CHECK (length(name) > 0),
  hands_on_min INTEGER NOT NULL CHECK (hands_on_min >= 0),
  turner_min INTEGER NOT NULL CHECK (turner_min >= 0),
  recoat_earliest_min INTEGER NOT NULL CHECK (recoat_earliest_min >= 0),
  recoat_latest_min INTEGER CHECK (recoat_latest_min >= recoat_earliest_min),
  UNIQUE (version_id, position)
) STRICT;
INSERT INTO layer_now (id, version_id, position, kind, name, hands_on_min, turner_min, recoat_earliest_min, recoat_latest_min)
SELECT id, version_id, position, kind, name, hands_on_min, turner_min, recoat_earliest_min, recoat_latest_min FROM layer;
DROP TABLE layer;
ALTER TABLE layer_now RENAME TO layer;
