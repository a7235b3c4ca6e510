CREATE DOMAIN check_outcome AS text CONSTRAINT check_outcome_known CHECK (VALUE IN ('good', 'finding', 'skipped'));
CREATE TABLE walkaround_measurement (
	organization uuid             NOT NULL,
	aircraft     uuid             NOT NULL,
	checked      text             COLLATE "C" NOT NULL,
	made_at      timestamptz      NOT NULL,
	id           uuid             NOT NULL,
	walkaround   uuid             NOT NULL,
	outcome      check_outcome    NOT NULL,
	value        double precision NOT NULL,
	CONSTRAINT walkaround_measurement_pkey PRIMARY KEY (organization, aircraft, checked, made_at, id),
	CONSTRAINT walkaround_measurement_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround (organization, id)
);
CREATE INDEX walkaround_measurement_of_walkaround ON walkaround_measurement (organization, walkaround);

ALTER TABLE walkaround_report NO FORCE ROW LEVEL SECURITY;
ALTER TABLE walkaround NO FORCE ROW LEVEL SECURITY;
INSERT INTO walkaround_measurement (organization, aircraft, checked, made_at, id, walkaround, outcome, value)
	SELECT r.organization, w.aircraft, m.checked, m.made_at, m.id, r.walkaround, said.result ->> 'outcome', m.value
	FROM walkaround_report r
	JOIN walkaround w ON w.organization = r.organization AND w.id = r.walkaround
	CROSS JOIN LATERAL unnest(r.measured_ids, r.measured, r.measured_at, r.measured_values) AS m (id, checked, made_at, value)
	JOIN LATERAL jsonb_array_elements(r.results::jsonb) AS said (result) ON said.result ->> 'id' = m.id::text;
ALTER TABLE walkaround FORCE ROW LEVEL SECURITY;
ALTER TABLE walkaround_report FORCE ROW LEVEL SECURITY;

ALTER TABLE walkaround_measurement ENABLE ROW LEVEL SECURITY;
ALTER TABLE walkaround_measurement FORCE ROW LEVEL SECURITY;
CREATE POLICY walkaround_measurement_of_organization ON walkaround_measurement
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER walkaround_measurement_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON walkaround_measurement
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE OR REPLACE FUNCTION refuse_doubled_results() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	PERFORM FROM walkaround w WHERE w.organization = NEW.organization AND w.id = NEW.walkaround FOR NO KEY UPDATE;
	IF (SELECT count(DISTINCT i) FROM unnest(NEW.ids) AS i) <> cardinality(NEW.ids) OR EXISTS (
		SELECT FROM walkaround_report r
		WHERE r.organization = NEW.organization AND r.walkaround = NEW.walkaround AND r.ids && NEW.ids)
	THEN
		RAISE EXCEPTION 'one of these results is on record already'
			USING ERRCODE = 'unique_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN NEW;
END $$;
ALTER TABLE walkaround_report
	DROP CONSTRAINT walkaround_report_measures_its_results,
	DROP COLUMN measured_ids, DROP COLUMN measured, DROP COLUMN measured_at, DROP COLUMN measured_values;
