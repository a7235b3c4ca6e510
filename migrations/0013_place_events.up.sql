-- Who follows the events needs to know where it stands, and that nothing comes up behind it. An identifier is made before
-- its change commits, so that an older one may be seen after a younger. A place is given at the end of the change, under
-- the lock that lets changes of one organization commit one after the other: places are in the order of the commits, and
-- have no gap.

ALTER TABLE event ADD COLUMN place bigint, ADD COLUMN by text;

ALTER TABLE event DISABLE TRIGGER event_append_only;
ALTER TABLE event NO FORCE ROW LEVEL SECURITY; -- what is there is every organization's
UPDATE event e SET place = p.place, by = ''
	FROM (SELECT organization, id, row_number() OVER (PARTITION BY organization ORDER BY at, id) AS place FROM event) p
	WHERE e.organization = p.organization AND e.id = p.id;
ALTER TABLE event FORCE ROW LEVEL SECURITY;
ALTER TABLE event ENABLE TRIGGER event_append_only;

ALTER TABLE event
	ALTER COLUMN place SET NOT NULL,
	ALTER COLUMN by SET NOT NULL,
	DROP CONSTRAINT event_pkey,
	ADD CONSTRAINT event_pkey PRIMARY KEY (organization, place),
	ADD CONSTRAINT event_place_from_one CHECK (place > 0);

-- Tells the events of one change. The head of the log is locked by then, unless the change entered nothing.
CREATE FUNCTION tell(whose uuid, who text, ids uuid[], kinds text[], aircraft uuid[], subjects uuid[], moments timestamptz[],
	changes text[]) RETURNS void
LANGUAGE plpgsql AS $$
DECLARE
	last bigint;
BEGIN
	PERFORM FROM log_head h WHERE h.organization = whose FOR NO KEY UPDATE;
	IF NOT FOUND THEN
		RAISE EXCEPTION 'the log of organization % has not been begun', whose USING ERRCODE = 'TD003';
	END IF;
	-- A statement of its own: it sees what was committed while the lock was waited for.
	SELECT coalesce(max(e.place), 0) INTO last FROM event e WHERE e.organization = whose;
	INSERT INTO event (organization, place, id, kind, aircraft, subject, by, at, changes)
		SELECT whose, last + n, e.id, e.kind, e.craft, e.subject, who, e.moment, e.change::jsonb
		FROM unnest(ids, kinds, aircraft, subjects, moments, changes) WITH ORDINALITY
			AS e (id, kind, craft, subject, moment, change, n);
END $$;
