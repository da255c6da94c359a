-- What may be used in place of a supply, and the batches in which it is.

-- So much of the substitute stands for 1 of the supply, in millionths; both are counted in the same unit.
CREATE TABLE supply_substitute (
  supply_id INTEGER NOT NULL REFERENCES supply (id) ON DELETE CASCADE,
  substitute_id INTEGER NOT NULL REFERENCES supply (id) CHECK (substitute_id <> supply_id),
  ratio_ppm INTEGER NOT NULL CHECK (ratio_ppm BETWEEN 1000 AND 1000000000),
  PRIMARY KEY (supply_id, substitute_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX supply_substitute_substitute ON supply_substitute (substitute_id);

-- The last for a batch and a supply that was not taken back counts. Substitute null: as the design says again.
CREATE TABLE batch_substitute (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  batch_id INTEGER NOT NULL REFERENCES batch (id),
  supply_id INTEGER NOT NULL REFERENCES supply (id),
  substitute_id INTEGER REFERENCES supply (id),
  ratio_ppm INTEGER NOT NULL CHECK (ratio_ppm BETWEEN 1000 AND 1000000000)
) STRICT;
CREATE INDEX batch_substitute_batch ON batch_substitute (batch_id);
