-- Instants are milliseconds since 1970 UTC, durations milliseconds. The id of
-- every table but floods counts all rows of the ledger in order of recording.

CREATE TABLE floods (
  id         INTEGER PRIMARY KEY,
  bench      TEXT NOT NULL,
  slot       TEXT,             -- civil time; NULL for a flood without a slot
  due        INTEGER NOT NULL,
  cause      TEXT NOT NULL,
  attempt    INTEGER NOT NULL,
  hold       INTEGER NOT NULL,
  strength   REAL NOT NULL,
  started    INTEGER,
  ended      INTEGER,
  outcome    TEXT,             -- NULL while under way
  reason     TEXT NOT NULL,
  fill       INTEGER,
  stood      INTEGER,
  fall       INTEGER,
  run        INTEGER,
  litres     REAL NOT NULL,
  counted    INTEGER NOT NULL,
  unrecorded INTEGER NOT NULL,
  watched    INTEGER NOT NULL
) STRICT;
CREATE INDEX floods_due ON floods (due);

CREATE TABLE events (
  id    INTEGER PRIMARY KEY,
  at    INTEGER NOT NULL,
  kind  TEXT NOT NULL,
  place TEXT,
  flood INTEGER,
  text  TEXT NOT NULL
) STRICT;

CREATE TABLE trips (
  id        INTEGER PRIMARY KEY,
  at        INTEGER NOT NULL,
  bench     TEXT,
  interlock TEXT NOT NULL,
  act       TEXT NOT NULL,     -- tripped, latched, weld-proven, reset
  latched   INTEGER NOT NULL,
  detail    TEXT NOT NULL      -- of a reset: what was found
) STRICT;

CREATE TABLE pauses (
  id    INTEGER PRIMARY KEY,
  at    INTEGER NOT NULL,
  bench TEXT,
  began INTEGER NOT NULL,
  text  TEXT NOT NULL
) STRICT;

CREATE TABLE proof_tests (
  id     INTEGER PRIMARY KEY,
  at     INTEGER NOT NULL,
  place  TEXT,
  switch TEXT NOT NULL,
  level  TEXT NOT NULL
) STRICT;

CREATE TABLE commissioning (
  id          INTEGER PRIMARY KEY,
  at          INTEGER NOT NULL,
  what        TEXT NOT NULL,
  place       TEXT NOT NULL,
  fingerprint TEXT NOT NULL,   -- of the wiring it was done on
  data        TEXT NOT NULL    -- JSON
) STRICT;

CREATE TABLE stages (
  id    INTEGER PRIMARY KEY,
  at    INTEGER NOT NULL,
  batch TEXT NOT NULL,
  stage INTEGER NOT NULL,
  text  TEXT NOT NULL
) STRICT;

CREATE TABLE diary (
  id    INTEGER PRIMARY KEY,
  at    INTEGER NOT NULL,
  place TEXT NOT NULL,
  kind  TEXT NOT NULL,
  value REAL,
  unit  TEXT NOT NULL,
  text  TEXT NOT NULL
) STRICT;

CREATE TABLE settings (
  id          INTEGER PRIMARY KEY,
  at          INTEGER NOT NULL,
  fingerprint TEXT NOT NULL,
  diff        TEXT NOT NULL
) STRICT;

CREATE TABLE outputs (
  date   TEXT NOT NULL,        -- local
  output TEXT NOT NULL,
  run    INTEGER NOT NULL,
  starts INTEGER NOT NULL,
  PRIMARY KEY (date, output)
) STRICT, WITHOUT ROWID;

CREATE TABLE checkpoint (
  part TEXT PRIMARY KEY,
  data TEXT NOT NULL           -- JSON
) STRICT;                      -- with a row id, so that a change leaves the index alone
