-- Counting a shelf: what was found, at which place in the book, and when the differences were accepted.

CREATE TABLE stocktake (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  -- null: supplies of every kind
  kind TEXT,
  -- null: everywhere
  place TEXT CHECK (length(place) BETWEEN 1 AND 40),
  -- the book's amounts are not shown while counting
  blind INTEGER NOT NULL CHECK (blind IN (0, 1))
) STRICT;

-- The last of a container that was not taken back counts. `book` is what the book said when it was counted, and
-- `movement_id` the container's last movement then: what comes or goes later is no difference.
CREATE TABLE stocktake_line (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  stocktake_id INTEGER NOT NULL REFERENCES stocktake (id),
  container_id INTEGER NOT NULL REFERENCES container (id),
  found INTEGER NOT NULL CHECK (found >= 0),
  basis TEXT NOT NULL CHECK (basis IN ('weighed', 'measured', 'counted', 'estimated')),
  book INTEGER NOT NULL CHECK (book >= 0),
  movement_id INTEGER NOT NULL
) STRICT;
CREATE INDEX stocktake_line_stocktake ON stocktake_line (stocktake_id, container_id);

CREATE TABLE stocktake_end (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  stocktake_id INTEGER NOT NULL REFERENCES stocktake (id),
  -- accepted: the differences were written; dropped: nothing was
  how TEXT NOT NULL CHECK (how IN ('accepted', 'dropped'))
) STRICT;
CREATE INDEX stocktake_end_stocktake ON stocktake_end (stocktake_id);
