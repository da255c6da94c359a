-- Making: what a coat was to take and what it took, cups stripped back, scuffing between coats.

-- What a coat was to take of each supply, on the day it was written.
CREATE TABLE coat_plan (
  coat_id INTEGER NOT NULL REFERENCES coat (id),
  supply_id INTEGER NOT NULL REFERENCES supply (id),
  planned INTEGER NOT NULL CHECK (planned > 0),
  PRIMARY KEY (coat_id, supply_id)
) STRICT, WITHOUT ROWID;

-- What it took by measure, said with the coat or later; of several that stand, the last one counts.
CREATE TABLE coat_actual (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  coat_id INTEGER NOT NULL REFERENCES coat (id),
  supply_id INTEGER NOT NULL REFERENCES supply (id),
  amount INTEGER NOT NULL CHECK (amount >= 0),
  basis TEXT NOT NULL CHECK (basis IN ('weighed', 'measured', 'counted')),
  UNIQUE (action_id, coat_id, supply_id)
) STRICT;
CREATE INDEX coat_actual_coat ON coat_actual (coat_id);

-- What was found left in a mixing cup, by weight or by its marks; of several that stand, the last one counts.
CREATE TABLE mix_left (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  coat_id INTEGER NOT NULL REFERENCES coat (id),
  left_ul INTEGER NOT NULL CHECK (left_ul >= 0),
  UNIQUE (action_id, coat_id)
) STRICT;
CREATE INDEX mix_left_coat ON mix_left (coat_id);

-- A cup taken back: its layers from this position on came off and are put on again.
CREATE TABLE strip (
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  cup_id INTEGER NOT NULL REFERENCES cup (id),
  from_position INTEGER NOT NULL CHECK (from_position > 0),
  PRIMARY KEY (action_id, cup_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX strip_cup ON strip (cup_id);

-- Past the latest recoat a cup is scuffed and wiped first: minutes and supplies a cup.
CREATE TABLE scuff (
  id INTEGER PRIMARY KEY CHECK (id = 1),
  minutes INTEGER NOT NULL CHECK (minutes BETWEEN 0 AND 1440)
) STRICT;
CREATE TABLE scuff_use (
  scuff_id INTEGER NOT NULL REFERENCES scuff (id) ON DELETE CASCADE,
  position INTEGER NOT NULL CHECK (position > 0),
  supply_id INTEGER NOT NULL REFERENCES supply (id),
  amount INTEGER NOT NULL CHECK (amount > 0),
  PRIMARY KEY (scuff_id, position)
) STRICT, WITHOUT ROWID;
-- minutes a cup of the scuffing that went before a coat; null: none was needed
ALTER TABLE coat ADD COLUMN scuff_min INTEGER CHECK (scuff_min >= 0);
