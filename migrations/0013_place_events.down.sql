DROP FUNCTION tell(uuid, text, uuid[], text[], uuid[], uuid[], timestamptz[], text[]);
ALTER TABLE event
	DROP CONSTRAINT event_place_from_one,
	DROP CONSTRAINT event_pkey,
	ADD CONSTRAINT event_pkey PRIMARY KEY (organization, id),
	DROP COLUMN by, DROP COLUMN place;
