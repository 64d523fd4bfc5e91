-- What has to be told and could not be yet, and what people said of it. The sum
-- of a row is the CRC-64 (ECMA) of its key and its other columns: a row that has
-- been damaged is known by it.

CREATE TABLE parcels (
  id     TEXT PRIMARY KEY,
  seq    INTEGER NOT NULL,     -- the order in which they go
  way    TEXT NOT NULL,
  at     INTEGER NOT NULL,
  left   INTEGER NOT NULL,     -- how long it is still tried
  notice TEXT NOT NULL,        -- JSON
  sum    INTEGER NOT NULL
) STRICT;

CREATE TABLE undelivered (     -- parcels that nobody took, in the order of their row ids
  id      TEXT PRIMARY KEY,
  way     TEXT NOT NULL,
  at      INTEGER NOT NULL,
  subject TEXT NOT NULL,
  error   TEXT NOT NULL,
  sum     INTEGER NOT NULL
) STRICT;

CREATE TABLE ways (
  name      TEXT PRIMARY KEY,
  sent      INTEGER,           -- NULL when never, as of all below
  confirmed INTEGER,
  code      TEXT NOT NULL,     -- that the answer to the latest test has to have
  asked     INTEGER,
  sum       INTEGER NOT NULL
) STRICT;

CREATE TABLE outbox (
  part TEXT PRIMARY KEY,       -- alarms (JSON), revision of all four tables, taken (the queue of earlier versions)
  data TEXT NOT NULL,
  sum  INTEGER NOT NULL
) STRICT;
