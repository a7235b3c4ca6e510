-- What others must hear of, written in the transaction that makes it so: an event cannot be lost, and none tells of what
-- was rolled back. Neither table refers to another by a foreign key: the rows copy what their own transaction has just
-- written, and a key on the organization or the token would be a lock that every writer of a club has to share.

CREATE TABLE event (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL,
	kind         text        NOT NULL,
	aircraft     uuid, -- null: it is about no aircraft
	subject      uuid        NOT NULL,
	at           timestamptz NOT NULL,
	changes      jsonb       NOT NULL, -- flights whose verdict changed
	CONSTRAINT event_pkey PRIMARY KEY (organization, id)
);

ALTER TABLE event ENABLE ROW LEVEL SECURITY;
ALTER TABLE event FORCE ROW LEVEL SECURITY;
CREATE POLICY event_of_organization ON event
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER event_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON event
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- The first answer to a request that may be sent twice.
CREATE TABLE idempotency (
	organization uuid        NOT NULL,
	token        uuid        NOT NULL,
	key          text        NOT NULL,
	request      bytea       NOT NULL, -- SHA-256 digest
	answer       bytea       NOT NULL,
	at           timestamptz NOT NULL,
	CONSTRAINT idempotency_pkey PRIMARY KEY (organization, token, key)
);

ALTER TABLE idempotency ENABLE ROW LEVEL SECURITY;
ALTER TABLE idempotency FORCE ROW LEVEL SECURITY;
CREATE POLICY idempotency_of_organization ON idempotency
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
