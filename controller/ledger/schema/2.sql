-- The intention of the flood went to storage, so that its pump may have started
-- even where no start is on record.
ALTER TABLE floods ADD COLUMN intended INTEGER NOT NULL DEFAULT 0;
