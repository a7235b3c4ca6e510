-- Clubs, schools and fleets share one database and must never see, count or guess each other's records. So from the
-- first table on every table leads its key with the organization and has row-level security, which is forced so that
-- it binds the owner of the tables too. A transaction says for whom it asks in the setting tiedown.organization; one
-- that says nothing sees nothing and can write nothing.
--
-- What the database checks is what must never be false; the form of what people write is checked by the program. A set
-- of words that is closed is a domain, so that it is said once and looked at only where a value is written.

-- After a transaction-local setting a session reads back an empty string, not null: it must mean nobody, too.
CREATE FUNCTION asking_organization() RETURNS uuid
LANGUAGE sql STABLE PARALLEL SAFE
RETURN nullif(current_setting('tiedown.organization', true), '')::uuid;

-- The digest of the token that somebody presents who is not known yet.
CREATE FUNCTION presented_digest() RETURNS bytea
LANGUAGE sql STABLE PARALLEL SAFE
RETURN decode(nullif(current_setting('tiedown.token', true), ''), 'hex');

-- The program itself, setting up organizations and looking over all of them.
CREATE FUNCTION asking_keeper() RETURNS boolean
LANGUAGE sql STABLE PARALLEL SAFE
RETURN coalesce(current_setting('tiedown.keeper', true), '') = 'on';

CREATE DOMAIN role AS text CONSTRAINT role_known
	CHECK (VALUE IN ('pilot', 'mechanic', 'scheduler', 'maintenance-control', 'administrator'));

CREATE TABLE organization (
	id   uuid NOT NULL,
	name text NOT NULL,
	CONSTRAINT organization_pkey PRIMARY KEY (id),
	CONSTRAINT organization_name_given CHECK (name ~ '\S')
);

ALTER TABLE organization ENABLE ROW LEVEL SECURITY;
ALTER TABLE organization FORCE ROW LEVEL SECURITY;
CREATE POLICY organization_seen ON organization FOR SELECT USING (id = asking_organization() OR asking_keeper());
CREATE POLICY organization_added ON organization FOR INSERT WITH CHECK (asking_keeper());

-- A token is known by the SHA-256 digest of its secret alone. The digest is unique over all organizations, since it is
-- what tells the organization; of 2^256 nobody guesses one.
CREATE TABLE token (
	organization uuid  NOT NULL,
	id           uuid  NOT NULL,
	digest       bytea NOT NULL,
	name         text  NOT NULL,
	role         role  NOT NULL,
	CONSTRAINT token_pkey PRIMARY KEY (organization, id),
	CONSTRAINT token_digest_key UNIQUE (digest),
	CONSTRAINT token_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT token_digest_is_sha256 CHECK (octet_length(digest) = 32),
	CONSTRAINT token_name_given CHECK (name ~ '\S')
);

ALTER TABLE token ENABLE ROW LEVEL SECURITY;
ALTER TABLE token FORCE ROW LEVEL SECURITY;
CREATE POLICY token_seen ON token FOR SELECT USING (organization = asking_organization() OR digest = presented_digest());
CREATE POLICY token_added ON token FOR INSERT WITH CHECK (organization = asking_organization());
