-- The preflight inspection: checklists of types, how an airframe's own differs, walkarounds with what was found, and the
-- book of each aircraft's meters.

CREATE DOMAIN meter AS text CONSTRAINT meter_known CHECK (VALUE IN ('hobbs', 'tach', 'time-in-service'));
CREATE DOMAIN walkaround_state AS text CONSTRAINT walkaround_state_known CHECK (VALUE IN ('open', 'completed'));
CREATE DOMAIN check_outcome AS text CONSTRAINT check_outcome_known CHECK (VALUE IN ('good', 'finding', 'skipped'));

-- The checklist of a type. A version is never changed, only followed by the next.
CREATE TABLE checklist_template (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL,
	version      integer     NOT NULL,
	type         text        NOT NULL,
	checks       jsonb       NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	CONSTRAINT checklist_template_pkey PRIMARY KEY (organization, id, version),
	CONSTRAINT checklist_template_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT checklist_template_version_counts CHECK (version > 0),
	CONSTRAINT checklist_template_type_given CHECK (type ~ '\S')
);

ALTER TABLE checklist_template ENABLE ROW LEVEL SECURITY;
ALTER TABLE checklist_template FORCE ROW LEVEL SECURITY;
CREATE POLICY checklist_template_of_organization ON checklist_template
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER checklist_template_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON checklist_template
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- How one airframe's checklist differs from its type's.
CREATE TABLE airframe_checklist (
	organization     uuid        NOT NULL,
	aircraft         uuid        NOT NULL,
	version          integer     NOT NULL,
	template         uuid        NOT NULL,
	template_version integer     NOT NULL, -- that the changes were made against
	serial           text        NOT NULL, -- empty: not known
	changes          jsonb       NOT NULL,
	at               timestamptz NOT NULL,
	by               text        NOT NULL,
	CONSTRAINT airframe_checklist_pkey PRIMARY KEY (organization, aircraft, version),
	CONSTRAINT airframe_checklist_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT airframe_checklist_template_fkey FOREIGN KEY (organization, template, template_version)
		REFERENCES checklist_template (organization, id, version),
	CONSTRAINT airframe_checklist_version_counts CHECK (version > 0)
);

ALTER TABLE airframe_checklist ENABLE ROW LEVEL SECURITY;
ALTER TABLE airframe_checklist FORCE ROW LEVEL SECURITY;
CREATE POLICY airframe_checklist_of_organization ON airframe_checklist
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER airframe_checklist_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON airframe_checklist
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- Checklists as they were walked by, each once, however many walkarounds were: named by the digest of what they say.
CREATE TABLE checklist (
	organization uuid  NOT NULL,
	digest       text  COLLATE "C" NOT NULL, -- SHA-256, in hexadecimal
	document     jsonb NOT NULL,
	CONSTRAINT checklist_pkey PRIMARY KEY (organization, digest),
	CONSTRAINT checklist_digest_is_sha256 CHECK (digest ~ '^[0-9a-f]{64}$')
);

ALTER TABLE checklist ENABLE ROW LEVEL SECURITY;
ALTER TABLE checklist FORCE ROW LEVEL SECURITY;
CREATE POLICY checklist_of_organization ON checklist
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER checklist_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON checklist
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- One walkaround. Its row is what two phones that report on it wait for each other at.
CREATE TABLE walkaround (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL, -- made by the phone
	aircraft     uuid        NOT NULL,
	flight       uuid, -- null: it is for no flight
	checklist    text        COLLATE "C" NOT NULL,
	place        text        NOT NULL,
	moisture     boolean, -- visible moisture near freezing is met; null: nobody has said
	state        walkaround_state NOT NULL,
	started_by   text        NOT NULL,
	started_at   timestamptz NOT NULL,
	completed_by text        NOT NULL, -- empty: it is open
	completed_at timestamptz,
	left_open    text[]      NOT NULL, -- checks that were not done when it was completed
	version      integer     NOT NULL,
	CONSTRAINT walkaround_pkey PRIMARY KEY (organization, id),
	CONSTRAINT walkaround_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT walkaround_flight_fkey FOREIGN KEY (organization, flight) REFERENCES flight (organization, id),
	CONSTRAINT walkaround_checklist_fkey FOREIGN KEY (organization, checklist) REFERENCES checklist (organization, digest),
	CONSTRAINT walkaround_completed_by_somebody CHECK ((state = 'completed') = (completed_at IS NOT NULL AND completed_by <> '')
		AND (completed_at IS NULL) = (completed_by = ''))
) WITH (fillfactor = 70);

