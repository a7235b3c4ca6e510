-- Calendars that programs subscribe to, each at a secret address, and what lets them and other programs see what is new of
-- a flight. A calendar is one that a member has made, and is dead once the member has left. Its secret is kept as a digest:
-- nobody gets in with what is read off this table. Nothing is deleted: a calendar is taken back.

CREATE TABLE calendar_feed (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL,
	digest       bytea       NOT NULL, -- SHA-256 of the secret
	name         text        NOT NULL,
	aircraft     uuid,                 -- null: the whole fleet
	maker        uuid        NOT NULL,
	at           timestamptz NOT NULL,
	CONSTRAINT calendar_feed_pkey PRIMARY KEY (organization, id),
	CONSTRAINT calendar_feed_digest_key UNIQUE (digest),
	CONSTRAINT calendar_feed_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT calendar_feed_maker_fkey FOREIGN KEY (organization, maker) REFERENCES membership (organization, person),
	CONSTRAINT calendar_feed_digest_is_sha256 CHECK (octet_length(digest) = 32),
	CONSTRAINT calendar_feed_name_given CHECK (name ~ '\S')
);

ALTER TABLE calendar_feed ENABLE ROW LEVEL SECURITY;
ALTER TABLE calendar_feed FORCE ROW LEVEL SECURITY;
CREATE POLICY calendar_feed_seen ON calendar_feed FOR SELECT USING (organization = asking_organization() OR digest = presented_digest());
CREATE POLICY calendar_feed_added ON calendar_feed FOR INSERT WITH CHECK (organization = asking_organization());
CREATE TRIGGER calendar_feed_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON calendar_feed
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A calendar that is taken back stays so.
CREATE TABLE calendar_feed_revocation (
	organization uuid        NOT NULL,
	feed         uuid        NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	CONSTRAINT calendar_feed_revocation_pkey PRIMARY KEY (organization, feed),
	CONSTRAINT calendar_feed_revocation_feed_fkey FOREIGN KEY (organization, feed) REFERENCES calendar_feed (organization, id)
);

ALTER TABLE calendar_feed_revocation ENABLE ROW LEVEL SECURITY;
ALTER TABLE calendar_feed_revocation FORCE ROW LEVEL SECURITY;
CREATE POLICY calendar_feed_revocation_of_organization ON calendar_feed_revocation
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER calendar_feed_revocation_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON calendar_feed_revocation
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A flight's version counts what people changed of it. Its hold changes besides: sequence counts both, and changed_at is the
-- instant of the change that did the last. No index has them, so that holds go on being rewritten in place. Flights from
-- before take the instant of their hold.
ALTER TABLE flight
	ADD COLUMN sequence   integer NOT NULL DEFAULT 1,
	ADD COLUMN changed_at timestamptz;
ALTER TABLE flight
	ALTER COLUMN changed_at TYPE timestamptz USING hold_at,
	ALTER COLUMN changed_at SET DEFAULT now(),
	ALTER COLUMN changed_at SET NOT NULL;

CREATE INDEX flight_called_off ON flight (organization, arrives) WHERE state = 'cancelled';
CREATE INDEX flight_of_aircraft ON flight (organization, aircraft);
