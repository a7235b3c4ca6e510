ALTER TABLE deferral DROP COLUMN considered;
