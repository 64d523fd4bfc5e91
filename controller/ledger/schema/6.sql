-- What a reservoir held at the start of a flood, off the moment at which its
-- switch fell; gone is null where the weighing before makes no pair with it.
CREATE TABLE weighings (
  id        INTEGER PRIMARY KEY,
  at        INTEGER NOT NULL,
  reservoir TEXT NOT NULL,
  bench     TEXT NOT NULL,
  flood     INTEGER NOT NULL,
  litres    REAL NOT NULL,
  give      REAL NOT NULL,
  noted     REAL NOT NULL,
  came      REAL NOT NULL,
  gone      REAL
) STRICT;
