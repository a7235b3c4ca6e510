-- A hazard determination is good for the set of inoperative items that it was made for (14 CFR 91.213(d)(4)): a deferral
-- says which other open squawks were considered. One made before this column considered none that is on record.

ALTER TABLE deferral ADD COLUMN considered text[] NOT NULL DEFAULT '{}';
