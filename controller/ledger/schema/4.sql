-- An interlock that acts again and again is one row: how often, when last, and
-- the number of the newest row that is counted in it.
ALTER TABLE trips ADD COLUMN times INTEGER NOT NULL DEFAULT 1;
ALTER TABLE trips ADD COLUMN last INTEGER;
ALTER TABLE trips ADD COLUMN counted INTEGER NOT NULL DEFAULT 0;
