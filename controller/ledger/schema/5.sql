-- A checksum for each part of the checkpoint, each trip and each thing that
-- commissioning found: what the guard goes on from has to be what was written.
-- What is there already counts as whole.
ALTER TABLE checkpoint ADD COLUMN sum INTEGER;
ALTER TABLE trips ADD COLUMN sum INTEGER;
ALTER TABLE commissioning ADD COLUMN sum INTEGER;
UPDATE checkpoint SET sum = row_sum(part, data);
UPDATE trips SET sum = row_sum(id, at, bench, interlock, act, latched, detail, times, last, counted);
UPDATE commissioning SET sum = row_sum(id, at, what, place, fingerprint, data);
