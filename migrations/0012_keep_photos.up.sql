-- Photos and files: of a squawk, of a result of a walkaround, or of what was signed. What a photo says of itself is a record
-- and stays. Its bytes are content, which is named by its digest, and may be kept elsewhere: so the record names the digest
-- and refers to no row, and whoever exchanges the bytes is found out by the record.

CREATE DOMAIN photo_type AS text CONSTRAINT photo_type_known CHECK (VALUE IN ('image/jpeg', 'application/pdf'));

-- The bytes, each once in an organization, however many photos have them. Content comes before the record of its photo, in a
-- transaction of its own: what has no photo a day after it was last put here is swept.
CREATE TABLE content (
	organization uuid        NOT NULL,
	digest       bytea       NOT NULL, -- SHA-256 of the bytes
	bytes        bytea       NOT NULL,
	at           timestamptz NOT NULL, -- when it was last put here
	CONSTRAINT content_pkey PRIMARY KEY (organization, digest),
	CONSTRAINT content_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT content_digest_of_bytes CHECK (digest = sha256(bytes)),
	CONSTRAINT content_size CHECK (length(bytes) BETWEEN 1 AND 16777216)
);

ALTER TABLE content ENABLE ROW LEVEL SECURITY;
ALTER TABLE content FORCE ROW LEVEL SECURITY;
CREATE POLICY content_of_organization ON content
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER content_kept BEFORE TRUNCATE ON content FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER content_bytes_kept BEFORE UPDATE OF organization, digest, bytes ON content
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE photo (
	organization uuid        NOT NULL,
	id           uuid        NOT NULL,
	squawk       uuid,
	walkaround   uuid,
	result       uuid,
	signature    uuid,
	type         photo_type  NOT NULL,
	digest       bytea       NOT NULL, -- SHA-256 of the content
	thumbnail    bytea, -- that of the small picture's; null: a file, which has none
	size         integer     NOT NULL, -- of the content, in bytes
	width        integer     NOT NULL, -- in pixels; 0: a file
	height       integer     NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	CONSTRAINT photo_pkey PRIMARY KEY (organization, id),
	CONSTRAINT photo_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk (organization, id),
	CONSTRAINT photo_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround (organization, id),
	CONSTRAINT photo_signature_fkey FOREIGN KEY (organization, signature) REFERENCES signature (organization, id),
	CONSTRAINT photo_of_one_thing CHECK (num_nonnulls(squawk, result, signature) = 1 AND (walkaround IS NULL) = (result IS NULL)),
	CONSTRAINT photo_digests_are_sha256 CHECK (length(digest) = 32 AND length(thumbnail) = 32),
	CONSTRAINT photo_size_range CHECK (size BETWEEN 1 AND 16777216),
	CONSTRAINT photo_is_seen CHECK ((type = 'image/jpeg') = (thumbnail IS NOT NULL) AND (type = 'image/jpeg') = (width > 0 AND height > 0)
		AND width >= 0 AND height >= 0)
);

CREATE INDEX photo_of_squawk ON photo (organization, squawk, id) WHERE squawk IS NOT NULL;
CREATE INDEX photo_of_walkaround ON photo (organization, walkaround, id) WHERE walkaround IS NOT NULL;
CREATE INDEX photo_of_signature ON photo (organization, signature, id) WHERE signature IS NOT NULL;
CREATE INDEX photo_with_digest ON photo (organization, digest);
CREATE INDEX photo_with_thumbnail ON photo (organization, thumbnail) WHERE thumbnail IS NOT NULL;

ALTER TABLE photo ENABLE ROW LEVEL SECURITY;
ALTER TABLE photo FORCE ROW LEVEL SECURITY;
CREATE POLICY photo_of_organization ON photo
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER photo_of_a_result BEFORE INSERT ON photo
	FOR EACH ROW WHEN (NEW.walkaround IS NOT NULL AND NEW.result IS NOT NULL) EXECUTE FUNCTION refuse_unreported();
CREATE TRIGGER photo_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON photo FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- What a photo has is not taken away.
CREATE FUNCTION refuse_content_in_use() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	IF EXISTS (SELECT FROM photo p WHERE p.organization = OLD.organization AND p.digest = OLD.digest)
		OR EXISTS (SELECT FROM photo p WHERE p.organization = OLD.organization AND p.thumbnail = OLD.digest) THEN
		RAISE EXCEPTION 'a photo has this content'
			USING ERRCODE = 'restrict_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN OLD;
END $$;

CREATE TRIGGER content_in_use BEFORE DELETE ON content FOR EACH ROW EXECUTE FUNCTION refuse_content_in_use();
