-- Phones and tablets that were let in over the local network. The token itself is never kept, only its SHA-256.

CREATE TABLE device (
  id INTEGER PRIMARY KEY,
  name TEXT NOT NULL CHECK (length(name) BETWEEN 1 AND 40),
  token_hash TEXT NOT NULL UNIQUE CHECK (length(token_hash) = 64),
  paired_at TEXT NOT NULL CHECK (paired_at GLOB '????-??-??T??:??:??*Z'),
  last_seen_at TEXT NOT NULL CHECK (last_seen_at GLOB '????-??-??T??:??:??*Z'),
  removed_at TEXT CHECK (removed_at GLOB '????-??-??T??:??:??*Z')
) STRICT;
