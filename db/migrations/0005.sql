-- Taking in: cartons, what came otherwise than ordered, photos of labels, costs of the whole delivery, where a
-- container stands and what it weighs.

-- packs in what carries the code: an outer carton's stands for several
ALTER TABLE pack_code ADD COLUMN packs INTEGER NOT NULL DEFAULT 1 CHECK (packs BETWEEN 1 AND 1000);

-- printed on one pack alone: the same one does not come twice
ALTER TABLE receipt_line ADD COLUMN serial TEXT CHECK (length(serial) BETWEEN 1 AND 200);

-- What came otherwise than ordered. Damaged packs were not taken in, so they have no line; leaked ones were, with
-- what was left; substituted ones came in place of what the purchase asked for.
CREATE TABLE receipt_problem (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  delivery_id INTEGER NOT NULL REFERENCES delivery (id),
  line_id INTEGER REFERENCES receipt_line (id),
  purchase_id INTEGER REFERENCES purchase (id),
  pack_id INTEGER NOT NULL REFERENCES pack (id),
  what TEXT NOT NULL CHECK (what IN ('damaged', 'leaked', 'substituted')),
  count INTEGER NOT NULL CHECK (count > 0),
  CHECK ((what = 'damaged') = (line_id IS NULL)),
  CHECK (what <> 'substituted' OR purchase_id IS NOT NULL)
) STRICT;
CREATE INDEX receipt_problem_delivery ON receipt_problem (delivery_id);
CREATE INDEX receipt_problem_purchase ON receipt_problem (purchase_id) WHERE purchase_id IS NOT NULL;
CREATE INDEX receipt_problem_pack ON receipt_problem (pack_id);

-- Costs of a whole delivery, shared out over what was taken in when it is finished.
ALTER TABLE delivery ADD COLUMN shipping_micro INTEGER NOT NULL DEFAULT 0 CHECK (shipping_micro >= 0);
ALTER TABLE delivery ADD COLUMN tax_micro INTEGER NOT NULL DEFAULT 0 CHECK (tax_micro >= 0);

-- A container's part of them. Of `share_micro`, `kept_micro` goes onto what is in it then; the rest is of what was
-- taken from it before. Both below zero where it is taken back.
CREATE TABLE container_cost (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  container_id INTEGER NOT NULL REFERENCES container (id),
  share_micro INTEGER NOT NULL CHECK (share_micro <> 0),
  kept_micro INTEGER NOT NULL CHECK (kept_micro BETWEEN min(share_micro, 0) AND max(share_micro, 0)),
  UNIQUE (action_id, container_id)
) STRICT;
CREATE INDEX container_cost_container ON container_cost (container_id, id);
ALTER TABLE container ADD COLUMN last_cost_id INTEGER NOT NULL DEFAULT 0;

-- Where it was put and what it weighs empty; each null where it did not change, place '' takes it from its place.
CREATE TABLE container_change (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  container_id INTEGER NOT NULL REFERENCES container (id),
  place TEXT CHECK (length(place) <= 40),
  -- what the scale read with all that was in it, and what that leaves for the bottle
  gross_mg INTEGER CHECK (gross_mg > 0),
  empty_mg INTEGER CHECK (empty_mg > 0),
  CHECK ((gross_mg IS NULL) = (empty_mg IS NULL)),
  CHECK (place IS NOT NULL OR empty_mg IS NOT NULL)
) STRICT;
CREATE INDEX container_change_action ON container_change (action_id);
CREATE INDEX container_change_container ON container_change (container_id);
-- what the unreversed changes say, kept by the ledger
ALTER TABLE container ADD COLUMN place TEXT CHECK (length(place) BETWEEN 1 AND 40);

-- Photos of labels, without anything but the picture. One that no lot has a day later is thrown away.
CREATE TABLE photo (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  hash TEXT NOT NULL UNIQUE CHECK (length(hash) = 64),
  type TEXT NOT NULL CHECK (type IN ('image/jpeg', 'image/png', 'image/webp')),
  bytes BLOB NOT NULL CHECK (length(bytes) BETWEEN 1 AND 2000000),
  kept_at TEXT NOT NULL CHECK (kept_at GLOB '????-??-??T??:??:??*Z')
) STRICT;
CREATE TABLE lot_photo (
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  lot_id INTEGER NOT NULL REFERENCES lot (id),
  photo_id INTEGER NOT NULL REFERENCES photo (id),
  PRIMARY KEY (lot_id, photo_id, action_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX lot_photo_photo ON lot_photo (photo_id);
