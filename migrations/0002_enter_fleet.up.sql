-- Bases, aircraft and what is installed in them. A configuration is never changed, only followed by another revision.

-- What is on record stays on record. The trigger's name tells the program what was refused.
CREATE FUNCTION refuse() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	RAISE EXCEPTION '% of % is refused: what is on record stays', TG_OP, TG_TABLE_NAME
		USING ERRCODE = 'restrict_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
END $$;

-- A statement that changed other rows than it had to ends its transaction. The program sends such a statement together
-- with the commit, so that it cannot look at the count itself.
CREATE FUNCTION expect(changed bigint, wanted bigint, code text) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
	IF changed IS DISTINCT FROM wanted THEN
		RAISE EXCEPTION 'changed % of % rows', changed, wanted USING ERRCODE = code;
	END IF;
END $$;

CREATE TABLE base (
	organization uuid             NOT NULL,
	id           uuid             NOT NULL,
	code         text             NOT NULL,
	name         text             NOT NULL,
	lat          double precision NOT NULL,
	lon          double precision NOT NULL,
	zone         text             NOT NULL,
	version      integer          NOT NULL,
	CONSTRAINT base_pkey PRIMARY KEY (organization, id),
	CONSTRAINT base_code_key UNIQUE (organization, code),
	CONSTRAINT base_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT base_lat_range CHECK (lat BETWEEN -90 AND 90),
	CONSTRAINT base_lon_range CHECK (lon BETWEEN -180 AND 180)
);

ALTER TABLE base ENABLE ROW LEVEL SECURITY;
ALTER TABLE base FORCE ROW LEVEL SECURITY;
CREATE POLICY base_of_organization ON base
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER base_kept BEFORE DELETE OR TRUNCATE ON base FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- The row that every change to an aircraft locks. It is rewritten often and never grows: room is left on each page so
-- that the new version lies beside the old and no index is touched.
CREATE TABLE aircraft (
	organization  uuid    NOT NULL,
	id            uuid    NOT NULL,
	registration  text    NOT NULL,
	type          text    NOT NULL,
	base          uuid    NOT NULL,
	facts         jsonb   NOT NULL,
	revision      integer NOT NULL, -- of the configuration
	version       integer NOT NULL, -- of this record
	plan_version  integer NOT NULL, -- counts facts and configurations
	state_version integer NOT NULL, -- counts everything that bears on a determination
	squawked      integer NOT NULL DEFAULT 0, -- number of the last squawk
	CONSTRAINT aircraft_pkey PRIMARY KEY (organization, id),
	CONSTRAINT aircraft_registration_key UNIQUE (organization, registration),
	CONSTRAINT aircraft_base_fkey FOREIGN KEY (organization, base) REFERENCES base (organization, id)
) WITH (fillfactor = 70);

ALTER TABLE aircraft ENABLE ROW LEVEL SECURITY;
ALTER TABLE aircraft FORCE ROW LEVEL SECURITY;
CREATE POLICY aircraft_of_organization ON aircraft
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER aircraft_kept BEFORE DELETE OR TRUNCATE ON aircraft FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE aircraft_configuration (
	organization uuid        NOT NULL,
	aircraft     uuid        NOT NULL,
	revision     integer     NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	document     jsonb       NOT NULL,
	CONSTRAINT aircraft_configuration_pkey PRIMARY KEY (organization, aircraft, revision),
	CONSTRAINT aircraft_configuration_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id)
);

ALTER TABLE aircraft_configuration ENABLE ROW LEVEL SECURITY;
ALTER TABLE aircraft_configuration FORCE ROW LEVEL SECURITY;
CREATE POLICY aircraft_configuration_of_organization ON aircraft_configuration
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER aircraft_configuration_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON aircraft_configuration
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- An aircraft has the configuration that it says it has. Looked at when the transaction ends, as each needs the other.
ALTER TABLE aircraft ADD CONSTRAINT aircraft_revision_fkey
	FOREIGN KEY (organization, id, revision) REFERENCES aircraft_configuration (organization, aircraft, revision)
	DEFERRABLE INITIALLY DEFERRED;
