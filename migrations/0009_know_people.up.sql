-- Who people are, what they are in which organization, and how they prove it. A person is one, however many
-- organizations he or she is in: so accounts, and everything secret, belong to the person alone. What leads to a row is
-- what was presented: the person that is known to ask, the digest of an e-mail address or of a secret. An organization
-- sees of a person only the membership, and the address that it knows already.
--
-- Secrets are digests here (SHA-256 of 256 random bits, or argon2id of a password): nobody gets in with what is read
-- off this table. Nothing is deleted: a session ends, a token is taken back, a passkey is removed, each at an instant.

-- The person that is known to ask.
CREATE FUNCTION asking_person() RETURNS uuid
LANGUAGE sql STABLE PARALLEL SAFE
RETURN nullif(current_setting('tiedown.person', true), '')::uuid;

-- The digest of the e-mail address that somebody presents who is not known yet.
CREATE FUNCTION presented_email() RETURNS bytea
LANGUAGE sql STABLE PARALLEL SAFE
RETURN decode(nullif(current_setting('tiedown.email', true), ''), 'hex');

-- The digest of the network address that a request comes from.
CREATE FUNCTION presented_address() RETURNS bytea
LANGUAGE sql STABLE PARALLEL SAFE
RETURN decode(nullif(current_setting('tiedown.address', true), ''), 'hex');

CREATE DOMAIN security_event_kind AS text CONSTRAINT security_event_kind_known CHECK (VALUE IN (
	'signed-in', 'sign-in-failed', 'locked', 'proof-failed', 'password-set', 'password-link-made', 'passkey-added', 'passkey-removed',
	'recovery-codes-made', 'recovery-code-used', 'identity-linked', 'session-ended', 'token-made', 'token-revoked',
	'member-added', 'member-changed', 'member-ended'));
CREATE DOMAIN challenge_purpose AS text CONSTRAINT challenge_purpose_known CHECK (VALUE IN ('sign-in', 'register', 'proof'));

CREATE TABLE account (
	id           uuid        NOT NULL,
	email        text        NOT NULL, -- as it was written
	email_digest bytea       NOT NULL, -- of the address in small letters
	name         text        NOT NULL,
	at           timestamptz NOT NULL,
	CONSTRAINT account_pkey PRIMARY KEY (id),
	CONSTRAINT account_email_key UNIQUE (email_digest),
	CONSTRAINT account_email_given CHECK (email ~ '\S'),
	CONSTRAINT account_email_digest_is_sha256 CHECK (octet_length(email_digest) = 32),
	CONSTRAINT account_name_given CHECK (name ~ '\S')
);

-- What a person is in an organization, as it stands. Every version has the entry of its number, which says who made it.
CREATE TABLE membership (
	organization uuid        NOT NULL,
	person       uuid        NOT NULL,
	name         text        NOT NULL, -- by which the organization knows the person
	roles        role[]      NOT NULL,
	since        timestamptz NOT NULL,
	until        timestamptz,          -- null: it lasts
	version      integer     NOT NULL,
	CONSTRAINT membership_pkey PRIMARY KEY (organization, person),
	CONSTRAINT membership_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT membership_person_fkey FOREIGN KEY (person) REFERENCES account (id),
	CONSTRAINT membership_name_given CHECK (name ~ '\S'),
	CONSTRAINT membership_roles_given CHECK (cardinality(roles) > 0),
	CONSTRAINT membership_ends_later CHECK (until >= since)
);

CREATE INDEX membership_of_person ON membership (person);

ALTER TABLE membership ENABLE ROW LEVEL SECURITY;
ALTER TABLE membership FORCE ROW LEVEL SECURITY;
CREATE POLICY membership_seen ON membership FOR SELECT USING (organization = asking_organization() OR person = asking_person());
CREATE POLICY membership_added ON membership FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY membership_changed ON membership FOR UPDATE
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER membership_kept BEFORE DELETE OR TRUNCATE ON membership FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER membership_moves_by_versions BEFORE UPDATE ON membership
	FOR EACH ROW WHEN (NEW.version <> OLD.version + 1) EXECUTE FUNCTION refuse();

ALTER TABLE account ENABLE ROW LEVEL SECURITY;
ALTER TABLE account FORCE ROW LEVEL SECURITY;
CREATE POLICY account_seen ON account FOR SELECT USING (
	id = asking_person() OR email_digest = presented_email()
	OR EXISTS (SELECT FROM membership m WHERE m.organization = asking_organization() AND m.person = account.id));
