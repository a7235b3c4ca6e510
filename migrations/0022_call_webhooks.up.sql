-- Programs elsewhere hear of what happens without asking: an organization names the addresses, and each event is sent to
-- them. Events are turned into deliveries behind a place that only goes forward, so that no event is delivered twice or
-- passed over, however many servers work on it. Deliveries of one aircraft to one address are a lane: they go out one
-- after the other, in the order of their places, and no other lane waits for them.

CREATE DOMAIN webhook_state AS text CONSTRAINT webhook_state_known CHECK (VALUE IN ('on', 'off', 'broken', 'ended'));
CREATE DOMAIN delivery_state AS text CONSTRAINT delivery_state_known CHECK (VALUE IN ('pending', 'delivered', 'dead'));

CREATE TABLE webhook (
	organization uuid          NOT NULL,
	id           uuid          NOT NULL,
	url          text          NOT NULL,
	kinds        text[]        NOT NULL, -- of events, or what a kind begins with; empty: all
	aircraft     uuid, -- null: all, and what is about none
	state        webhook_state NOT NULL,
	by           text          NOT NULL,
	at           timestamptz   NOT NULL, -- when it was made
	version      integer       NOT NULL,
	CONSTRAINT webhook_pkey PRIMARY KEY (organization, id),
	CONSTRAINT webhook_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT webhook_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT webhook_version_from_one CHECK (version > 0)
);

ALTER TABLE webhook ENABLE ROW LEVEL SECURITY;
ALTER TABLE webhook FORCE ROW LEVEL SECURITY;
CREATE POLICY webhook_of_organization ON webhook
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER webhook_kept BEFORE DELETE OR TRUNCATE ON webhook FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- What deliveries are signed with. It has to be known to sign, so no digest will do: it is kept sealed under a key that is
-- not in the database. Several are good at once while receivers take over a new one.
CREATE TABLE webhook_secret (
	organization uuid        NOT NULL,
	webhook      uuid        NOT NULL,
	id           uuid        NOT NULL,
	sealed       bytea       NOT NULL,
	at           timestamptz NOT NULL,
	until        timestamptz, -- null: it is the newest
	CONSTRAINT webhook_secret_pkey PRIMARY KEY (organization, webhook, id),
	CONSTRAINT webhook_secret_webhook_fkey FOREIGN KEY (organization, webhook) REFERENCES webhook (organization, id)
);

ALTER TABLE webhook_secret ENABLE ROW LEVEL SECURITY;
ALTER TABLE webhook_secret FORCE ROW LEVEL SECURITY;
CREATE POLICY webhook_secret_of_organization ON webhook_secret
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER webhook_secret_kept BEFORE DELETE OR TRUNCATE ON webhook_secret FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- Up to which place an organization's events have become deliveries. Whoever moves it on holds its lock. An organization
-- that never made a webhook has none.
CREATE TABLE webhook_relay (
	organization uuid   NOT NULL,
	place        bigint NOT NULL,
	CONSTRAINT webhook_relay_pkey PRIMARY KEY (organization),
	CONSTRAINT webhook_relay_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id)
);

ALTER TABLE webhook_relay ENABLE ROW LEVEL SECURITY;
ALTER TABLE webhook_relay FORCE ROW LEVEL SECURITY;
CREATE POLICY webhook_relay_seen ON webhook_relay FOR SELECT USING (organization = asking_organization() OR asking_keeper());
CREATE POLICY webhook_relay_added ON webhook_relay FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY webhook_relay_moved ON webhook_relay FOR UPDATE
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER webhook_relay_kept BEFORE DELETE OR TRUNCATE ON webhook_relay FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- It refers to no row by a foreign key: what it names is never deleted, and a key would be a lock that every lane shares.
CREATE TABLE delivery (
	organization uuid           NOT NULL,
	webhook      uuid           NOT NULL,
	place        bigint         NOT NULL, -- of the event
	lane         uuid           NOT NULL, -- the aircraft; nil: it is about none
	state        delivery_state NOT NULL,
	attempts     integer        NOT NULL, -- since it was queued
	queued_at    timestamptz    NOT NULL,
	tried_at     timestamptz, -- of the last attempt
	next_at      timestamptz, -- of the next attempt; null: as soon as its turn has come, or never
	status       integer, -- HTTP status of the last answer; null: there was none
	answer       text           NOT NULL, -- how the last answer began, or why there was none
	CONSTRAINT delivery_pkey PRIMARY KEY (organization, webhook, place),
	CONSTRAINT delivery_attempts_from_zero CHECK (attempts >= 0)
);

CREATE INDEX delivery_pending ON delivery (organization, webhook, lane, place) WHERE state = 'pending';
CREATE INDEX delivery_dead ON delivery (organization, webhook, place) WHERE state = 'dead';

ALTER TABLE delivery ENABLE ROW LEVEL SECURITY;
ALTER TABLE delivery FORCE ROW LEVEL SECURITY;
CREATE POLICY delivery_of_organization ON delivery
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER delivery_kept BEFORE DELETE OR TRUNCATE ON delivery FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A lane is worked on by one holder at a time, who says until when at the latest: one that was killed is followed then.
CREATE TABLE delivery_lane (
	organization uuid NOT NULL,
	webhook      uuid NOT NULL,
	lane         uuid NOT NULL,
	due          timestamptz, -- when somebody has to look at it; null: nothing waits in it
	holder       uuid, -- null: nobody works on it
	CONSTRAINT delivery_lane_pkey PRIMARY KEY (organization, webhook, lane),
	CONSTRAINT delivery_lane_held_until CHECK (holder IS NULL OR due IS NOT NULL)
);

CREATE INDEX delivery_lane_due ON delivery_lane (due) WHERE due IS NOT NULL;

ALTER TABLE delivery_lane ENABLE ROW LEVEL SECURITY;
ALTER TABLE delivery_lane FORCE ROW LEVEL SECURITY;
CREATE POLICY delivery_lane_seen ON delivery_lane FOR SELECT USING (organization = asking_organization() OR asking_keeper());
CREATE POLICY delivery_lane_added ON delivery_lane FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY delivery_lane_moved ON delivery_lane FOR UPDATE
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER delivery_lane_kept BEFORE DELETE OR TRUNCATE ON delivery_lane FOR EACH STATEMENT EXECUTE FUNCTION refuse();