CREATE INDEX walkaround_of_aircraft ON walkaround (organization, aircraft, id);
CREATE INDEX walkaround_of_flight ON walkaround (organization, flight, id) WHERE flight IS NOT NULL;

ALTER TABLE walkaround ENABLE ROW LEVEL SECURITY;
ALTER TABLE walkaround FORCE ROW LEVEL SECURITY;
CREATE POLICY walkaround_of_organization ON walkaround
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER walkaround_kept BEFORE DELETE OR TRUNCATE ON walkaround FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER walkaround_start_kept
	BEFORE UPDATE OF organization, id, aircraft, flight, checklist, place, moisture, started_by, started_at ON walkaround
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER walkaround_moves_by_versions BEFORE UPDATE ON walkaround
	FOR EACH ROW WHEN (NEW.version <> OLD.version + 1) EXECUTE FUNCTION refuse();
-- What was completed stays so, with what was left open.
CREATE TRIGGER walkaround_completion_kept BEFORE UPDATE ON walkaround
	FOR EACH ROW WHEN (OLD.state = 'completed'
		AND (OLD.state, OLD.completed_by, OLD.completed_at, OLD.left_open)
			IS DISTINCT FROM (NEW.state, NEW.completed_by, NEW.completed_at, NEW.left_open))
	EXECUTE FUNCTION refuse();

-- What a phone sends at once is one record, so that ninety results cost little more than one.
CREATE TABLE walkaround_report (
	organization uuid        NOT NULL,
	walkaround   uuid        NOT NULL,
	number       integer     NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	late         boolean     NOT NULL, -- it arrived after the walkaround was completed
	ids          uuid[]      NOT NULL, -- of its results, made by the phone
	results      text        NOT NULL, -- JSON, kept letter by letter
	CONSTRAINT walkaround_report_pkey PRIMARY KEY (organization, walkaround, number),
	CONSTRAINT walkaround_report_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround (organization, id),
	CONSTRAINT walkaround_report_number_counts CHECK (number > 0)
);

-- Compressing ninety results takes longer than writing them, but for the quicker way, which not every server was built with.
DO $$
BEGIN
	ALTER TABLE walkaround_report ALTER COLUMN results SET COMPRESSION lz4;
EXCEPTION WHEN feature_not_supported THEN
	NULL;
END $$;

ALTER TABLE walkaround_report ENABLE ROW LEVEL SECURITY;
ALTER TABLE walkaround_report FORCE ROW LEVEL SECURITY;
CREATE POLICY walkaround_report_of_organization ON walkaround_report
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER walkaround_report_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON walkaround_report
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- No result stands twice. Whoever adds a report waits for those who are adding one to the same walkaround, so that it sees
-- theirs. A key over single results would keep this as well, at four times the cost of the report.
CREATE FUNCTION refuse_doubled_results() RETURNS trigger
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

CREATE TRIGGER walkaround_report_result_once BEFORE INSERT ON walkaround_report FOR EACH ROW EXECUTE FUNCTION refuse_doubled_results();

-- What was measured, so that it is found over time. It is written with the report, which says all of it.
CREATE TABLE walkaround_measurement (
	organization uuid             NOT NULL,
	aircraft     uuid             NOT NULL,
	checked      text             COLLATE "C" NOT NULL, -- the check
	made_at      timestamptz      NOT NULL,
	id           uuid             NOT NULL, -- of the result
	walkaround   uuid             NOT NULL,
	outcome      check_outcome    NOT NULL,
	value        double precision NOT NULL,
	CONSTRAINT walkaround_measurement_pkey PRIMARY KEY (organization, aircraft, checked, made_at, id),
	CONSTRAINT walkaround_measurement_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround (organization, id)
);

