-- What was measured is found over time, and was written as rows beside the report: each with its place in two keys, and a look
-- at its walkaround. It is written in the report's own row now, which is read by walkaround as well.

ALTER TABLE walkaround_report
	ADD COLUMN measured_ids    uuid[], -- of the results that have a value
	ADD COLUMN measured        text[] COLLATE "C", -- their checks
	ADD COLUMN measured_at     timestamptz[],
	ADD COLUMN measured_values double precision[];

ALTER TABLE walkaround_report DISABLE TRIGGER walkaround_report_append_only;
ALTER TABLE walkaround_report NO FORCE ROW LEVEL SECURITY; -- what is there is every organization's
ALTER TABLE walkaround_measurement NO FORCE ROW LEVEL SECURITY;
UPDATE walkaround_report r SET (measured_ids, measured, measured_at, measured_values) = (
	SELECT coalesce(array_agg(m.id ORDER BY n), '{}'), coalesce(array_agg(m.checked ORDER BY n), '{}'),
		coalesce(array_agg(m.made_at ORDER BY n), '{}'), coalesce(array_agg(m.value ORDER BY n), '{}')
	FROM unnest(r.ids) WITH ORDINALITY AS i (id, n)
	JOIN walkaround_measurement m ON m.organization = r.organization AND m.walkaround = r.walkaround AND m.id = i.id);
ALTER TABLE walkaround_report FORCE ROW LEVEL SECURITY;
ALTER TABLE walkaround_report ENABLE TRIGGER walkaround_report_append_only;

ALTER TABLE walkaround_report
	ALTER COLUMN measured_ids    SET NOT NULL,
	ALTER COLUMN measured        SET NOT NULL,
	ALTER COLUMN measured_at     SET NOT NULL,
	ALTER COLUMN measured_values SET NOT NULL,
	ADD CONSTRAINT walkaround_report_measures_its_results CHECK (measured_ids <@ ids
		AND cardinality(measured) = cardinality(measured_ids) AND cardinality(measured_at) = cardinality(measured_ids)
		AND cardinality(measured_values) = cardinality(measured_ids)
		AND array_position(measured, NULL) IS NULL AND array_position(measured_at, NULL) IS NULL
		AND array_position(measured_values, NULL) IS NULL);

-- Nor is a result measured twice.
CREATE OR REPLACE FUNCTION refuse_doubled_results() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	PERFORM FROM walkaround w WHERE w.organization = NEW.organization AND w.id = NEW.walkaround FOR NO KEY UPDATE;
	IF (SELECT count(DISTINCT i) FROM unnest(NEW.ids) AS i) <> cardinality(NEW.ids) OR (
		SELECT count(DISTINCT i) FROM unnest(NEW.measured_ids) AS i) <> cardinality(NEW.measured_ids) OR EXISTS (
		SELECT FROM walkaround_report r
		WHERE r.organization = NEW.organization AND r.walkaround = NEW.walkaround AND r.ids && NEW.ids)
	THEN
		RAISE EXCEPTION 'one of these results is on record already'
			USING ERRCODE = 'unique_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN NEW;
END $$;

DROP TABLE walkaround_measurement;
DROP DOMAIN check_outcome;
