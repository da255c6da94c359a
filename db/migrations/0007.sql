-- Planning: when somebody works, how cups turn, how sellers ask and send, how sure the shelf must be.

-- minutes after midnight; with work_min_per_day it gives the hours of a day
ALTER TABLE studio ADD COLUMN opens_min INTEGER NOT NULL DEFAULT 540 CHECK (opens_min BETWEEN 0 AND 1439);
-- turner_places is the places on each of them
ALTER TABLE studio ADD COLUMN turners INTEGER NOT NULL DEFAULT 1 CHECK (turners BETWEEN 0 AND 100);
-- JSON lists: 1 is Monday, 7 Sunday; calendar days
ALTER TABLE studio ADD COLUMN weekdays_off TEXT NOT NULL DEFAULT '[]' CHECK (json_type(weekdays_off) = 'array');
ALTER TABLE studio ADD COLUMN days_off TEXT NOT NULL DEFAULT '[]' CHECK (json_type(days_off) = 'array');
-- an order is to be ready so many days before it must leave
ALTER TABLE studio ADD COLUMN spare_days INTEGER NOT NULL DEFAULT 2 CHECK (spare_days BETWEEN 0 AND 60);
-- share of waits for a delivery in which the shelf does not run empty
ALTER TABLE studio ADD COLUMN service_level_ppm INTEGER NOT NULL DEFAULT 950000
  CHECK (service_level_ppm BETWEEN 500000 AND 999900);

-- Null: no such rule.
ALTER TABLE seller ADD COLUMN minimum_micro INTEGER CHECK (minimum_micro > 0);
ALTER TABLE seller ADD COLUMN shipping_micro INTEGER NOT NULL DEFAULT 0 CHECK (shipping_micro >= 0);
ALTER TABLE seller ADD COLUMN free_from_micro INTEGER CHECK (free_from_micro > 0);

-- A pack's price at a seller from so many packs on.
CREATE TABLE offer_break (
  pack_id INTEGER NOT NULL,
  seller_id INTEGER NOT NULL,
  from_count INTEGER NOT NULL CHECK (from_count BETWEEN 2 AND 10000),
  price_micro INTEGER NOT NULL CHECK (price_micro >= 0),
  PRIMARY KEY (pack_id, seller_id, from_count),
  FOREIGN KEY (pack_id, seller_id) REFERENCES offer (pack_id, seller_id) ON DELETE CASCADE
) STRICT, WITHOUT ROWID;

-- what was used or counted away for no coat: steady use is read from it
CREATE INDEX movement_no_coat ON movement (container_id) WHERE coat_id IS NULL AND kind IN ('use', 'count');
