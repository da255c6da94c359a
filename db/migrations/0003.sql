-- Bands, sheets and rolls, sprayed films, what a can keeps back, how much pigment a resin takes.

ALTER TABLE supply ADD COLUMN kept_back INTEGER NOT NULL DEFAULT 0 CHECK (kept_back >= 0);
-- one sheet of it; null: not cut from sheets of a known size
ALTER TABLE supply ADD COLUMN sheet_width_um INTEGER CHECK (sheet_width_um > 0);
ALTER TABLE supply ADD COLUMN sheet_height_um INTEGER
  CHECK (sheet_height_um IS NULL OR sheet_height_um > 0 AND sheet_width_um IS NOT NULL AND base_unit = 'mm2');
-- how wide the roll is that its length comes off
ALTER TABLE supply ADD COLUMN roll_width_um INTEGER CHECK (roll_width_um IS NULL OR roll_width_um > 0 AND base_unit = 'um');

-- an offcut's own size
ALTER TABLE container ADD COLUMN width_um INTEGER CHECK (width_um > 0);
ALTER TABLE container ADD COLUMN height_um INTEGER CHECK (height_um IS NULL OR height_um > 0 AND width_um IS NOT NULL);

-- pigment by mass of mixed resin; null: the data sheet does not say
ALTER TABLE resin_system ADD COLUMN max_pigment_ppm INTEGER CHECK (max_pigment_ppm BETWEEN 1 AND 1000000);

ALTER TABLE blank ADD COLUMN coats_base INTEGER NOT NULL DEFAULT 0
  CHECK (coats_base = 0 OR coats_base = 1 AND bare_base_um = 0);

-- heights above the base; null: all that the blank's bare bands leave
ALTER TABLE layer ADD COLUMN band_from_um INTEGER CHECK (band_from_um >= 0);
ALTER TABLE layer ADD COLUMN band_to_um INTEGER
  CHECK (band_to_um IS NULL OR band_to_um > band_from_um AND band_from_um IS NOT NULL);

-- More ways to work an amount out. SQLite cannot change a CHECK, so the table is made anew around its rows.
CREATE TABLE layer_use_now (
  id INTEGER PRIMARY KEY,
  layer_id INTEGER NOT NULL REFERENCES layer (id) ON DELETE CASCADE,
  position INTEGER NOT NULL CHECK (position > 0),
  how TEXT NOT NULL CHECK (how IN ('resin-film', 'resin-mixed', 'resin-applied', 'per-cup', 'per-area', 'sprinkled', 'per-resin', 'per-mix', 'per-batch', 'per-session', 'spray-film', 'piece')),
  supply_id INTEGER REFERENCES supply (id),
  resin_system_id INTEGER REFERENCES resin_system (id),
  -- µm for a film (of a sprayed one dry, each pass), µL for resin, base units a cup, a m², a litre of mixed
  -- resin, a mix, a batch or a session otherwise
  amount INTEGER NOT NULL CHECK (amount >= 0),
  -- how much of the covered surface it is on; of per-cup amounts, how much of the amount
  share_ppm INTEGER NOT NULL DEFAULT 1000000 CHECK (share_ppm BETWEEN 1 AND 10000000),
  drip_ppm INTEGER NOT NULL DEFAULT 0 CHECK (drip_ppm BETWEEN 0 AND 900000),
  residue_ul INTEGER NOT NULL DEFAULT 0 CHECK (residue_ul >= 0),
  -- a piece: 'flat' has its own size, 'wrap' is the layer's band rolled out, with its overlap
  wrap TEXT CHECK (wrap IN ('flat', 'wrap')),
  width_um INTEGER CHECK (width_um > 0),
  height_um INTEGER CHECK (height_um > 0),
  overlap_um INTEGER CHECK (overlap_um >= 0),
  margin_um INTEGER CHECK (margin_um >= 0),
  gap_um INTEGER CHECK (gap_um >= 0),
  may_turn INTEGER CHECK (may_turn IN (0, 1)),
  reprint_ppm INTEGER CHECK (reprint_ppm BETWEEN 0 AND 1000000),
  -- a sprayed film
  passes INTEGER CHECK (passes BETWEEN 1 AND 100),
  solids_ppm INTEGER CHECK (solids_ppm BETWEEN 1 AND 1000000),
  transfer_ppm INTEGER CHECK (transfer_ppm BETWEEN 1 AND 1000000),
  UNIQUE (layer_id, position),
  CHECK ((resin_system_id IS NOT NULL) = (how IN ('resin-film', 'resin-mixed', 'resin-applied'))),
  CHECK ((supply_id IS NULL) = (resin_system_id IS NOT NULL)),
  CHECK ((how = 'piece') = (wrap IS NOT NULL)),
  CHECK ((how = 'piece') = (margin_um IS NOT NULL AND gap_um IS NOT NULL AND may_turn IS NOT NULL AND reprint_ppm IS NOT NULL)),
  CHECK ((wrap IS 'flat') = (width_um IS NOT NULL AND height_um IS NOT NULL)),
  CHECK ((wrap IS 'wrap') = (overlap_um IS NOT NULL)),
  CHECK ((how = 'spray-film') = (passes IS NOT NULL AND solids_ppm IS NOT NULL AND transfer_ppm IS NOT NULL))
) STRICT;

INSERT INTO layer_use_now (
  id, layer_id, position, how, supply_id, resin_system_id, amount, share_ppm, drip_ppm, residue_ul,
  wrap, width_um, height_um, margin_um, gap_um, may_turn, reprint_ppm
)
SELECT
  id, layer_id, position, how, supply_id, resin_system_id, amount, share_ppm, drip_ppm, residue_ul,
  iif(how = 'piece', 'flat', NULL), width_um, height_um,
  iif(how = 'piece', 0, NULL), iif(how = 'piece', 0, NULL), iif(how = 'piece', 1, NULL), iif(how = 'piece', 0, NULL)
FROM layer_use;
DROP TABLE layer_use;
ALTER TABLE layer_use_now RENAME TO layer_use;
CREATE INDEX layer_use_supply ON layer_use (supply_id) WHERE supply_id IS NOT NULL;