CREATE POLICY account_added ON account FOR INSERT WITH CHECK (email_digest = presented_email());
CREATE TRIGGER account_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON account
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE membership_history (
	organization uuid        NOT NULL,
	person       uuid        NOT NULL,
	number       integer     NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	name         text        NOT NULL,
	roles        role[]      NOT NULL,
	until        timestamptz,
	CONSTRAINT membership_history_pkey PRIMARY KEY (organization, person, number),
	CONSTRAINT membership_history_person_fkey FOREIGN KEY (organization, person) REFERENCES membership (organization, person)
);

ALTER TABLE membership_history ENABLE ROW LEVEL SECURITY;
ALTER TABLE membership_history FORCE ROW LEVEL SECURITY;
CREATE POLICY membership_history_of_organization ON membership_history
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER membership_history_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON membership_history
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
ALTER TABLE membership ADD CONSTRAINT membership_entry_fkey
	FOREIGN KEY (organization, person, version) REFERENCES membership_history (organization, person, number)
	DEFERRABLE INITIALLY DEFERRED;

-- An organization that has had an administrator keeps one. Two administrators may end each other at the same moment:
-- the lock lets them through one after the other, and the second then sees what the first has done.
CREATE FUNCTION keep_an_administrator() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	PERFORM pg_advisory_xact_lock(hashtextextended('administrators of ' || OLD.organization, 0));
	IF NOT EXISTS (SELECT FROM membership m
			WHERE m.organization = OLD.organization AND m.until IS NULL AND 'administrator' = ANY (m.roles::text[])) THEN
		RAISE EXCEPTION 'the organization would be without an administrator'
			USING ERRCODE = 'restrict_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN NULL;
END $$;
CREATE TRIGGER membership_last_administrator AFTER UPDATE ON membership FOR EACH ROW
	WHEN (OLD.until IS NULL AND 'administrator' = ANY (OLD.roles::text[])
		AND (NEW.until IS NOT NULL OR NOT 'administrator' = ANY (NEW.roles::text[])))
	EXECUTE FUNCTION keep_an_administrator();

-- A person sees the names of the organizations that he or she is in.
CREATE POLICY organization_of_person ON organization FOR SELECT USING (
	EXISTS (SELECT FROM membership m WHERE m.organization = organization.id AND m.person = asking_person()));

-- Tokens of programs. One that a person made is good for what the person is at the time of its use, and no longer than
-- the membership; one of the program's own (maker null) is good for its roles.
ALTER TABLE token ALTER COLUMN role TYPE role[] USING ARRAY[role];
ALTER TABLE token RENAME COLUMN role TO roles;
ALTER TABLE token
	ADD COLUMN maker      uuid,
	ADD COLUMN own        boolean NOT NULL DEFAULT false, -- it stands for the person, not for a program
	ADD COLUMN actions    text[],                         -- null: everything that its roles may
	ADD COLUMN made_at    timestamptz,
	ADD COLUMN until      timestamptz,                    -- null: it does not run out
	ADD CONSTRAINT token_maker_fkey FOREIGN KEY (organization, maker) REFERENCES membership (organization, person),
	ADD CONSTRAINT token_roles_given CHECK (cardinality(roles) > 0),
	ADD CONSTRAINT token_of_a_person_ends CHECK (maker IS NULL OR until IS NOT NULL AND made_at IS NOT NULL),
	ADD CONSTRAINT token_ends_within_a_year CHECK (until <= made_at + interval '366 days'),
	ADD CONSTRAINT token_own_has_a_maker CHECK (NOT own OR maker IS NOT NULL);
CREATE TRIGGER token_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON token FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A token that is taken back stays so.
CREATE TABLE token_revocation (
	organization uuid        NOT NULL,
	token        uuid        NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	CONSTRAINT token_revocation_pkey PRIMARY KEY (organization, token),
	CONSTRAINT token_revocation_token_fkey FOREIGN KEY (organization, token) REFERENCES token (organization, id)
);

