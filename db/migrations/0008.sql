-- What buyers write about a cup, and who was told of a lot that is under suspicion.

CREATE TABLE complaint (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  cup_id INTEGER NOT NULL REFERENCES cup (id),
  what TEXT NOT NULL CHECK (length(what) BETWEEN 1 AND 500)
) STRICT;
CREATE INDEX complaint_cup ON complaint (cup_id);

CREATE TABLE told (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  lot_id INTEGER NOT NULL REFERENCES lot (id),
  order_id INTEGER NOT NULL REFERENCES customer_order (id),
  how TEXT NOT NULL DEFAULT '' CHECK (length(how) <= 200)
) STRICT;
CREATE INDEX told_lot ON told (lot_id);
