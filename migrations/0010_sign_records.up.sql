-- What somebody may sign hangs on the certificates that the organization keeps of that person and on how the person
-- stands to the aircraft. Both are kept in versions that are only followed, never changed, and nobody enters one's own.
-- A signature holds, letter by letter, what was signed, with the certificate as it was then; what the records say of a
-- deferral, of work or of an approval is looked up in that text, so that a hand on psql cannot say more than was signed.


CREATE DOMAIN certificate_kind AS text CONSTRAINT certificate_kind_known
	CHECK (VALUE IN ('pilot', 'mechanic', 'inspection-authorization', 'repair-station', 'repairman'));
CREATE DOMAIN standing_kind AS text CONSTRAINT standing_kind_known
	CHECK (VALUE IN ('owns', 'operates', 'built', 'manufactured', 'flies', 'maintains'));
CREATE DOMAIN signed_action AS text CONSTRAINT signed_action_known CHECK (VALUE IN (
	'out-of-use', 'defer', 'extend', 'carry-on', 'work', 'return-to-service', 'check-flight', 'correct', 'inspect'));
CREATE DOMAIN proof AS text CONSTRAINT proof_known CHECK (VALUE IN ('password', 'passkey'));

CREATE TABLE certificate (
	organization  uuid             NOT NULL,
	id            uuid             NOT NULL,
	version       integer          NOT NULL,
	person        uuid             NOT NULL,
	name          text             NOT NULL, -- of the person
	kind          certificate_kind NOT NULL,
	number        text             NOT NULL,
	grade         text             NOT NULL, -- of a pilot certificate; empty otherwise
	ratings       text[]           NOT NULL,
	trained       text[]           NOT NULL, -- category and class for which a repairman is trained (65.107)
	valid_from    date             NOT NULL,
	valid_until   date, -- its last day; null: it does not run out by itself
	recent_from   date, -- from this day on the organization has seen the experience that 65.83 asks for
	recent_until  date, -- and it suffices through this one
	ended         boolean          NOT NULL, -- surrendered, revoked, superseded: it holds no longer
	entered_by    uuid             NOT NULL,
	by            text             NOT NULL,
	at            timestamptz      NOT NULL,
	CONSTRAINT certificate_pkey PRIMARY KEY (organization, id, version),
	-- What a signature says of its certificate is what stands here.
	CONSTRAINT certificate_signed_key UNIQUE (organization, id, version, person, kind, number, ratings),
	CONSTRAINT certificate_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT certificate_version_counts CHECK (version > 0),
	CONSTRAINT certificate_number_given CHECK (number ~ '\S'),
	CONSTRAINT certificate_name_given CHECK (name ~ '\S'),
	CONSTRAINT certificate_window CHECK (valid_until >= valid_from),
	CONSTRAINT certificate_recency CHECK ((recent_from IS NULL) = (recent_until IS NULL) AND recent_until >= recent_from),
	CONSTRAINT certificate_by_another CHECK (entered_by <> person)
);

CREATE INDEX certificate_of_person ON certificate (organization, person, id, version);

ALTER TABLE certificate ENABLE ROW LEVEL SECURITY;
ALTER TABLE certificate FORCE ROW LEVEL SECURITY;
CREATE POLICY certificate_of_organization ON certificate
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER certificate_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON certificate
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE standing (
	organization uuid          NOT NULL,
	id           uuid          NOT NULL,
	version      integer       NOT NULL,
	person       uuid          NOT NULL,
	name         text          NOT NULL,
	aircraft     uuid, -- null: every aircraft of the organization
	kind         standing_kind NOT NULL,
	valid_from   date          NOT NULL,
	valid_until  date,
	ended        boolean       NOT NULL,
	entered_by   uuid          NOT NULL,
	by           text          NOT NULL,
	at           timestamptz   NOT NULL,
	CONSTRAINT standing_pkey PRIMARY KEY (organization, id, version),
	CONSTRAINT standing_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id),
	CONSTRAINT standing_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT standing_version_counts CHECK (version > 0),
	CONSTRAINT standing_name_given CHECK (name ~ '\S'),
	CONSTRAINT standing_window CHECK (valid_until >= valid_from),
	CONSTRAINT standing_by_another CHECK (entered_by <> person)
);

