-- Units are in the names: µL, mg, µm, mm², micro (millionths of the currency unit), min, ppm.
-- A supply's amounts are in its own base unit.

-- The studio ------------------------------------------------------------------------------------------

CREATE TABLE studio (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  name TEXT NOT NULL,
  time_zone TEXT NOT NULL,
  currency TEXT NOT NULL CHECK (length(currency) = 3),
  units TEXT NOT NULL CHECK (units IN ('metric', 'us')),
  -- the smallest mark a maker can pour to and the smallest step of the scale
  volume_step_ul INTEGER NOT NULL CHECK (volume_step_ul > 0),
  mass_step_mg INTEGER NOT NULL CHECK (mass_step_mg > 0),
  turner_places INTEGER NOT NULL CHECK (turner_places >= 0),
  work_min_per_day INTEGER NOT NULL CHECK (work_min_per_day BETWEEN 1 AND 1440),
  shipping_days INTEGER NOT NULL CHECK (shipping_days >= 0),
  labour_micro_per_hour INTEGER NOT NULL CHECK (labour_micro_per_hour >= 0),
  is_demo INTEGER NOT NULL DEFAULT 0 CHECK (is_demo IN (0, 1))
) STRICT;

-- The catalogue ---------------------------------------------------------------------------------------

CREATE TABLE maker (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (length(name) > 0)
) STRICT;

CREATE TABLE seller (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (length(name) > 0),
  lead_time_days INTEGER NOT NULL CHECK (lead_time_days >= 0)
) STRICT;

CREATE TABLE supply (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (length(name) > 0),
  kind TEXT NOT NULL CHECK (kind IN ('resin', 'hardener', 'paint', 'glitter', 'pigment', 'vinyl', 'solvent', 'abrasive', 'blank', 'consumable', 'packaging', 'other')),
  base_unit TEXT NOT NULL CHECK (base_unit IN ('uL', 'mg', 'um', 'mm2', 'each')),
  density_mg_per_ml INTEGER CHECK (density_mg_per_ml BETWEEN 100 AND 25000),
  -- null unit: not known; 'never': does not expire
  shelf_life INTEGER CHECK (shelf_life > 0),
  shelf_life_unit TEXT CHECK (shelf_life_unit IN ('hours', 'days', 'months', 'never')),
  open_life INTEGER CHECK (open_life > 0),
  open_life_unit TEXT CHECK (open_life_unit IN ('hours', 'days', 'months', 'never')),
  -- null: as the seller says
  lead_time_days INTEGER CHECK (lead_time_days >= 0),
  minimum_amount INTEGER NOT NULL DEFAULT 0 CHECK (minimum_amount >= 0),
  colour TEXT CHECK (colour GLOB '#[0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f][0-9a-f]'),
  note TEXT NOT NULL DEFAULT '',
  CHECK ((shelf_life IS NULL) = (shelf_life_unit IS NULL OR shelf_life_unit = 'never')),
  CHECK ((open_life IS NULL) = (open_life_unit IS NULL OR open_life_unit = 'never'))
) STRICT;

CREATE TABLE supply_hazard (
  supply_id INTEGER NOT NULL REFERENCES supply (id) ON DELETE CASCADE,
  hazard TEXT NOT NULL,
  PRIMARY KEY (supply_id, hazard)
) STRICT, WITHOUT ROWID;

CREATE TABLE resin_system (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (length(name) > 0),
  part_a_supply_id INTEGER NOT NULL REFERENCES supply (id),
  part_b_supply_id INTEGER NOT NULL REFERENCES supply (id),
  ratio_basis TEXT NOT NULL CHECK (ratio_basis IN ('volume', 'mass')),
  ratio_a INTEGER NOT NULL CHECK (ratio_a > 0),
  ratio_b INTEGER NOT NULL CHECK (ratio_b > 0),
  pot_life_min INTEGER NOT NULL CHECK (pot_life_min > 0),
  largest_mix_ul INTEGER NOT NULL CHECK (largest_mix_ul > 0),
  mixing_min INTEGER NOT NULL CHECK (mixing_min >= 0),
  cup_work_min INTEGER NOT NULL CHECK (cup_work_min > 0),
  recoat_earliest_min INTEGER NOT NULL CHECK (recoat_earliest_min >= 0),
  recoat_latest_min INTEGER CHECK (recoat_latest_min >= recoat_earliest_min),
  full_cure_min INTEGER NOT NULL CHECK (full_cure_min >= 0),
  CHECK (part_a_supply_id <> part_b_supply_id)
) STRICT;

