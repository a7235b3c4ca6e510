-- What people are told: what each of them wants to hear of, the notes that were written to them, and what they were warned
-- of ahead. Nothing here bears on any flight: whoever hears of nothing loses no record.

CREATE DOMAIN note_kind AS text CONSTRAINT note_kind_known CHECK (VALUE IN (
	'flight-held', 'flight-released', 'squawk-filed', 'due-ahead', 'digest'));
CREATE DOMAIN note_state AS text CONSTRAINT note_state_known CHECK (VALUE IN ('waiting', 'sent', 'dead', 'dropped', 'empty'));

-- How many days ahead an organization's people are warned. A version is never changed, only followed by the next.
CREATE TABLE warning_leads (
	organization uuid        NOT NULL,
	version      integer     NOT NULL,
	days         integer[]   NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	CONSTRAINT warning_leads_pkey PRIMARY KEY (organization, version),
	CONSTRAINT warning_leads_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT warning_leads_version_counts CHECK (version > 0),
	CONSTRAINT warning_leads_range CHECK (cardinality(days) <= 10 AND 0 <= ALL (days) AND 365 >= ALL (days))
);

ALTER TABLE warning_leads ENABLE ROW LEVEL SECURITY;
ALTER TABLE warning_leads FORCE ROW LEVEL SECURITY;
CREATE POLICY warning_leads_of_organization ON warning_leads
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER warning_leads_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON warning_leads
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A thing of an aircraft that comes due on a day, told ahead: once for each day that it is due on and each lead, however
-- often or late it is looked.
CREATE TABLE warning (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL,
	aircraft     uuid        NOT NULL,
	thing        text        NOT NULL, -- what comes due: upkeep:annual, paper:registration, deferral:ID, row:ID
	due          date        NOT NULL,
	days         integer     NOT NULL, -- until then, when it was told
	lead         integer     NOT NULL, -- days ahead, of those that the organization has set
	what         text        NOT NULL, -- in words
	says         text        NOT NULL,
	squawk       uuid,                 -- of a deferral
	flights      uuid[]      NOT NULL, -- planned flights that it stops, of a row that comes into force
	at           timestamptz NOT NULL,
	CONSTRAINT warning_pkey PRIMARY KEY (organization, id),
	CONSTRAINT warning_given_once UNIQUE (organization, aircraft, thing, due, lead),
	CONSTRAINT warning_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT warning_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk (organization, id)
);

ALTER TABLE warning ENABLE ROW LEVEL SECURITY;
ALTER TABLE warning FORCE ROW LEVEL SECURITY;
CREATE POLICY warning_of_organization ON warning
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER warning_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON warning FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- What a member wants to hear of. Whoever has no row hears of what his or her roles do.
CREATE TABLE notice_preference (
	organization uuid        NOT NULL,
	person       uuid        NOT NULL,
	version      integer     NOT NULL,
	document     jsonb       NOT NULL,
	at           timestamptz NOT NULL,
	CONSTRAINT notice_preference_pkey PRIMARY KEY (organization, person),
	CONSTRAINT notice_preference_person_fkey FOREIGN KEY (organization, person) REFERENCES membership (organization, person)
);

ALTER TABLE notice_preference ENABLE ROW LEVEL SECURITY;
ALTER TABLE notice_preference FORCE ROW LEVEL SECURITY;
CREATE POLICY notice_preference_of_organization ON notice_preference
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER notice_preference_kept BEFORE DELETE OR TRUNCATE ON notice_preference FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER notice_preference_moves_by_versions BEFORE UPDATE ON notice_preference
	FOR EACH ROW WHEN (NEW.version <> OLD.version + 1) EXECUTE FUNCTION refuse();

-- Where the writing of notes has come to among an organization's events.
CREATE TABLE note_cursor (
	organization uuid   NOT NULL,
	place        bigint NOT NULL,
	CONSTRAINT note_cursor_pkey PRIMARY KEY (organization),
	CONSTRAINT note_cursor_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id)
);

ALTER TABLE note_cursor ENABLE ROW LEVEL SECURITY;
ALTER TABLE note_cursor FORCE ROW LEVEL SECURITY;
CREATE POLICY note_cursor_of_organization ON note_cursor
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER note_cursor_kept BEFORE DELETE OR TRUNCATE ON note_cursor FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER note_cursor_goes_on BEFORE UPDATE ON note_cursor
	FOR EACH ROW WHEN (NEW.place < OLD.place) EXECUTE FUNCTION refuse();

-- A note to one person, of one cause: an event, or the digest of a day. It is written once, and sent at least once.
CREATE TABLE note (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL,
	person       uuid        NOT NULL,
	cause        text        NOT NULL, -- event:ID or digest:YYYY-MM-DD
	kind         note_kind   NOT NULL,
	letter       jsonb,                -- null: there was nothing to tell
	departs      timestamptz,          -- when the first flight departs that it says is held
	place        bigint      NOT NULL, -- of the last event that it tells of
	at           timestamptz NOT NULL,
	state        note_state  NOT NULL,
	due_at       timestamptz NOT NULL, -- when it was to be sent first
	next_at      timestamptz NOT NULL, -- when it is sent, or tried again
	attempts     integer     NOT NULL,
	sent_at      timestamptz,
	trace        text        NOT NULL, -- what came of the last attempt
	CONSTRAINT note_pkey PRIMARY KEY (organization, id),
	CONSTRAINT note_written_once UNIQUE (organization, person, cause),
	CONSTRAINT note_person_fkey FOREIGN KEY (organization, person) REFERENCES membership (organization, person),
	CONSTRAINT note_says_something CHECK ((letter IS NULL) = (state = 'empty')),
	CONSTRAINT note_sent_at_an_instant CHECK ((sent_at IS NOT NULL) = (state = 'sent'))
);

CREATE INDEX note_to_send ON note (organization, next_at, id) WHERE state = 'waiting';
CREATE INDEX note_digests ON note (organization, person, at) WHERE kind = 'digest';

ALTER TABLE note ENABLE ROW LEVEL SECURITY;
ALTER TABLE note FORCE ROW LEVEL SECURITY;
CREATE POLICY note_of_organization ON note
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER note_kept BEFORE DELETE OR TRUNCATE ON note FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER note_words_kept BEFORE UPDATE OF organization, id, person, cause, kind, letter, departs, place, at ON note
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER note_ends_once BEFORE UPDATE ON note
	FOR EACH ROW WHEN (OLD.state <> 'waiting') EXECUTE FUNCTION refuse();

-- Links with which whoever has a mail stops such mail, without signing in: found by the digest of what they hold.
CREATE TABLE stop_link (
	digest       bytea       NOT NULL,
	organization uuid        NOT NULL,
	person       uuid        NOT NULL,
	kind         note_kind,            -- null: every kind
	at           timestamptz NOT NULL,
	CONSTRAINT stop_link_pkey PRIMARY KEY (digest),
	CONSTRAINT stop_link_person_fkey FOREIGN KEY (organization, person) REFERENCES membership (organization, person),
	CONSTRAINT stop_link_digest_is_sha256 CHECK (octet_length(digest) = 32)
);

ALTER TABLE stop_link ENABLE ROW LEVEL SECURITY;
ALTER TABLE stop_link FORCE ROW LEVEL SECURITY;
CREATE POLICY stop_link_seen ON stop_link FOR SELECT USING (digest = presented_digest());
CREATE POLICY stop_link_added ON stop_link FOR INSERT WITH CHECK (organization = asking_organization());
CREATE TRIGGER stop_link_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON stop_link FOR EACH STATEMENT EXECUTE FUNCTION refuse();