ALTER TABLE token_revocation ENABLE ROW LEVEL SECURITY;
ALTER TABLE token_revocation FORCE ROW LEVEL SECURITY;
CREATE POLICY token_revocation_of_organization ON token_revocation
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER token_revocation_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON token_revocation
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A password is seen by whoever presents the e-mail address that it belongs to, and by its person. No organization does.
CREATE TABLE password (
	person uuid        NOT NULL,
	phc    text        NOT NULL, -- argon2id in the PHC form: parameters, salt and hash
	at     timestamptz NOT NULL,
	CONSTRAINT password_pkey PRIMARY KEY (person),
	CONSTRAINT password_person_fkey FOREIGN KEY (person) REFERENCES account (id),
	CONSTRAINT password_is_hashed CHECK (phc ~ '^\$argon2id\$v=19\$m=\d+,t=\d+,p=\d+\$[A-Za-z0-9+/]{22,}\$[A-Za-z0-9+/]{43,}$')
);

ALTER TABLE password ENABLE ROW LEVEL SECURITY;
ALTER TABLE password FORCE ROW LEVEL SECURITY;
CREATE POLICY password_seen ON password FOR SELECT USING (
	person = asking_person()
	OR EXISTS (SELECT FROM account a WHERE a.id = password.person AND a.email_digest = presented_email()));
CREATE POLICY password_added ON password FOR INSERT WITH CHECK (person = asking_person());
CREATE POLICY password_changed ON password FOR UPDATE USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE TRIGGER password_kept BEFORE DELETE OR TRUNCATE ON password FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A link with which its bearer sets the password once, made by an administrator for a member, or by the program.
CREATE TABLE password_link (
	digest  bytea       NOT NULL,
	person  uuid        NOT NULL,
	at      timestamptz NOT NULL,
	until   timestamptz NOT NULL,
	used_at timestamptz,
	first   boolean     NOT NULL, -- good only while there is no other way in
	CONSTRAINT password_link_pkey PRIMARY KEY (digest),
	CONSTRAINT password_link_person_fkey FOREIGN KEY (person) REFERENCES account (id),
	CONSTRAINT password_link_digest_is_sha256 CHECK (octet_length(digest) = 32)
);

CREATE INDEX password_link_of_person ON password_link (person);

ALTER TABLE password_link ENABLE ROW LEVEL SECURITY;
ALTER TABLE password_link FORCE ROW LEVEL SECURITY;
CREATE POLICY password_link_seen ON password_link FOR SELECT USING (digest = presented_digest() OR person = asking_person());
CREATE POLICY password_link_added ON password_link FOR INSERT WITH CHECK (
	person = asking_person()
	OR EXISTS (SELECT FROM membership m WHERE m.organization = asking_organization() AND m.person = password_link.person)
	OR EXISTS (SELECT FROM account a WHERE a.id = password_link.person AND a.email_digest = presented_email() AND asking_keeper()));
CREATE POLICY password_link_used ON password_link FOR UPDATE
	USING (digest = presented_digest() OR person = asking_person()) WITH CHECK (person = asking_person());
CREATE TRIGGER password_link_kept BEFORE DELETE OR TRUNCATE ON password_link FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER password_link_made_kept BEFORE UPDATE OF digest, person, at, until, first ON password_link
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER password_link_stays_used BEFORE UPDATE ON password_link
	FOR EACH ROW WHEN (OLD.used_at IS NOT NULL) EXECUTE FUNCTION refuse();

-- A session belongs to a person, and acts in one organization at a time.
CREATE TABLE session (
	person       uuid        NOT NULL,
	id           uuid        NOT NULL,
	digest       bytea       NOT NULL,
	organization uuid,                 -- null: none is chosen
	began        timestamptz NOT NULL,
	seen         timestamptz NOT NULL,
	until        timestamptz NOT NULL, -- whatever happens
	ended_at     timestamptz,
	factor       text        NOT NULL, -- how the person signed in
	agent        text        NOT NULL, -- what the browser calls itself
	address      text        NOT NULL,
	CONSTRAINT session_pkey PRIMARY KEY (person, id),
	CONSTRAINT session_digest_key UNIQUE (digest),
	CONSTRAINT session_person_fkey FOREIGN KEY (person) REFERENCES account (id),
	CONSTRAINT session_organization_fkey FOREIGN KEY (organization, person) REFERENCES membership (organization, person),
	CONSTRAINT session_digest_is_sha256 CHECK (octet_length(digest) = 32)
);