CREATE TABLE blank (
  supply_id INTEGER PRIMARY KEY REFERENCES supply (id),
  bare_lip_um INTEGER NOT NULL CHECK (bare_lip_um >= 0),
  bare_base_um INTEGER NOT NULL CHECK (bare_base_um >= 0)
) STRICT;

CREATE TABLE blank_ring (
  blank_supply_id INTEGER NOT NULL REFERENCES blank (supply_id) ON DELETE CASCADE,
  position INTEGER NOT NULL,
  height_um INTEGER NOT NULL CHECK (height_um >= 0),
  diameter_um INTEGER NOT NULL CHECK (diameter_um > 0),
  PRIMARY KEY (blank_supply_id, position)
) STRICT, WITHOUT ROWID;

CREATE TABLE pack (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (length(name) > 0),
  maker_id INTEGER REFERENCES maker (id)
) STRICT;

-- One row for each container in the pack: a kit has two, a box of six cans has one row with six.
CREATE TABLE pack_content (
  pack_id INTEGER NOT NULL REFERENCES pack (id) ON DELETE CASCADE,
  position INTEGER NOT NULL,
  supply_id INTEGER NOT NULL REFERENCES supply (id),
  amount INTEGER NOT NULL CHECK (amount > 0),
  container_count INTEGER NOT NULL DEFAULT 1 CHECK (container_count BETWEEN 1 AND 1000),
  PRIMARY KEY (pack_id, position)
) STRICT, WITHOUT ROWID;
CREATE INDEX pack_content_supply ON pack_content (supply_id);

