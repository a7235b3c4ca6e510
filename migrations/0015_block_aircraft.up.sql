-- What people set beside the holds: an aircraft is blocked for a time, and the pilot in command was shown a hold.

CREATE DOMAIN block_kind AS text CONSTRAINT block_kind_known CHECK (VALUE IN ('maintenance', 'away', 'reserved', 'other'));

CREATE TABLE block (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL,
	aircraft     uuid        NOT NULL,
	begins       timestamptz NOT NULL,
	ends         timestamptz,          -- null: until further notice
	kind         block_kind  NOT NULL,
	words        text        NOT NULL,
	by           text        NOT NULL, -- who made it
	at           timestamptz NOT NULL,
	cancelled    boolean     NOT NULL,
	version      integer     NOT NULL,
	CONSTRAINT block_pkey PRIMARY KEY (organization, id),
	CONSTRAINT block_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT block_window CHECK (ends > begins),
	CONSTRAINT block_words_given CHECK (words ~ '\S')
);

CREATE INDEX block_of_aircraft ON block (organization, aircraft, ends) WHERE NOT cancelled;

ALTER TABLE block ENABLE ROW LEVEL SECURITY;
ALTER TABLE block FORCE ROW LEVEL SECURITY;
CREATE POLICY block_of_organization ON block
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER block_kept BEFORE DELETE OR TRUNCATE ON block FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- The blocks that hold a flight are part of its hold, worked out by whoever changes one or the other.
ALTER TABLE flight ADD COLUMN hold_blocks uuid[] NOT NULL DEFAULT '{}';

-- That somebody was shown what holds a flight, or limits it, letter by letter as it was.
CREATE TABLE flight_shown (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL,
	flight       uuid        NOT NULL,
	person       uuid        NOT NULL, -- who was shown it
	name         text        NOT NULL, -- of that person, as it was then
	at           timestamptz NOT NULL,
	by           text        NOT NULL, -- who says so
	verdict      verdict     NOT NULL,
	shown        text        NOT NULL,
	CONSTRAINT flight_shown_pkey PRIMARY KEY (organization, id),
	CONSTRAINT flight_shown_flight_fkey FOREIGN KEY (organization, flight) REFERENCES flight (organization, id)
);

CREATE INDEX flight_shown_of_flight ON flight_shown (organization, flight, id);

ALTER TABLE flight_shown ENABLE ROW LEVEL SECURITY;
ALTER TABLE flight_shown FORCE ROW LEVEL SECURITY;
CREATE POLICY flight_shown_of_organization ON flight_shown
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER flight_shown_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON flight_shown
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- Flights that were planned as one series have its identifier; each is a flight of its own.
ALTER TABLE flight ADD COLUMN series uuid; -- null: it is of none
CREATE INDEX flight_of_series ON flight (organization, series, departs) WHERE series IS NOT NULL;
