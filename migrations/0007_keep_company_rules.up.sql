-- What an organization asks beyond the regulation, and how it reads it where it leaves a choice. A version is never
-- changed, only followed by the next. And determinations as they were given: with the book that was read and everything
-- that it was read against, so that they can be worked out again to the last letter.

CREATE TABLE company_rules (
	organization uuid        NOT NULL,
	version      integer     NOT NULL,
	rules        jsonb       NOT NULL,
	policy       jsonb       NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	CONSTRAINT company_rules_pkey PRIMARY KEY (organization, version),
	CONSTRAINT company_rules_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT company_rules_version_counts CHECK (version > 0)
);

ALTER TABLE company_rules ENABLE ROW LEVEL SECURITY;
ALTER TABLE company_rules FORCE ROW LEVEL SECURITY;
CREATE POLICY company_rules_of_organization ON company_rules
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER company_rules_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON company_rules
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE determination (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL,
	flight       uuid        NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	verdict      verdict     NOT NULL,
	record       text        NOT NULL, -- JSON, kept letter by letter
	CONSTRAINT determination_pkey PRIMARY KEY (organization, id),
	CONSTRAINT determination_flight_fkey FOREIGN KEY (organization, flight) REFERENCES flight (organization, id)
);

CREATE INDEX determination_of_flight ON determination (organization, flight, id);

ALTER TABLE determination ENABLE ROW LEVEL SECURITY;
ALTER TABLE determination FORCE ROW LEVEL SECURITY;
CREATE POLICY determination_of_organization ON determination
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER determination_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON determination
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