ALTER TABLE session ENABLE ROW LEVEL SECURITY;
ALTER TABLE session FORCE ROW LEVEL SECURITY;
CREATE POLICY session_seen ON session FOR SELECT USING (person = asking_person() OR digest = presented_digest());
CREATE POLICY session_added ON session FOR INSERT WITH CHECK (person = asking_person());
CREATE POLICY session_changed ON session FOR UPDATE USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE TRIGGER session_kept BEFORE DELETE OR TRUNCATE ON session FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER session_made_kept BEFORE UPDATE OF person, id, digest, organization, began, until, factor, agent, address ON session
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER session_stays_ended BEFORE UPDATE ON session
	FOR EACH ROW WHEN (OLD.ended_at IS NOT NULL) EXECUTE FUNCTION refuse();

-- Attempts to get in, by the digest of the e-mail address, known or not, and of the network address.
CREATE TABLE attempt (
	subject  bytea       NOT NULL,
	failures integer     NOT NULL,
	at       timestamptz NOT NULL,
	until    timestamptz NOT NULL, -- no attempt counts before
	CONSTRAINT attempt_pkey PRIMARY KEY (subject),
	CONSTRAINT attempt_subject_is_sha256 CHECK (octet_length(subject) = 32)
);

ALTER TABLE attempt ENABLE ROW LEVEL SECURITY;
ALTER TABLE attempt FORCE ROW LEVEL SECURITY;
CREATE POLICY attempt_presented ON attempt
	USING (subject = presented_email() OR subject = presented_address())
	WITH CHECK (subject = presented_email() OR subject = presented_address());
CREATE TRIGGER attempt_kept BEFORE DELETE OR TRUNCATE ON attempt FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE passkey (
	person     uuid        NOT NULL,
	id         uuid        NOT NULL,
	handle     bytea       NOT NULL, -- what the authenticator calls it
	name       text        NOT NULL,
	record     jsonb       NOT NULL, -- public key, counter and what else is needed to check an answer
	version    integer     NOT NULL, -- counts uses: of two answers with one counter, one is refused
	added_at   timestamptz NOT NULL,
	used_at    timestamptz,
	removed_at timestamptz,
	CONSTRAINT passkey_pkey PRIMARY KEY (person, id),
	CONSTRAINT passkey_handle_key UNIQUE (handle),
	CONSTRAINT passkey_person_fkey FOREIGN KEY (person) REFERENCES account (id),
	CONSTRAINT passkey_name_given CHECK (name ~ '\S')
);

ALTER TABLE passkey ENABLE ROW LEVEL SECURITY;
ALTER TABLE passkey FORCE ROW LEVEL SECURITY;
CREATE POLICY passkey_of_person ON passkey USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE TRIGGER passkey_kept BEFORE DELETE OR TRUNCATE ON passkey FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER passkey_made_kept BEFORE UPDATE OF person, id, handle, name, added_at ON passkey
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER passkey_stays_removed BEFORE UPDATE ON passkey
	FOR EACH ROW WHEN (OLD.removed_at IS NOT NULL) EXECUTE FUNCTION refuse();

-- Codes on paper for the day when the passkey is lost. Each is good once.
CREATE TABLE recovery_code (
	person  uuid        NOT NULL,
	digest  bytea       NOT NULL,
	at      timestamptz NOT NULL,
	used_at timestamptz, -- or given up for a new set
	CONSTRAINT recovery_code_pkey PRIMARY KEY (person, digest),
	CONSTRAINT recovery_code_person_fkey FOREIGN KEY (person) REFERENCES account (id),
	CONSTRAINT recovery_code_digest_is_sha256 CHECK (octet_length(digest) = 32)
);

ALTER TABLE recovery_code ENABLE ROW LEVEL SECURITY;
ALTER TABLE recovery_code FORCE ROW LEVEL SECURITY;
CREATE POLICY recovery_code_of_person ON recovery_code USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE TRIGGER recovery_code_kept BEFORE DELETE OR TRUNCATE ON recovery_code FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER recovery_code_made_kept BEFORE UPDATE OF person, digest, at ON recovery_code
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER recovery_code_stays_used BEFORE UPDATE ON recovery_code
	FOR EACH ROW WHEN (OLD.used_at IS NOT NULL) EXECUTE FUNCTION refuse();