CREATE INDEX standing_of_person ON standing (organization, person, id, version);

ALTER TABLE standing ENABLE ROW LEVEL SECURITY;
ALTER TABLE standing FORCE ROW LEVEL SECURITY;
CREATE POLICY standing_of_organization ON standing
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER standing_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON standing
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A law that takes more than one row to see. The name tells the program which.
CREATE FUNCTION break_law(law text, says text) RETURNS void
LANGUAGE plpgsql AS $$
BEGIN
	RAISE EXCEPTION '%', says USING ERRCODE = 'restrict_violation', CONSTRAINT = law;
END $$;

-- A version follows the one before it, and goes on being about the same person. The lock makes a signature by this
-- certificate wait for the change, or the change for the signature.
CREATE FUNCTION follow_certificate() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	PERFORM pg_advisory_xact_lock(hashtextextended(NEW.id::text, 0));
	IF NEW.version > 1 AND NOT EXISTS (
		SELECT FROM certificate c
		WHERE c.organization = NEW.organization AND c.id = NEW.id AND c.version = NEW.version - 1
			AND c.person = NEW.person AND c.kind = NEW.kind AND NOT c.ended) THEN
		PERFORM break_law(TG_NAME, 'a certificate is followed version by version, until it is ended');
	END IF;
	RETURN NEW;
END $$;
CREATE TRIGGER certificate_follows BEFORE INSERT ON certificate FOR EACH ROW EXECUTE FUNCTION follow_certificate();

CREATE FUNCTION follow_standing() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	IF NEW.version > 1 AND NOT EXISTS (
		SELECT FROM standing s
		WHERE s.organization = NEW.organization AND s.id = NEW.id AND s.version = NEW.version - 1
			AND s.person = NEW.person AND s.kind = NEW.kind AND s.aircraft IS NOT DISTINCT FROM NEW.aircraft AND NOT s.ended) THEN
		PERFORM break_law(TG_NAME, 'a standing is followed version by version, until it is ended');
	END IF;
	RETURN NEW;
END $$;
CREATE TRIGGER standing_follows BEFORE INSERT ON standing FOR EACH ROW EXECUTE FUNCTION follow_standing();

-- The digest is that of the text, and the text is JSON: what the columns say again stands in it.
CREATE TABLE signature (
	organization        uuid             NOT NULL,
	id                  uuid             NOT NULL,
	aircraft            uuid             NOT NULL,
	squawk              uuid, -- null: it is about the aircraft
	action              signed_action    NOT NULL,
	person              uuid             NOT NULL,
	name                text             NOT NULL,
	certificate         uuid             NOT NULL,
	certificate_version integer          NOT NULL,
	certificate_kind    certificate_kind NOT NULL,
	certificate_number  text             NOT NULL,
	ratings             text[]           NOT NULL,
	authority           jsonb            NOT NULL, -- the rows by which the person may
	digest              bytea            NOT NULL,
	text                text             NOT NULL,
	proven              proof            NOT NULL,
	day                 date             NOT NULL, -- at the aircraft's base
	at                  timestamptz      NOT NULL,
	corrects            uuid,
	CONSTRAINT signature_pkey PRIMARY KEY (organization, id),
	CONSTRAINT signature_squawk_key UNIQUE (organization, id, squawk, action),
	CONSTRAINT signature_aircraft_key UNIQUE (organization, id, aircraft),
	CONSTRAINT signature_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT signature_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk (organization, id),
	CONSTRAINT signature_certificate_fkey
		FOREIGN KEY (organization, certificate, certificate_version, person, certificate_kind, certificate_number, ratings)
		REFERENCES certificate (organization, id, version, person, kind, number, ratings),
	CONSTRAINT signature_corrects_fkey FOREIGN KEY (organization, corrects, aircraft) REFERENCES signature (organization, id, aircraft),
	CONSTRAINT signature_name_given CHECK (name ~ '\S'),
	CONSTRAINT signature_authority_given CHECK (jsonb_array_length(authority) > 0),
	CONSTRAINT signature_digest_of_text CHECK (digest = sha256(convert_to(text, 'UTF8'))),
	CONSTRAINT signature_says_what_it_is CHECK ((
		text::jsonb ->> 'organization' = organization::text AND text::jsonb ->> 'aircraft' = aircraft::text
		AND text::jsonb ->> 'squawk' IS NOT DISTINCT FROM squawk::text AND text::jsonb -> 'act' ->> 'action' = action
		AND text::jsonb -> 'act' ->> 'corrects' IS NOT DISTINCT FROM corrects::text
		AND text::jsonb -> 'signer' ->> 'person' = person::text AND text::jsonb -> 'signer' ->> 'name' = name
		AND text::jsonb -> 'signer' ->> 'certificate' = certificate::text
		AND text::jsonb -> 'signer' ->> 'kind' = certificate_kind AND text::jsonb -> 'signer' ->> 'number' = certificate_number
	) IS TRUE),
	CONSTRAINT signature_correction_corrects CHECK ((action = 'correct') = (corrects IS NOT NULL)),
	CONSTRAINT signature_about_squawk CHECK (squawk IS NOT NULL OR action IN ('inspect', 'correct'))
);