CREATE INDEX walkaround_measurement_of_walkaround ON walkaround_measurement (organization, walkaround);

ALTER TABLE walkaround_measurement ENABLE ROW LEVEL SECURITY;
ALTER TABLE walkaround_measurement FORCE ROW LEVEL SECURITY;
CREATE POLICY walkaround_measurement_of_organization ON walkaround_measurement
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER walkaround_measurement_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON walkaround_measurement
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- The squawk that was filed of a finding: of each finding one.
CREATE TABLE walkaround_squawk (
	organization uuid        NOT NULL,
	walkaround   uuid        NOT NULL,
	result       uuid        NOT NULL,
	squawk       uuid        NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	CONSTRAINT walkaround_squawk_pkey PRIMARY KEY (organization, walkaround, result),
	CONSTRAINT walkaround_squawk_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround (organization, id),
	CONSTRAINT walkaround_squawk_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk (organization, id)
);

ALTER TABLE walkaround_squawk ENABLE ROW LEVEL SECURITY;
ALTER TABLE walkaround_squawk FORCE ROW LEVEL SECURITY;
CREATE POLICY walkaround_squawk_of_organization ON walkaround_squawk
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER walkaround_squawk_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON walkaround_squawk
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- The result that it was filed of is on record.
CREATE FUNCTION refuse_unreported() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	IF NOT EXISTS (
		SELECT FROM walkaround_report r
		WHERE r.organization = NEW.organization AND r.walkaround = NEW.walkaround AND NEW.result = ANY (r.ids))
	THEN
		RAISE EXCEPTION 'there is no such result'
			USING ERRCODE = 'foreign_key_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN NEW;
END $$;

CREATE TRIGGER walkaround_squawk_of_a_result BEFORE INSERT ON walkaround_squawk FOR EACH ROW EXECUTE FUNCTION refuse_unreported();

-- The book of each meter of each aircraft. Time in service has a book of its own: no meter on the panel is taken for it.
CREATE TABLE meter_entry (
	organization uuid             NOT NULL,
	aircraft     uuid             NOT NULL,
	meter        meter            NOT NULL,
	number       integer          NOT NULL,
	hours        double precision NOT NULL,
	at           timestamptz      NOT NULL,
	by           text             NOT NULL,
	walkaround   uuid, -- null: it was not read on a walkaround
	flight       uuid, -- null: it was not read after a flight
	because      text             NOT NULL, -- why it contradicts the entry before; empty: it does not
	CONSTRAINT meter_entry_pkey PRIMARY KEY (organization, aircraft, meter, number),
	CONSTRAINT meter_entry_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT meter_entry_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround (organization, id),
	CONSTRAINT meter_entry_flight_fkey FOREIGN KEY (organization, flight) REFERENCES flight (organization, id),
	CONSTRAINT meter_entry_hours_range CHECK (hours >= 0 AND hours <= 200000)
);

ALTER TABLE meter_entry ENABLE ROW LEVEL SECURITY;
ALTER TABLE meter_entry FORCE ROW LEVEL SECURITY;
CREATE POLICY meter_entry_of_organization ON meter_entry
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER meter_entry_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON meter_entry
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- Entries follow each other by their numbers, and none goes back without a word that says why.
CREATE FUNCTION refuse_unlike_the_book() RETURNS trigger
LANGUAGE plpgsql AS $$
DECLARE
	stands double precision;
BEGIN
	SELECT e.hours INTO stands FROM meter_entry e
		WHERE e.organization = NEW.organization AND e.aircraft = NEW.aircraft AND e.meter = NEW.meter AND e.number = NEW.number - 1;
	IF NEW.number <> 1 AND stands IS NULL OR NEW.number < 1 OR NEW.hours < stands AND NEW.because !~ '\S' THEN
		RAISE EXCEPTION 'entry % of % h does not follow the book', NEW.number, NEW.hours
			USING ERRCODE = 'restrict_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN NEW;
END $$;

CREATE TRIGGER meter_entry_follows_the_book BEFORE INSERT ON meter_entry FOR EACH ROW EXECUTE FUNCTION refuse_unlike_the_book();
