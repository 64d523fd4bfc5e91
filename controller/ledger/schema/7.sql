-- The parts of the checkpoint lie deflated (RFC 1951, with the dictionary of this
-- version, 7.dict), so that all of a small site fit one page. The sum still is of
-- the part and its JSON.
CREATE TABLE deflated (
  part TEXT PRIMARY KEY,
  data BLOB NOT NULL,
  sum  INTEGER
) STRICT;
INSERT INTO deflated SELECT part, deflate_part(data), sum FROM checkpoint ORDER BY rowid;
DROP TABLE checkpoint;
ALTER TABLE deflated RENAME TO checkpoint;