CREATE INDEX signature_of_squawk ON signature (organization, squawk, id) WHERE squawk IS NOT NULL;
CREATE INDEX signature_of_aircraft ON signature (organization, aircraft, id);

ALTER TABLE signature ENABLE ROW LEVEL SECURITY;
ALTER TABLE signature FORCE ROW LEVEL SECURITY;
CREATE POLICY signature_of_organization ON signature
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER signature_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON signature
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- Whoever signs holds the certificate on that day, and the day is that of the aircraft's base.
CREATE FUNCTION hold_certificate() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	PERFORM pg_advisory_xact_lock_shared(hashtextextended(NEW.certificate::text, 0));
	IF NOT EXISTS (
		SELECT FROM certificate c
		WHERE c.organization = NEW.organization AND c.id = NEW.certificate AND c.version = NEW.certificate_version
			AND NOT c.ended AND c.valid_from <= NEW.day AND (c.valid_until IS NULL OR c.valid_until >= NEW.day))
		OR EXISTS (
			SELECT FROM certificate c
			WHERE c.organization = NEW.organization AND c.id = NEW.certificate AND c.version > NEW.certificate_version)
		OR NOT EXISTS (
			SELECT FROM aircraft a JOIN base b ON b.organization = a.organization AND b.id = a.base
			WHERE a.organization = NEW.organization AND a.id = NEW.aircraft AND (NEW.at AT TIME ZONE b.zone)::date = NEW.day) THEN
		PERFORM break_law(TG_NAME, 'the certificate is not in force on the day of the signature');
	END IF;
	RETURN NEW;
END $$;
CREATE TRIGGER signature_certificate_in_force BEFORE INSERT ON signature FOR EACH ROW EXECUTE FUNCTION hold_certificate();

-- More steps, and what each of them leaves with the squawk.
ALTER DOMAIN squawk_step DROP CONSTRAINT squawk_step_known;
ALTER DOMAIN squawk_step ADD CONSTRAINT squawk_step_known CHECK (VALUE IN (
	'report', 'note', 'confirm', 'duplicate', 'out-of-use', 'defer', 'extend', 'carry-on', 'work', 'return-to-service',
	'check-flight', 'correct', 'close', 'reopen'));

ALTER TABLE squawk ADD COLUMN confirmed boolean NOT NULL DEFAULT false;
ALTER TABLE squawk ADD COLUMN duplicate_of uuid;
ALTER TABLE squawk ADD COLUMN progress jsonb NOT NULL DEFAULT '{}'; -- signed work so far: out_of_use, work, approved
ALTER TABLE squawk ADD CONSTRAINT squawk_duplicate_fkey
	FOREIGN KEY (organization, duplicate_of) REFERENCES squawk (organization, id);
ALTER TABLE squawk ADD CONSTRAINT squawk_duplicate_closed CHECK (duplicate_of IS NULL OR state = 'closed' AND duplicate_of <> id);

-- Each part of the progress names its signature and says nothing that the signed act does not say.
CREATE FUNCTION sign_progress() RETURNS trigger
LANGUAGE plpgsql AS $$
DECLARE
	part record;