-- What a passkey is asked to answer: good once, for a few minutes, for one purpose, and a proof for one digest.
CREATE TABLE challenge (
	person  uuid              NOT NULL,
	id      uuid              NOT NULL,
	ticket  bytea,            -- digest of what somebody presents who is half signed in
	purpose challenge_purpose NOT NULL,
	about   bytea,            -- of what is signed
	state   jsonb,            -- what the check of the answer needs; null: there is no passkey
	at      timestamptz       NOT NULL,
	until   timestamptz       NOT NULL,
	used_at timestamptz,
	CONSTRAINT challenge_pkey PRIMARY KEY (person, id),
	CONSTRAINT challenge_ticket_key UNIQUE (ticket),
	CONSTRAINT challenge_person_fkey FOREIGN KEY (person) REFERENCES account (id),
	CONSTRAINT challenge_proof_is_about_a_digest CHECK ((purpose = 'proof') = (octet_length(about) IS NOT DISTINCT FROM 32)),
	CONSTRAINT challenge_sign_in_has_a_ticket CHECK ((purpose = 'sign-in') = (octet_length(ticket) IS NOT DISTINCT FROM 32))
);

ALTER TABLE challenge ENABLE ROW LEVEL SECURITY;
ALTER TABLE challenge FORCE ROW LEVEL SECURITY;
CREATE POLICY challenge_seen ON challenge FOR SELECT USING (person = asking_person() OR ticket = presented_digest());
CREATE POLICY challenge_added ON challenge FOR INSERT WITH CHECK (person = asking_person());
CREATE POLICY challenge_used ON challenge FOR UPDATE USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE TRIGGER challenge_kept BEFORE DELETE OR TRUNCATE ON challenge FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER challenge_made_kept BEFORE UPDATE OF person, id, ticket, purpose, about, state, at, until ON challenge
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER challenge_stays_used BEFORE UPDATE ON challenge
	FOR EACH ROW WHEN (OLD.used_at IS NOT NULL) EXECUTE FUNCTION refuse();

-- Who a person is to another provider of identity: by issuer and subject, which a provider never gives to another.
CREATE TABLE linked_identity (
	digest  bytea       NOT NULL, -- of issuer and subject
	person  uuid        NOT NULL,
	issuer  text        NOT NULL,
	subject text        NOT NULL,
	at      timestamptz NOT NULL,
	CONSTRAINT linked_identity_pkey PRIMARY KEY (digest),
	CONSTRAINT linked_identity_person_fkey FOREIGN KEY (person) REFERENCES account (id),
	CONSTRAINT linked_identity_digest_is_sha256 CHECK (octet_length(digest) = 32)
);

CREATE INDEX linked_identity_of_person ON linked_identity (person);

ALTER TABLE linked_identity ENABLE ROW LEVEL SECURITY;
ALTER TABLE linked_identity FORCE ROW LEVEL SECURITY;
CREATE POLICY linked_identity_seen ON linked_identity FOR SELECT USING (person = asking_person() OR digest = presented_digest());
CREATE POLICY linked_identity_added ON linked_identity FOR INSERT WITH CHECK (person = asking_person());
CREATE TRIGGER linked_identity_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON linked_identity
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- What happened to accounts, tokens and memberships. An organization sees what happened in it; what happened to the
-- account is the person's own.
CREATE TABLE security_event (
	id           uuid                NOT NULL,
	organization uuid,
	person       uuid, -- whom it happened to
	email        bytea, -- digest of the e-mail address that was presented by somebody who may not exist
	kind         security_event_kind NOT NULL,
	about        text                NOT NULL,
	by           text                NOT NULL,
	address      text                NOT NULL,
	at           timestamptz         NOT NULL,
	CONSTRAINT security_event_pkey PRIMARY KEY (id),
	CONSTRAINT security_event_is_somebodys CHECK (num_nonnulls(organization, person, email) > 0)
);

CREATE INDEX security_event_of_organization ON security_event (organization, id) WHERE organization IS NOT NULL;
CREATE INDEX security_event_of_person ON security_event (person, id) WHERE organization IS NULL;

ALTER TABLE security_event ENABLE ROW LEVEL SECURITY;
ALTER TABLE security_event FORCE ROW LEVEL SECURITY;
CREATE POLICY security_event_seen ON security_event FOR SELECT USING (
	organization = asking_organization() OR organization IS NULL AND person = asking_person());
CREATE POLICY security_event_added ON security_event FOR INSERT WITH CHECK (
	CASE WHEN organization IS NOT NULL THEN organization = asking_organization()
		ELSE coalesce(person = asking_person(), email = presented_email()) END);
CREATE TRIGGER security_event_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON security_event
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();
