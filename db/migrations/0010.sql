-- How cups are really made: the room it was in, cups that go on in another batch, photos, mixes looked at later.

-- The room, as it was said with the coat; null: not said. Tenths of a degree Celsius, percent of relative humidity.
ALTER TABLE coat ADD COLUMN room_celsius_tenths INTEGER CHECK (room_celsius_tenths BETWEEN 50 AND 400);
ALTER TABLE coat ADD COLUMN room_humidity_percent INTEGER CHECK (room_humidity_percent BETWEEN 1 AND 100);

-- A cup that went on in another batch: split off, joined with another, or changed over. Its coats stay with the batch
-- that they were put on in.
CREATE TABLE cup_move (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  cup_id INTEGER NOT NULL REFERENCES cup (id),
  from_batch_id INTEGER NOT NULL REFERENCES batch (id),
  to_batch_id INTEGER NOT NULL REFERENCES batch (id),
  UNIQUE (action_id, cup_id),
  CHECK (from_batch_id <> to_batch_id)
) STRICT;
CREATE INDEX cup_move_cup ON cup_move (cup_id);
CREATE INDEX cup_move_from ON cup_move (from_batch_id);
CREATE INDEX cup_move_to ON cup_move (to_batch_id);

-- A picture of a coat, with all the cups that had it, or of one cup.
CREATE TABLE making_photo (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  photo_id INTEGER NOT NULL REFERENCES photo (id),
  coat_id INTEGER REFERENCES coat (id),
  cup_id INTEGER REFERENCES cup (id),
  CHECK ((coat_id IS NULL) <> (cup_id IS NULL))
) STRICT;
CREATE INDEX making_photo_photo ON making_photo (photo_id);
CREATE INDEX making_photo_coat ON making_photo (coat_id) WHERE coat_id IS NOT NULL;
CREATE INDEX making_photo_cup ON making_photo (cup_id) WHERE cup_id IS NOT NULL;

-- How a mix was found later: how hard it is, where a sample of it is kept. Of several that stand all are shown.
CREATE TABLE mix_check (
  id INTEGER PRIMARY KEY AUTOINCREMENT,
  action_id INTEGER NOT NULL REFERENCES action (id) DEFERRABLE INITIALLY DEFERRED,
  mix_id INTEGER NOT NULL REFERENCES mix (id),
  hardness TEXT CHECK (hardness IN ('hard', 'tacky', 'soft')),
  -- where the witness sample is kept; '': none
  witness TEXT NOT NULL DEFAULT '' CHECK (length(witness) <= 200),
  note TEXT NOT NULL DEFAULT '' CHECK (length(note) <= 500),
  CHECK (hardness IS NOT NULL OR witness <> '' OR note <> '')
) STRICT;
CREATE INDEX mix_check_mix ON mix_check (mix_id);