BEGIN
	FOR part IN SELECT p.key, p.value FROM jsonb_each(NEW.progress) p LOOP
		IF NOT EXISTS (
			SELECT FROM signature s
			WHERE s.organization = NEW.organization AND s.id = (part.value ->> 'signature')::uuid AND s.squawk = NEW.id
				AND s.action = CASE part.key WHEN 'out_of_use' THEN 'out-of-use' WHEN 'work' THEN 'work' WHEN 'approved' THEN 'return-to-service' END
				AND s.text::jsonb -> 'act' @> part.value - 'signature') THEN
			PERFORM break_law(TG_NAME, 'there is no such signed ' || part.key);
		END IF;
	END LOOP;
	RETURN NEW;
END $$;
CREATE TRIGGER squawk_progress_signed BEFORE INSERT OR UPDATE OF progress ON squawk
	FOR EACH ROW WHEN (NEW.progress <> '{}') EXECUTE FUNCTION sign_progress();

-- A step that is signed names the signature, of that very action on that very squawk. Deferrals, closures and reopenings
-- without one are those that were carried over from paper, and read as such.
ALTER TABLE squawk_history ADD COLUMN signature uuid;
ALTER TABLE squawk_history ADD CONSTRAINT squawk_history_signature_fkey
	FOREIGN KEY (organization, signature, squawk, step) REFERENCES signature (organization, id, squawk, action);
ALTER TABLE squawk_history ADD CONSTRAINT squawk_history_signed CHECK (
	signature IS NOT NULL OR step NOT IN ('out-of-use', 'extend', 'carry-on', 'work', 'return-to-service', 'check-flight', 'correct'));
CREATE UNIQUE INDEX squawk_history_signature_once ON squawk_history (organization, signature) WHERE signature IS NOT NULL;

ALTER TABLE deferral ADD COLUMN signature uuid;
ALTER TABLE deferral ADD COLUMN discovered date; -- under an MEL: the day that its interval does not count
ALTER TABLE deferral ADD COLUMN extended_until date;
ALTER TABLE deferral ADD COLUMN involves_maintenance boolean; -- null: nobody has said
ALTER TABLE deferral ADD COLUMN maintenance_done boolean NOT NULL DEFAULT false; -- the MEL's procedure (M)
-- What has no signature was copied from paper, and cannot say otherwise.
ALTER TABLE deferral ADD COLUMN carried_over boolean GENERATED ALWAYS AS (signature IS NULL) STORED;
ALTER TABLE deferral ADD CONSTRAINT deferral_signature_key UNIQUE (organization, signature);

CREATE FUNCTION sign_deferral() RETURNS trigger
LANGUAGE plpgsql AS $$
BEGIN
	IF NOT EXISTS (
		SELECT FROM signature s CROSS JOIN LATERAL (SELECT s.text::jsonb -> 'act' AS act) t
		WHERE s.organization = NEW.organization AND s.id = NEW.signature AND s.squawk = NEW.squawk
			AND s.action IN ('defer', 'carry-on', 'extend')
			AND (t.act ->> 'until')::timestamptz = NEW.until
			AND (t.act ->> 'extended_until')::date IS NOT DISTINCT FROM NEW.extended_until
			-- An extension rests on the determination that was made before.
			AND (s.action = 'extend' OR s.at = NEW.determined_at AND coalesce(t.act -> 'considered', '[]') = to_jsonb(NEW.considered))
			AND CASE WHEN s.action = 'defer'
				THEN t.act ->> 'method' = NEW.method AND t.act ->> 'placard' = NEW.placard AND t.act ->> 'entry' = NEW.entry
				ELSE EXISTS (
					SELECT FROM deferral d
					WHERE d.organization = NEW.organization AND d.squawk = NEW.squawk AND d.basis = NEW.basis AND d.method = NEW.method
						AND d.placard = NEW.placard AND d.removed_on IS NOT DISTINCT FROM NEW.removed_on
						AND d.discovered IS NOT DISTINCT FROM NEW.discovered)
				END) THEN
		PERFORM break_law(TG_NAME, 'nobody has signed this deferral');
	END IF;
	RETURN NEW;
END $$;
CREATE TRIGGER deferral_signed BEFORE INSERT ON deferral
	FOR EACH ROW WHEN (NEW.signature IS NOT NULL) EXECUTE FUNCTION sign_deferral();
