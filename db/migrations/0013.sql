-- Which whole resins, parts A and B together, may be used in place of another, and the batches in which one is.

CREATE TABLE resin_substitute (
  system_id INTEGER NOT NULL REFERENCES resin_system (id) ON DELETE CASCADE,
  substitute_id INTEGER NOT NULL REFERENCES resin_system (id) CHECK (substitute_id <> system_id),
  PRIMARY KEY (system_id, substitute_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX resin_substitute_substitute ON resin_substitute (substitute_id);

-- The last for a batch and a resin that was not taken back counts. Substitute null: as the design says again.
CREATE TABLE batch_resin_substitute (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  batch_id INTEGER NOT NULL REFERENCES batch (id),
  system_id INTEGER NOT NULL REFERENCES resin_system (id),
  substitute_id INTEGER REFERENCES resin_system (id) CHECK (substitute_id <> system_id)
) STRICT;
CREATE INDEX batch_resin_substitute_batch ON batch_resin_substitute (batch_id);