-- A trade item number is kept in its 14-digit form; any other code as it reads.
CREATE TABLE pack_code (
  code TEXT NOT NULL CHECK (length(code) BETWEEN 1 AND 200),
  pack_id INTEGER NOT NULL REFERENCES pack (id) ON DELETE CASCADE,
  PRIMARY KEY (code, pack_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX pack_code_pack ON pack_code (pack_id);

CREATE TABLE offer (
  pack_id INTEGER NOT NULL REFERENCES pack (id) ON DELETE CASCADE,
  seller_id INTEGER NOT NULL REFERENCES seller (id),
  price_micro INTEGER NOT NULL CHECK (price_micro >= 0),
  PRIMARY KEY (pack_id, seller_id)
) STRICT, WITHOUT ROWID;

-- The ledger ------------------------------------------------------------------------------------------

CREATE TABLE action (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  kind TEXT NOT NULL,
  key TEXT NOT NULL UNIQUE CHECK (length(key) BETWEEN 1 AND 100),
  request_hash TEXT NOT NULL,
  happened_at TEXT NOT NULL CHECK (happened_at GLOB '????-??-??T??:??:??*Z'),
  happened_offset_min INTEGER NOT NULL,
  happened_on TEXT NOT NULL CHECK (happened_on GLOB '????-??-??'),
  recorded_at TEXT NOT NULL CHECK (recorded_at GLOB '????-??-??T??:??:??*Z'),
  device TEXT NOT NULL,
  summary TEXT NOT NULL,
  reason TEXT NOT NULL DEFAULT '',
  answer TEXT NOT NULL,
  reverses_action_id INTEGER UNIQUE REFERENCES action (id)
) STRICT;

CREATE TABLE delivery (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  seller_id INTEGER REFERENCES seller (id),
  received_on TEXT NOT NULL CHECK (received_on GLOB '????-??-??'),
  -- 'opening': what was on the shelf on the first day
  kind TEXT NOT NULL CHECK (kind IN ('bought', 'opening')),
  note TEXT NOT NULL DEFAULT '',
  closed INTEGER NOT NULL DEFAULT 0 CHECK (closed IN (0, 1))
) STRICT;

CREATE TABLE purchase (
  id INTEGER PRIMARY KEY,
  seller_id INTEGER NOT NULL REFERENCES seller (id),
  pack_id INTEGER NOT NULL REFERENCES pack (id),
  count INTEGER NOT NULL CHECK (count > 0),
  ordered_on TEXT NOT NULL CHECK (ordered_on GLOB '????-??-??'),
  expected_on TEXT NOT NULL CHECK (expected_on GLOB '????-??-??'),
  cancelled INTEGER NOT NULL DEFAULT 0 CHECK (cancelled IN (0, 1))
) STRICT;

CREATE TABLE receipt_line (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  delivery_id INTEGER NOT NULL REFERENCES delivery (id),
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  pack_id INTEGER REFERENCES pack (id),
  purchase_id INTEGER REFERENCES purchase (id),
  count INTEGER NOT NULL CHECK (count > 0),
  price_micro INTEGER NOT NULL CHECK (price_micro >= 0)
) STRICT;
CREATE INDEX receipt_line_delivery ON receipt_line (delivery_id);
CREATE INDEX receipt_line_action ON receipt_line (action_id);
CREATE INDEX receipt_line_purchase ON receipt_line (purchase_id);

CREATE TABLE lot (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  supply_id INTEGER NOT NULL REFERENCES supply (id),
  maker_id INTEGER REFERENCES maker (id),
  -- null: none printed; then the lot belongs to one receipt line alone
  number TEXT CHECK (length(number) BETWEEN 1 AND 80),
  made_on TEXT CHECK (made_on GLOB '????-??-??'),
  expires_on TEXT CHECK (expires_on GLOB '????-??-??'),
  expiry_basis TEXT NOT NULL CHECK (expiry_basis IN ('label', 'shelf-life', 'does-not-expire', 'unknown')),
  held INTEGER NOT NULL DEFAULT 0 CHECK (held IN (0, 1)),
  CHECK ((expires_on IS NULL) = (expiry_basis IN ('does-not-expire', 'unknown')))
) STRICT;
CREATE UNIQUE INDEX lot_by_number ON lot (supply_id, coalesce(maker_id, 0), number) WHERE number IS NOT NULL;

CREATE TABLE container (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  code TEXT NOT NULL UNIQUE,
  supply_id INTEGER NOT NULL REFERENCES supply (id),
  -- the lot it was filled with; lots that came in later stand in container_lot
  lot_id INTEGER NOT NULL REFERENCES lot (id),
  receipt_line_id INTEGER REFERENCES receipt_line (id),
  -- containers that came in one kit share the number
  kit_unit INTEGER,
  full_amount INTEGER NOT NULL CHECK (full_amount > 0),
  empty_mg INTEGER CHECK (empty_mg > 0),
  amount_left INTEGER NOT NULL DEFAULT 0 CHECK (amount_left >= 0),
  cost_left_micro INTEGER NOT NULL DEFAULT 0 CHECK (cost_left_micro >= 0),
  last_movement_id INTEGER NOT NULL DEFAULT 0,
  -- what the unreversed marks say, kept by the ledger
  opened_at TEXT,
  opened_on TEXT,
  held INTEGER NOT NULL DEFAULT 0 CHECK (held IN (0, 1)),
  on_bench INTEGER NOT NULL DEFAULT 0 CHECK (on_bench IN (0, 1)),
  CHECK (amount_left > 0 OR cost_left_micro = 0)
) STRICT;
CREATE INDEX container_supply ON container (supply_id, amount_left);
CREATE INDEX container_lot_id ON container (lot_id);
CREATE INDEX container_receipt_line ON container (receipt_line_id);

-- Lots in a container, and since which movement: its own, and each that a top-up brought.
CREATE TABLE container_lot (
  container_id INTEGER NOT NULL REFERENCES container (id),
  lot_id INTEGER NOT NULL REFERENCES lot (id),
  movement_id INTEGER NOT NULL REFERENCES movement (id),
  -- a top-up carries the use-by day of the bottle it came from
  use_by TEXT CHECK (use_by GLOB '????-??-??'),
  PRIMARY KEY (container_id, movement_id, lot_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX container_lot_lot ON container_lot (lot_id);

CREATE TABLE movement (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  container_id INTEGER NOT NULL REFERENCES container (id),
  kind TEXT NOT NULL CHECK (kind IN ('receive', 'use', 'transfer', 'count', 'waste', 'write-off', 'reverse')),
  amount INTEGER NOT NULL CHECK (amount <> 0),
  cost_micro INTEGER NOT NULL CHECK (amount > 0 AND cost_micro >= 0 OR amount < 0 AND cost_micro <= 0),
  basis TEXT NOT NULL CHECK (basis IN ('planned', 'weighed', 'measured', 'counted', 'estimated')),
  coat_id INTEGER REFERENCES coat (id),
  -- where a transfer's gain came from
  source_container_id INTEGER REFERENCES container (id),
  -- which movement this one takes back
  reverses_movement_id INTEGER UNIQUE REFERENCES movement (id),
  CHECK ((kind = 'reverse') = (reverses_movement_id IS NOT NULL)),
  CHECK (source_container_id IS NULL OR kind IN ('transfer', 'reverse'))
) STRICT;
CREATE INDEX movement_action ON movement (action_id);
CREATE INDEX movement_container ON movement (container_id, id);
CREATE INDEX movement_source ON movement (source_container_id) WHERE source_container_id IS NOT NULL;
CREATE INDEX movement_coat ON movement (coat_id) WHERE coat_id IS NOT NULL;

-- Changes that are no amounts: opened, held, released, put on or off the bench.
CREATE TABLE mark (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  kind TEXT NOT NULL CHECK (kind IN ('opened', 'held', 'released', 'benched', 'unbenched')),
  container_id INTEGER REFERENCES container (id),
  lot_id INTEGER REFERENCES lot (id),
  CHECK ((container_id IS NULL) <> (lot_id IS NULL)),
  CHECK (lot_id IS NULL OR kind IN ('held', 'released'))
) STRICT;
CREATE INDEX mark_action ON mark (action_id);
CREATE INDEX mark_container ON mark (container_id) WHERE container_id IS NOT NULL;
CREATE INDEX mark_lot ON mark (lot_id) WHERE lot_id IS NOT NULL;

-- Designs ---------------------------------------------------------------------------------------------

CREATE TABLE design (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (length(name) > 0)
) STRICT;

CREATE TABLE design_version (
  id INTEGER PRIMARY KEY,
  design_id INTEGER NOT NULL REFERENCES design (id),
  number INTEGER NOT NULL CHECK (number > 0),
  blank_supply_id INTEGER NOT NULL REFERENCES blank (supply_id),
  full_cure_min INTEGER NOT NULL CHECK (full_cure_min >= 0),
  price_micro INTEGER NOT NULL DEFAULT 0 CHECK (price_micro >= 0),
  -- set when a batch first uses it; from then on nothing in it changes
  frozen INTEGER NOT NULL DEFAULT 0 CHECK (frozen IN (0, 1)),
  UNIQUE (design_id, number)
) STRICT;

CREATE TABLE layer (
  id INTEGER PRIMARY KEY,
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

CREATE TABLE layer_use (
  id INTEGER PRIMARY KEY,
  layer_id INTEGER NOT NULL REFERENCES layer (id) ON DELETE CASCADE,
  position INTEGER NOT NULL CHECK (position > 0),
  how TEXT NOT NULL CHECK (how IN ('resin-film', 'resin-mixed', 'resin-applied', 'per-cup', 'per-area', 'per-resin', 'per-mix', 'per-batch', 'piece')),
  supply_id INTEGER REFERENCES supply (id),
  resin_system_id INTEGER REFERENCES resin_system (id),
  -- µm for a film, µL for resin, base units a cup, a m², a litre of mixed resin, a mix or a batch otherwise
  amount INTEGER NOT NULL CHECK (amount >= 0),
  -- how much of the coated surface it is on; of sprays and per-cup amounts, how much of the amount
  share_ppm INTEGER NOT NULL DEFAULT 1000000 CHECK (share_ppm BETWEEN 1 AND 10000000),
  drip_ppm INTEGER NOT NULL DEFAULT 0 CHECK (drip_ppm BETWEEN 0 AND 900000),
  residue_ul INTEGER NOT NULL DEFAULT 0 CHECK (residue_ul >= 0),
  width_um INTEGER CHECK (width_um > 0),
  height_um INTEGER CHECK (height_um > 0),
  UNIQUE (layer_id, position),
  CHECK ((resin_system_id IS NOT NULL) = (how IN ('resin-film', 'resin-mixed', 'resin-applied'))),
  CHECK ((supply_id IS NULL) = (resin_system_id IS NOT NULL)),
  CHECK ((how = 'piece') = (width_um IS NOT NULL AND height_um IS NOT NULL))
) STRICT;
CREATE INDEX layer_use_supply ON layer_use (supply_id) WHERE supply_id IS NOT NULL;

-- Orders ----------------------------------------------------------------------------------------------

CREATE TABLE buyer (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL UNIQUE CHECK (length(name) > 0),
  contact TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE customer_order (
  id INTEGER PRIMARY KEY,
  buyer_id INTEGER REFERENCES buyer (id),
  state TEXT NOT NULL CHECK (state IN ('draft', 'planned', 'done', 'cancelled')),
  taken_on TEXT NOT NULL CHECK (taken_on GLOB '????-??-??'),
  note TEXT NOT NULL DEFAULT ''
) STRICT;

CREATE TABLE order_line (
  id INTEGER PRIMARY KEY,
  order_id INTEGER NOT NULL REFERENCES customer_order (id) ON DELETE CASCADE,
  position INTEGER NOT NULL,
  design_id INTEGER NOT NULL REFERENCES design (id),
  quantity INTEGER NOT NULL CHECK (quantity > 0),
  due_on TEXT NOT NULL CHECK (due_on GLOB '????-??-??'),
  note TEXT NOT NULL DEFAULT '',
  UNIQUE (order_id, position)
) STRICT;

-- Making ----------------------------------------------------------------------------------------------

CREATE TABLE batch (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  version_id INTEGER NOT NULL REFERENCES design_version (id),
  note TEXT NOT NULL DEFAULT ''
) STRICT;
CREATE INDEX batch_action ON batch (action_id);

CREATE TABLE cup (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  serial TEXT NOT NULL UNIQUE,
  batch_id INTEGER NOT NULL REFERENCES batch (id),
  -- what the unreversed cup_change rows say, kept by the ledger; null: never started (its start was undone)
  state TEXT CHECK (state IN ('in work', 'good', 'second', 'scrapped', 'sent', 'returned')),
  order_line_id INTEGER REFERENCES order_line (id)
) STRICT;
CREATE INDEX cup_batch ON cup (batch_id);
CREATE INDEX cup_order_line ON cup (order_line_id) WHERE order_line_id IS NOT NULL;

CREATE TABLE cup_change (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  cup_id INTEGER NOT NULL REFERENCES cup (id),
  -- each null where it did not change; order_line_id 0 sets the cup free again
  state TEXT CHECK (state IN ('in work', 'good', 'second', 'scrapped', 'sent', 'returned')),
  order_line_id INTEGER,
  CHECK (state IS NOT NULL OR order_line_id IS NOT NULL)
) STRICT;
CREATE INDEX cup_change_action ON cup_change (action_id);
CREATE INDEX cup_change_cup ON cup_change (cup_id);

-- One layer applied in one go, from one mix or straight from containers.
CREATE TABLE coat (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  batch_id INTEGER NOT NULL REFERENCES batch (id),
  layer_id INTEGER NOT NULL REFERENCES layer (id),
  -- formula, inputs and result of each amount, as they were that day
  workings TEXT NOT NULL CHECK (json_valid(workings)),
  -- a person insisted on something past its day
  insisted INTEGER NOT NULL DEFAULT 0 CHECK (insisted IN (0, 1))
) STRICT;
CREATE INDEX coat_action ON coat (action_id);
CREATE INDEX coat_batch ON coat (batch_id, layer_id);

CREATE TABLE coat_cup (
  coat_id INTEGER NOT NULL REFERENCES coat (id),
  cup_id INTEGER NOT NULL REFERENCES cup (id),
  PRIMARY KEY (coat_id, cup_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX coat_cup_cup ON coat_cup (cup_id);

CREATE TABLE mix (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  code TEXT NOT NULL UNIQUE,
  coat_id INTEGER NOT NULL UNIQUE REFERENCES coat (id),
  resin_system_id INTEGER NOT NULL REFERENCES resin_system (id),
  planned_a INTEGER NOT NULL CHECK (planned_a > 0),
  planned_b INTEGER NOT NULL CHECK (planned_b > 0),
  actual_a INTEGER NOT NULL CHECK (actual_a > 0),
  actual_b INTEGER NOT NULL CHECK (actual_b > 0),
  residue_ul INTEGER NOT NULL CHECK (residue_ul >= 0)
) STRICT;
