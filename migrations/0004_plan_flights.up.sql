-- Intended flights with what holds them. The hold is derived from the records and kept, so that a list of held flights
-- costs nothing; whoever changes a record that bears on it decides it anew in the same transaction.

CREATE DOMAIN flight_rules AS text CONSTRAINT flight_rules_known CHECK (VALUE IN ('', 'vfr', 'ifr'));
CREATE DOMAIN flight_state AS text CONSTRAINT flight_state_known CHECK (VALUE IN ('planned', 'cancelled'));
CREATE DOMAIN verdict AS text CONSTRAINT verdict_known
	CHECK (VALUE IN ('undetermined', 'clear', 'limited', 'defer-first', 'grounded'));

CREATE TABLE flight (
	organization           uuid        NOT NULL,
	id                     uuid        NOT NULL,
	aircraft               uuid        NOT NULL,
	from_base              uuid        NOT NULL,
	to_base                uuid        NOT NULL,
	departs                timestamptz NOT NULL,
	arrives                timestamptz NOT NULL,
	rules                  flight_rules NOT NULL, -- empty: not said
	facts                  jsonb       NOT NULL,
	purpose                text        NOT NULL,
	state                  flight_state NOT NULL,
	planned_by             text        NOT NULL,
	light_day              boolean, -- null: not known, as with the next three
	light_night            boolean,
	light_sunset_to_sunrise boolean,
	in_alaska              boolean,
	zone                   text        NOT NULL,
	hold_verdict           verdict     NOT NULL,
	hold_rows              text[]      NOT NULL,
	hold_rules             text        NOT NULL, -- digest of the book that was read
	hold_at                timestamptz NOT NULL,
	version                integer     NOT NULL,
	CONSTRAINT flight_pkey PRIMARY KEY (organization, id),
	CONSTRAINT flight_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT flight_from_fkey FOREIGN KEY (organization, from_base) REFERENCES base (organization, id),
	CONSTRAINT flight_to_fkey FOREIGN KEY (organization, to_base) REFERENCES base (organization, id),
	CONSTRAINT flight_window CHECK (arrives > departs)
) WITH (fillfactor = 70); -- holds are rewritten in place

CREATE INDEX flight_planned ON flight (organization, aircraft, arrives) WHERE state = 'planned';
CREATE INDEX flight_to_come ON flight (organization, arrives) WHERE state = 'planned';

ALTER TABLE flight ENABLE ROW LEVEL SECURITY;
ALTER TABLE flight FORCE ROW LEVEL SECURITY;
CREATE POLICY flight_of_organization ON flight
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER flight_kept BEFORE DELETE OR TRUNCATE ON flight FOR EACH STATEMENT EXECUTE FUNCTION refuse();
