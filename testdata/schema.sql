-- What the migrations lead to, out of the catalogue. Written by TestSchemaIsTheGoldenOne: do not edit.

CREATE DOMAIN block_kind AS text
	CONSTRAINT block_kind_known CHECK ((VALUE = ANY (ARRAY['maintenance'::text, 'away'::text, 'reserved'::text, 'other'::text])));
CREATE DOMAIN certificate_kind AS text
	CONSTRAINT certificate_kind_known CHECK ((VALUE = ANY (ARRAY['pilot'::text, 'mechanic'::text, 'inspection-authorization'::text, 'repair-station'::text, 'repairman'::text])));
CREATE DOMAIN challenge_purpose AS text
	CONSTRAINT challenge_purpose_known CHECK ((VALUE = ANY (ARRAY['sign-in'::text, 'register'::text, 'proof'::text])));
CREATE DOMAIN deferral_method AS text
	CONSTRAINT deferral_method_known CHECK ((VALUE = ANY (ARRAY['removed'::text, 'deactivated'::text])));
CREATE DOMAIN delivery_state AS text
	CONSTRAINT delivery_state_known CHECK ((VALUE = ANY (ARRAY['pending'::text, 'delivered'::text, 'dead'::text])));
CREATE DOMAIN flight_rules AS text
	CONSTRAINT flight_rules_known CHECK ((VALUE = ANY (ARRAY[''::text, 'vfr'::text, 'ifr'::text])));
CREATE DOMAIN flight_state AS text
	CONSTRAINT flight_state_known CHECK ((VALUE = ANY (ARRAY['planned'::text, 'cancelled'::text])));
CREATE DOMAIN meter AS text
	CONSTRAINT meter_known CHECK ((VALUE = ANY (ARRAY['hobbs'::text, 'tach'::text, 'time-in-service'::text])));
CREATE DOMAIN note_kind AS text
	CONSTRAINT note_kind_known CHECK ((VALUE = ANY (ARRAY['flight-held'::text, 'flight-released'::text, 'squawk-filed'::text, 'due-ahead'::text, 'digest'::text])));
CREATE DOMAIN note_state AS text
	CONSTRAINT note_state_known CHECK ((VALUE = ANY (ARRAY['waiting'::text, 'sent'::text, 'dead'::text, 'dropped'::text, 'empty'::text])));
CREATE DOMAIN photo_type AS text
	CONSTRAINT photo_type_known CHECK ((VALUE = ANY (ARRAY['image/jpeg'::text, 'application/pdf'::text])));
CREATE DOMAIN proof AS text
	CONSTRAINT proof_known CHECK ((VALUE = ANY (ARRAY['password'::text, 'passkey'::text])));
CREATE DOMAIN role AS text
	CONSTRAINT role_known CHECK ((VALUE = ANY (ARRAY['pilot'::text, 'mechanic'::text, 'scheduler'::text, 'maintenance-control'::text, 'administrator'::text])));
CREATE DOMAIN security_event_kind AS text
	CONSTRAINT security_event_kind_known CHECK ((VALUE = ANY (ARRAY['signed-in'::text, 'sign-in-failed'::text, 'locked'::text, 'proof-failed'::text, 'password-set'::text, 'password-link-made'::text, 'passkey-added'::text, 'passkey-removed'::text, 'recovery-codes-made'::text, 'recovery-code-used'::text, 'identity-linked'::text, 'session-ended'::text, 'token-made'::text, 'token-revoked'::text, 'member-added'::text, 'member-changed'::text, 'member-ended'::text])));
CREATE DOMAIN signed_action AS text
	CONSTRAINT signed_action_known CHECK ((VALUE = ANY (ARRAY['out-of-use'::text, 'defer'::text, 'extend'::text, 'carry-on'::text, 'work'::text, 'return-to-service'::text, 'check-flight'::text, 'correct'::text, 'inspect'::text])));
CREATE DOMAIN squawk_kind AS text
	CONSTRAINT squawk_kind_known CHECK ((VALUE = ANY (ARRAY['inoperative'::text, 'condition'::text])));
CREATE DOMAIN squawk_state AS text
	CONSTRAINT squawk_state_known CHECK ((VALUE = ANY (ARRAY['reported'::text, 'deferred'::text, 'closed'::text])));
CREATE DOMAIN squawk_step AS text
	CONSTRAINT squawk_step_known CHECK ((VALUE = ANY (ARRAY['report'::text, 'note'::text, 'confirm'::text, 'duplicate'::text, 'expect'::text, 'out-of-use'::text, 'defer'::text, 'extend'::text, 'carry-on'::text, 'work'::text, 'return-to-service'::text, 'check-flight'::text, 'correct'::text, 'close'::text, 'reopen'::text])));
CREATE DOMAIN standing_kind AS text
	CONSTRAINT standing_kind_known CHECK ((VALUE = ANY (ARRAY['owns'::text, 'operates'::text, 'built'::text, 'manufactured'::text, 'flies'::text, 'maintains'::text])));
CREATE DOMAIN verdict AS text
	CONSTRAINT verdict_known CHECK ((VALUE = ANY (ARRAY['undetermined'::text, 'clear'::text, 'limited'::text, 'defer-first'::text, 'grounded'::text])));
CREATE DOMAIN walkaround_state AS text
	CONSTRAINT walkaround_state_known CHECK ((VALUE = ANY (ARRAY['open'::text, 'completed'::text])));
CREATE DOMAIN webhook_state AS text
	CONSTRAINT webhook_state_known CHECK ((VALUE = ANY (ARRAY['on'::text, 'off'::text, 'broken'::text, 'ended'::text])));

CREATE OR REPLACE FUNCTION append_log(whose uuid, moment timestamp with time zone, who text, records text[], keys text[], versions integer[], digests bytea[], leaves bytea[], once boolean[])
 RETURNS void
 LANGUAGE plpgsql
AS $function$
DECLARE
	n     bigint;
	roots bytea[];
	top   integer; -- of the roots that are still of use
	node  bytea;
	kept  bytea[] := '{}';
	taken bigint[] := '{}';
BEGIN
	SELECT h.size, h.frontier INTO n, roots FROM log_head h WHERE h.organization = whose FOR NO KEY UPDATE;
	IF NOT FOUND THEN
		RAISE EXCEPTION 'the log of organization % has not been begun', whose USING ERRCODE = 'TD003';
	END IF;
	FOR i IN 1 .. cardinality(leaves) LOOP
		IF once[i] AND EXISTS (SELECT FROM log_entry e WHERE e.organization = whose AND e.record = records[i] AND e.key = keys[i]) THEN
			kept := array_append(kept, NULL);
			taken := array_append(taken, NULL);
			CONTINUE;
		END IF;
		node := leaves[i];
		kept := array_append(kept, node);
		top := cardinality(roots);
		FOR level IN 0 .. 62 LOOP
			EXIT WHEN (n >> level) & 1 = 0;
			node := sha256('\x01'::bytea || roots[top] || node);
			kept[i] := kept[i] || node;
			top := top - 1;
		END LOOP;
		roots := array_append(roots[1:top], node);
		taken := array_append(taken, n);
		n := n + 1;
	END LOOP;
	INSERT INTO log_entry (organization, number, at, by, record, key, version, digest, hashes)
		SELECT whose, e.number, moment, who, e.record, e.key, e.version, e.digest, e.hashes
		FROM unnest(taken, records, keys, versions, digests, kept) AS e (number, record, key, version, digest, hashes)
		WHERE e.number IS NOT NULL;
	UPDATE log_head h SET size = n, frontier = roots WHERE h.organization = whose;
END $function$;

CREATE OR REPLACE FUNCTION asking_keeper()
 RETURNS boolean
 LANGUAGE sql
 STABLE PARALLEL SAFE
RETURN (COALESCE(current_setting('tiedown.keeper'::text, true), ''::text) = 'on'::text);

CREATE OR REPLACE FUNCTION asking_organization()
 RETURNS uuid
 LANGUAGE sql
 STABLE PARALLEL SAFE
RETURN (NULLIF(current_setting('tiedown.organization'::text, true), ''::text))::uuid;

CREATE OR REPLACE FUNCTION asking_person()
 RETURNS uuid
 LANGUAGE sql
 STABLE PARALLEL SAFE
RETURN (NULLIF(current_setting('tiedown.person'::text, true), ''::text))::uuid;

CREATE OR REPLACE FUNCTION break_law(law text, says text)
 RETURNS void
 LANGUAGE plpgsql
AS $function$
BEGIN
	RAISE EXCEPTION '%', says USING ERRCODE = 'restrict_violation', CONSTRAINT = law;
END $function$;

CREATE OR REPLACE FUNCTION expect(changed bigint, wanted bigint, code text)
 RETURNS void
 LANGUAGE plpgsql
AS $function$
BEGIN
	IF changed IS DISTINCT FROM wanted THEN
		RAISE EXCEPTION 'changed % of % rows', changed, wanted USING ERRCODE = code;
	END IF;
END $function$;

CREATE OR REPLACE FUNCTION follow_certificate()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
BEGIN
	PERFORM pg_advisory_xact_lock(hashtextextended(NEW.id::text, 0));
	IF NEW.version > 1 AND NOT EXISTS (
		SELECT FROM certificate c
		WHERE c.organization = NEW.organization AND c.id = NEW.id AND c.version = NEW.version - 1
			AND c.person = NEW.person AND c.kind = NEW.kind AND NOT c.ended) THEN
		PERFORM break_law(TG_NAME, 'a certificate is followed version by version, until it is ended');
	END IF;
	RETURN NEW;
END $function$;

CREATE OR REPLACE FUNCTION follow_standing()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
BEGIN
	IF NEW.version > 1 AND NOT EXISTS (
		SELECT FROM standing s
		WHERE s.organization = NEW.organization AND s.id = NEW.id AND s.version = NEW.version - 1
			AND s.person = NEW.person AND s.kind = NEW.kind AND s.aircraft IS NOT DISTINCT FROM NEW.aircraft AND NOT s.ended) THEN
		PERFORM break_law(TG_NAME, 'a standing is followed version by version, until it is ended');
	END IF;
	RETURN NEW;
END $function$;

CREATE OR REPLACE FUNCTION hold_certificate()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
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
END $function$;

CREATE OR REPLACE FUNCTION keep_an_administrator()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
BEGIN
	PERFORM pg_advisory_xact_lock(hashtextextended('administrators of ' || OLD.organization, 0));
	IF NOT EXISTS (SELECT FROM membership m
			WHERE m.organization = OLD.organization AND m.until IS NULL AND 'administrator' = ANY (m.roles::text[])) THEN
		RAISE EXCEPTION 'the organization would be without an administrator'
			USING ERRCODE = 'restrict_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN NULL;
END $function$;

CREATE OR REPLACE FUNCTION presented_address()
 RETURNS bytea
 LANGUAGE sql
 STABLE PARALLEL SAFE
RETURN decode(NULLIF(current_setting('tiedown.address'::text, true), ''::text), 'hex'::text);

CREATE OR REPLACE FUNCTION presented_digest()
 RETURNS bytea
 LANGUAGE sql
 STABLE PARALLEL SAFE
RETURN decode(NULLIF(current_setting('tiedown.token'::text, true), ''::text), 'hex'::text);

CREATE OR REPLACE FUNCTION presented_email()
 RETURNS bytea
 LANGUAGE sql
 STABLE PARALLEL SAFE
RETURN decode(NULLIF(current_setting('tiedown.email'::text, true), ''::text), 'hex'::text);

CREATE OR REPLACE FUNCTION refuse()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
BEGIN
	RAISE EXCEPTION '% of % is refused: what is on record stays', TG_OP, TG_TABLE_NAME
		USING ERRCODE = 'restrict_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
END $function$;

CREATE OR REPLACE FUNCTION refuse_content_in_use()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
BEGIN
	IF EXISTS (SELECT FROM photo p WHERE p.organization = OLD.organization AND p.digest = OLD.digest)
		OR EXISTS (SELECT FROM photo p WHERE p.organization = OLD.organization AND p.thumbnail = OLD.digest) THEN
		RAISE EXCEPTION 'a photo has this content'
			USING ERRCODE = 'restrict_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN OLD;
END $function$;

CREATE OR REPLACE FUNCTION refuse_doubled_results()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
BEGIN
	PERFORM FROM walkaround w WHERE w.organization = NEW.organization AND w.id = NEW.walkaround FOR NO KEY UPDATE;
	IF (SELECT count(DISTINCT i) FROM unnest(NEW.ids) AS i) <> cardinality(NEW.ids) OR (
		SELECT count(DISTINCT i) FROM unnest(NEW.measured_ids) AS i) <> cardinality(NEW.measured_ids) OR EXISTS (
		SELECT FROM walkaround_report r
		WHERE r.organization = NEW.organization AND r.walkaround = NEW.walkaround AND r.ids && NEW.ids)
	THEN
		RAISE EXCEPTION 'one of these results is on record already'
			USING ERRCODE = 'unique_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN NEW;
END $function$;

CREATE OR REPLACE FUNCTION refuse_unlike_the_book()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
DECLARE
	stands double precision;
BEGIN
	SELECT e.hours INTO stands FROM meter_entry e
		WHERE e.organization = NEW.organization AND e.aircraft = NEW.aircraft AND e.meter = NEW.meter AND e.number = NEW.number - 1;
	IF NEW.number <> 1 AND stands IS NULL OR NEW.number < 1 OR NEW.hours < stands AND NEW.because !~ '\S' THEN
		RAISE EXCEPTION 'entry % of % h does not follow the book', NEW.number, NEW.hours
			USING ERRCODE = 'restrict_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN NEW;
END $function$;

CREATE OR REPLACE FUNCTION refuse_unreported()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
BEGIN
	IF NOT EXISTS (
		SELECT FROM walkaround_report r
		WHERE r.organization = NEW.organization AND r.walkaround = NEW.walkaround AND NEW.result = ANY (r.ids))
	THEN
		RAISE EXCEPTION 'there is no such result'
			USING ERRCODE = 'foreign_key_violation', SCHEMA = TG_TABLE_SCHEMA, TABLE = TG_TABLE_NAME, CONSTRAINT = TG_NAME;
	END IF;
	RETURN NEW;
END $function$;

CREATE OR REPLACE FUNCTION sign_deferral()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
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
END $function$;

CREATE OR REPLACE FUNCTION sign_progress()
 RETURNS trigger
 LANGUAGE plpgsql
AS $function$
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
END $function$;

CREATE OR REPLACE FUNCTION tell(whose uuid, who text, ids uuid[], kinds text[], aircraft uuid[], subjects uuid[], moments timestamp with time zone[], changes text[])
 RETURNS void
 LANGUAGE plpgsql
AS $function$
DECLARE
	last bigint;
BEGIN
	PERFORM FROM log_head h WHERE h.organization = whose FOR NO KEY UPDATE;
	IF NOT FOUND THEN
		RAISE EXCEPTION 'the log of organization % has not been begun', whose USING ERRCODE = 'TD003';
	END IF;
	-- A statement of its own: it sees what was committed while the lock was waited for.
	SELECT coalesce(max(e.place), 0) INTO last FROM event e WHERE e.organization = whose;
	INSERT INTO event (organization, place, id, kind, aircraft, subject, by, at, changes)
		SELECT whose, last + n, e.id, e.kind, e.craft, e.subject, who, e.moment, e.change::jsonb
		FROM unnest(ids, kinds, aircraft, subjects, moments, changes) WITH ORDINALITY
			AS e (id, kind, craft, subject, moment, change, n);
END $function$;

CREATE TABLE account (
	id uuid NOT NULL,
	email text NOT NULL,
	email_digest bytea NOT NULL,
	name text NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT account_email_digest_is_sha256 CHECK ((octet_length(email_digest) = 32)),
	CONSTRAINT account_email_given CHECK ((email ~ '\S'::text)),
	CONSTRAINT account_email_key UNIQUE (email_digest),
	CONSTRAINT account_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT account_pkey PRIMARY KEY (id)
);
ALTER TABLE account ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY account_added ON account FOR INSERT WITH CHECK (email_digest = presented_email());
CREATE POLICY account_seen ON account FOR SELECT USING ((id = asking_person()) OR (email_digest = presented_email()) OR (EXISTS ( SELECT
   FROM membership m
  WHERE ((m.organization = asking_organization()) AND (m.person = account.id)))));
CREATE TRIGGER account_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON account FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE aircraft (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	registration text NOT NULL,
	type text NOT NULL,
	base uuid NOT NULL,
	facts jsonb NOT NULL,
	revision integer NOT NULL,
	version integer NOT NULL,
	plan_version integer NOT NULL,
	state_version integer NOT NULL,
	squawked integer DEFAULT 0 NOT NULL,
	CONSTRAINT aircraft_base_fkey FOREIGN KEY (organization, base) REFERENCES base(organization, id),
	CONSTRAINT aircraft_pkey PRIMARY KEY (organization, id),
	CONSTRAINT aircraft_registration_key UNIQUE (organization, registration),
	CONSTRAINT aircraft_revision_fkey FOREIGN KEY (organization, id, revision) REFERENCES aircraft_configuration(organization, aircraft, revision) DEFERRABLE INITIALLY DEFERRED
) WITH (fillfactor=70);
ALTER TABLE aircraft ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY aircraft_of_organization ON aircraft FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER aircraft_kept BEFORE DELETE OR TRUNCATE ON aircraft FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE aircraft_configuration (
	organization uuid NOT NULL,
	aircraft uuid NOT NULL,
	revision integer NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	document jsonb NOT NULL,
	CONSTRAINT aircraft_configuration_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT aircraft_configuration_pkey PRIMARY KEY (organization, aircraft, revision)
);
ALTER TABLE aircraft_configuration ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY aircraft_configuration_of_organization ON aircraft_configuration FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER aircraft_configuration_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON aircraft_configuration FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE airframe_checklist (
	organization uuid NOT NULL,
	aircraft uuid NOT NULL,
	version integer NOT NULL,
	template uuid NOT NULL,
	template_version integer NOT NULL,
	serial text NOT NULL,
	changes jsonb NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	CONSTRAINT airframe_checklist_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT airframe_checklist_pkey PRIMARY KEY (organization, aircraft, version),
	CONSTRAINT airframe_checklist_template_fkey FOREIGN KEY (organization, template, template_version) REFERENCES checklist_template(organization, id, version),
	CONSTRAINT airframe_checklist_version_counts CHECK ((version > 0))
);
ALTER TABLE airframe_checklist ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY airframe_checklist_of_organization ON airframe_checklist FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER airframe_checklist_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON airframe_checklist FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE airport (
	organization uuid NOT NULL,
	ident text NOT NULL,
	name text NOT NULL,
	lat double precision NOT NULL,
	lon double precision NOT NULL,
	CONSTRAINT airport_lat_range CHECK (((lat >= ('-90'::integer)::double precision) AND (lat <= (90)::double precision))),
	CONSTRAINT airport_lon_range CHECK (((lon >= ('-180'::integer)::double precision) AND (lon <= (180)::double precision))),
	CONSTRAINT airport_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT airport_pkey PRIMARY KEY (organization, ident)
);
CREATE INDEX airport_by_latitude ON airport USING btree (organization, lat);
ALTER TABLE airport ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY airport_of_organization ON airport FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER airport_kept BEFORE DELETE OR TRUNCATE ON airport FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE attempt (
	subject bytea NOT NULL,
	failures integer NOT NULL,
	at timestamp with time zone NOT NULL,
	until timestamp with time zone NOT NULL,
	CONSTRAINT attempt_pkey PRIMARY KEY (subject),
	CONSTRAINT attempt_subject_is_sha256 CHECK ((octet_length(subject) = 32))
);
ALTER TABLE attempt ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY attempt_ended_seen ON attempt FOR SELECT USING (asking_keeper() AND (GREATEST(at, until) <= (now() - '30 days'::interval)));
CREATE POLICY attempt_forgotten ON attempt FOR DELETE USING asking_keeper();
CREATE POLICY attempt_presented ON attempt FOR ALL USING ((subject = presented_email()) OR (subject = presented_address())) WITH CHECK ((subject = presented_email()) OR (subject = presented_address()));
CREATE TRIGGER attempt_kept BEFORE TRUNCATE ON attempt FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER attempt_kept_for_a_month BEFORE DELETE ON attempt FOR EACH ROW WHEN ((GREATEST(old.at, old.until) > (clock_timestamp() - '30 days'::interval))) EXECUTE FUNCTION refuse();

CREATE TABLE base (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	code text NOT NULL,
	name text NOT NULL,
	lat double precision NOT NULL,
	lon double precision NOT NULL,
	zone text NOT NULL,
	version integer NOT NULL,
	CONSTRAINT base_code_key UNIQUE (organization, code),
	CONSTRAINT base_lat_range CHECK (((lat >= ('-90'::integer)::double precision) AND (lat <= (90)::double precision))),
	CONSTRAINT base_lon_range CHECK (((lon >= ('-180'::integer)::double precision) AND (lon <= (180)::double precision))),
	CONSTRAINT base_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT base_pkey PRIMARY KEY (organization, id)
);
ALTER TABLE base ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY base_of_organization ON base FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER base_kept BEFORE DELETE OR TRUNCATE ON base FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE block (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	aircraft uuid NOT NULL,
	begins timestamp with time zone NOT NULL,
	ends timestamp with time zone,
	kind block_kind NOT NULL,
	words text NOT NULL,
	by text NOT NULL,
	at timestamp with time zone NOT NULL,
	cancelled boolean NOT NULL,
	version integer NOT NULL,
	CONSTRAINT block_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT block_pkey PRIMARY KEY (organization, id),
	CONSTRAINT block_window CHECK ((ends > begins)),
	CONSTRAINT block_words_given CHECK ((words ~ '\S'::text))
);
CREATE INDEX block_of_aircraft ON block USING btree (organization, aircraft, ends) WHERE (NOT cancelled);
ALTER TABLE block ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY block_of_organization ON block FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER block_kept BEFORE DELETE OR TRUNCATE ON block FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE calendar_feed (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	digest bytea NOT NULL,
	name text NOT NULL,
	aircraft uuid,
	maker uuid NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT calendar_feed_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT calendar_feed_digest_is_sha256 CHECK ((octet_length(digest) = 32)),
	CONSTRAINT calendar_feed_digest_key UNIQUE (digest),
	CONSTRAINT calendar_feed_maker_fkey FOREIGN KEY (organization, maker) REFERENCES membership(organization, person),
	CONSTRAINT calendar_feed_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT calendar_feed_pkey PRIMARY KEY (organization, id)
);
ALTER TABLE calendar_feed ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY calendar_feed_added ON calendar_feed FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY calendar_feed_seen ON calendar_feed FOR SELECT USING ((organization = asking_organization()) OR (digest = presented_digest()));
CREATE TRIGGER calendar_feed_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON calendar_feed FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE calendar_feed_revocation (
	organization uuid NOT NULL,
	feed uuid NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	CONSTRAINT calendar_feed_revocation_feed_fkey FOREIGN KEY (organization, feed) REFERENCES calendar_feed(organization, id),
	CONSTRAINT calendar_feed_revocation_pkey PRIMARY KEY (organization, feed)
);
ALTER TABLE calendar_feed_revocation ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY calendar_feed_revocation_of_organization ON calendar_feed_revocation FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER calendar_feed_revocation_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON calendar_feed_revocation FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE certificate (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	version integer NOT NULL,
	person uuid NOT NULL,
	name text NOT NULL,
	kind certificate_kind NOT NULL,
	number text NOT NULL,
	grade text NOT NULL,
	ratings text[] NOT NULL,
	trained text[] NOT NULL,
	valid_from date NOT NULL,
	valid_until date,
	recent_from date,
	recent_until date,
	ended boolean NOT NULL,
	entered_by uuid NOT NULL,
	by text NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT certificate_by_another CHECK ((entered_by <> person)),
	CONSTRAINT certificate_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT certificate_number_given CHECK ((number ~ '\S'::text)),
	CONSTRAINT certificate_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT certificate_pkey PRIMARY KEY (organization, id, version),
	CONSTRAINT certificate_recency CHECK ((((recent_from IS NULL) = (recent_until IS NULL)) AND (recent_until >= recent_from))),
	CONSTRAINT certificate_signed_key UNIQUE (organization, id, version, person, kind, number, ratings),
	CONSTRAINT certificate_version_counts CHECK ((version > 0)),
	CONSTRAINT certificate_window CHECK ((valid_until >= valid_from))
);
CREATE INDEX certificate_of_person ON certificate USING btree (organization, person, id, version);
ALTER TABLE certificate ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY certificate_of_organization ON certificate FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER certificate_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON certificate FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER certificate_follows BEFORE INSERT ON certificate FOR EACH ROW EXECUTE FUNCTION follow_certificate();

CREATE TABLE challenge (
	person uuid NOT NULL,
	id uuid NOT NULL,
	ticket bytea,
	purpose challenge_purpose NOT NULL,
	about bytea,
	state jsonb,
	at timestamp with time zone NOT NULL,
	until timestamp with time zone NOT NULL,
	used_at timestamp with time zone,
	CONSTRAINT challenge_person_fkey FOREIGN KEY (person) REFERENCES account(id),
	CONSTRAINT challenge_pkey PRIMARY KEY (person, id),
	CONSTRAINT challenge_proof_is_about_a_digest CHECK ((((purpose)::text = 'proof'::text) = (NOT (octet_length(about) IS DISTINCT FROM 32)))),
	CONSTRAINT challenge_sign_in_has_a_ticket CHECK ((((purpose)::text = 'sign-in'::text) = (NOT (octet_length(ticket) IS DISTINCT FROM 32)))),
	CONSTRAINT challenge_ticket_key UNIQUE (ticket)
);
ALTER TABLE challenge ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY challenge_added ON challenge FOR INSERT WITH CHECK (person = asking_person());
CREATE POLICY challenge_ended_seen ON challenge FOR SELECT USING (asking_keeper() AND (until <= (now() - '30 days'::interval)));
CREATE POLICY challenge_forgotten ON challenge FOR DELETE USING asking_keeper();
CREATE POLICY challenge_seen ON challenge FOR SELECT USING ((person = asking_person()) OR (ticket = presented_digest()));
CREATE POLICY challenge_used ON challenge FOR UPDATE USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE TRIGGER challenge_kept BEFORE TRUNCATE ON challenge FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER challenge_kept_for_a_month BEFORE DELETE ON challenge FOR EACH ROW WHEN ((old.until > (clock_timestamp() - '30 days'::interval))) EXECUTE FUNCTION refuse();
CREATE TRIGGER challenge_made_kept BEFORE UPDATE OF person, id, ticket, purpose, about, state, at, until ON challenge FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER challenge_stays_used BEFORE UPDATE ON challenge FOR EACH ROW WHEN ((old.used_at IS NOT NULL)) EXECUTE FUNCTION refuse();

CREATE TABLE checklist (
	organization uuid NOT NULL,
	digest text NOT NULL,
	document jsonb NOT NULL,
	CONSTRAINT checklist_digest_is_sha256 CHECK ((digest ~ '^[0-9a-f]{64}$'::text)),
	CONSTRAINT checklist_pkey PRIMARY KEY (organization, digest)
);
ALTER TABLE checklist ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY checklist_of_organization ON checklist FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER checklist_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON checklist FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE checklist_template (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	version integer NOT NULL,
	type text NOT NULL,
	checks jsonb NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	CONSTRAINT checklist_template_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT checklist_template_pkey PRIMARY KEY (organization, id, version),
	CONSTRAINT checklist_template_type_given CHECK ((type ~ '\S'::text)),
	CONSTRAINT checklist_template_version_counts CHECK ((version > 0))
);
ALTER TABLE checklist_template ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY checklist_template_of_organization ON checklist_template FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER checklist_template_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON checklist_template FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE company_rules (
	organization uuid NOT NULL,
	version integer NOT NULL,
	rules jsonb NOT NULL,
	policy jsonb NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	CONSTRAINT company_rules_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT company_rules_pkey PRIMARY KEY (organization, version),
	CONSTRAINT company_rules_version_counts CHECK ((version > 0))
);
ALTER TABLE company_rules ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY company_rules_of_organization ON company_rules FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER company_rules_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON company_rules FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE content (
	organization uuid NOT NULL,
	digest bytea NOT NULL,
	bytes bytea NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT content_digest_of_bytes CHECK ((digest = sha256(bytes))),
	CONSTRAINT content_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT content_pkey PRIMARY KEY (organization, digest),
	CONSTRAINT content_size CHECK (((length(bytes) >= 1) AND (length(bytes) <= 16777216)))
);
ALTER TABLE content ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY content_of_organization ON content FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER content_bytes_kept BEFORE UPDATE OF organization, digest, bytes ON content FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER content_in_use BEFORE DELETE ON content FOR EACH ROW EXECUTE FUNCTION refuse_content_in_use();
CREATE TRIGGER content_kept BEFORE TRUNCATE ON content FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE deferral (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	squawk uuid NOT NULL,
	basis text NOT NULL,
	method deferral_method NOT NULL,
	placard text NOT NULL,
	entry text NOT NULL,
	determined_by text NOT NULL,
	determined_at timestamp with time zone NOT NULL,
	removed_on date,
	until timestamp with time zone NOT NULL,
	considered text[] DEFAULT '{}'::text[] NOT NULL,
	signature uuid,
	discovered date,
	extended_until date,
	involves_maintenance boolean,
	maintenance_done boolean DEFAULT false NOT NULL,
	carried_over boolean GENERATED ALWAYS AS ((signature IS NULL)) STORED,
	CONSTRAINT deferral_basis_given CHECK ((basis ~ '\S'::text)),
	CONSTRAINT deferral_determination_dated CHECK ((determined_at >= '1900-01-01 00:00:00+00'::timestamp with time zone)),
	CONSTRAINT deferral_determination_signed CHECK ((determined_by ~ '\S'::text)),
	CONSTRAINT deferral_ends_later CHECK ((until > determined_at)),
	CONSTRAINT deferral_entry_given CHECK ((entry ~ '\S'::text)),
	CONSTRAINT deferral_pkey PRIMARY KEY (organization, id),
	CONSTRAINT deferral_placard_given CHECK ((placard ~ '\S'::text)),
	CONSTRAINT deferral_removal_dated CHECK (((removed_on IS NULL) OR ((method)::text = 'removed'::text))),
	CONSTRAINT deferral_signature_key UNIQUE (organization, signature),
	CONSTRAINT deferral_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk(organization, id),
	CONSTRAINT deferral_squawk_key UNIQUE (organization, id, squawk)
);
ALTER TABLE deferral ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY deferral_of_organization ON deferral FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER deferral_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON deferral FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER deferral_signed BEFORE INSERT ON deferral FOR EACH ROW WHEN ((new.signature IS NOT NULL)) EXECUTE FUNCTION sign_deferral();

CREATE TABLE delivery (
	organization uuid NOT NULL,
	webhook uuid NOT NULL,
	place bigint NOT NULL,
	lane uuid NOT NULL,
	state delivery_state NOT NULL,
	attempts integer NOT NULL,
	queued_at timestamp with time zone NOT NULL,
	tried_at timestamp with time zone,
	next_at timestamp with time zone,
	status integer,
	answer text NOT NULL,
	CONSTRAINT delivery_attempts_from_zero CHECK ((attempts >= 0)),
	CONSTRAINT delivery_pkey PRIMARY KEY (organization, webhook, place)
);
CREATE INDEX delivery_dead ON delivery USING btree (organization, webhook, place) WHERE ((state)::text = 'dead'::text);
CREATE INDEX delivery_pending ON delivery USING btree (organization, webhook, lane, place) WHERE ((state)::text = 'pending'::text);
ALTER TABLE delivery ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY delivery_of_organization ON delivery FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER delivery_kept BEFORE DELETE OR TRUNCATE ON delivery FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE delivery_lane (
	organization uuid NOT NULL,
	webhook uuid NOT NULL,
	lane uuid NOT NULL,
	due timestamp with time zone,
	holder uuid,
	CONSTRAINT delivery_lane_held_until CHECK (((holder IS NULL) OR (due IS NOT NULL))),
	CONSTRAINT delivery_lane_pkey PRIMARY KEY (organization, webhook, lane)
);
CREATE INDEX delivery_lane_due ON delivery_lane USING btree (due) WHERE (due IS NOT NULL);
ALTER TABLE delivery_lane ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY delivery_lane_added ON delivery_lane FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY delivery_lane_moved ON delivery_lane FOR UPDATE USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE POLICY delivery_lane_seen ON delivery_lane FOR SELECT USING ((organization = asking_organization()) OR asking_keeper());
CREATE TRIGGER delivery_lane_kept BEFORE DELETE OR TRUNCATE ON delivery_lane FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE determination (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	flight uuid NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	verdict verdict NOT NULL,
	record text NOT NULL,
	CONSTRAINT determination_flight_fkey FOREIGN KEY (organization, flight) REFERENCES flight(organization, id),
	CONSTRAINT determination_pkey PRIMARY KEY (organization, id)
);
CREATE INDEX determination_of_flight ON determination USING btree (organization, flight, id);
ALTER TABLE determination ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY determination_of_organization ON determination FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER determination_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON determination FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE event (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	kind text NOT NULL,
	aircraft uuid,
	subject uuid NOT NULL,
	at timestamp with time zone NOT NULL,
	changes jsonb NOT NULL,
	place bigint NOT NULL,
	by text NOT NULL,
	CONSTRAINT event_pkey PRIMARY KEY (organization, place),
	CONSTRAINT event_place_from_one CHECK ((place > 0))
);
ALTER TABLE event ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY event_of_organization ON event FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER event_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON event FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE flight (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	aircraft uuid NOT NULL,
	from_base uuid,
	to_base uuid,
	departs timestamp with time zone NOT NULL,
	arrives timestamp with time zone NOT NULL,
	rules flight_rules NOT NULL,
	facts jsonb NOT NULL,
	purpose text NOT NULL,
	state flight_state NOT NULL,
	planned_by text NOT NULL,
	light_day boolean,
	light_night boolean,
	light_sunset_to_sunrise boolean,
	in_alaska boolean,
	zone text NOT NULL,
	hold_verdict verdict NOT NULL,
	hold_rows text[] NOT NULL,
	hold_rules text NOT NULL,
	hold_at timestamp with time zone NOT NULL,
	version integer NOT NULL,
	legs jsonb,
	hold_legs jsonb,
	hold_blocks uuid[] DEFAULT '{}'::uuid[] NOT NULL,
	series uuid,
	sequence integer DEFAULT 1 NOT NULL,
	changed_at timestamp with time zone DEFAULT now() NOT NULL,
	CONSTRAINT flight_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT flight_from_fkey FOREIGN KEY (organization, from_base) REFERENCES base(organization, id),
	CONSTRAINT flight_hold_legs CHECK (
CASE jsonb_typeof(hold_legs)
    WHEN 'array'::text THEN (jsonb_array_length(hold_legs) = jsonb_array_length(legs))
    ELSE ((hold_legs IS NULL) AND (COALESCE(jsonb_array_length(legs), 1) = 1))
END),
	CONSTRAINT flight_legs CHECK (
CASE jsonb_typeof(legs)
    WHEN 'array'::text THEN ((jsonb_array_length(legs) >= 1) AND (jsonb_array_length(legs) <= 20))
    ELSE ((legs IS NULL) AND (from_base IS NOT NULL) AND (to_base IS NOT NULL))
END),
	CONSTRAINT flight_pkey PRIMARY KEY (organization, id),
	CONSTRAINT flight_to_fkey FOREIGN KEY (organization, to_base) REFERENCES base(organization, id),
	CONSTRAINT flight_window CHECK ((arrives > departs))
) WITH (fillfactor=70);
CREATE INDEX flight_called_off ON flight USING btree (organization, arrives) WHERE ((state)::text = 'cancelled'::text);
CREATE INDEX flight_of_aircraft ON flight USING btree (organization, aircraft);
CREATE INDEX flight_of_series ON flight USING btree (organization, series, departs) WHERE (series IS NOT NULL);
CREATE INDEX flight_planned ON flight USING btree (organization, aircraft, arrives) WHERE ((state)::text = 'planned'::text);
CREATE INDEX flight_to_come ON flight USING btree (organization, arrives) WHERE ((state)::text = 'planned'::text);
ALTER TABLE flight ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY flight_of_organization ON flight FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER flight_kept BEFORE DELETE OR TRUNCATE ON flight FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE flight_shown (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	flight uuid NOT NULL,
	person uuid NOT NULL,
	name text NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	verdict verdict NOT NULL,
	shown text NOT NULL,
	CONSTRAINT flight_shown_flight_fkey FOREIGN KEY (organization, flight) REFERENCES flight(organization, id),
	CONSTRAINT flight_shown_pkey PRIMARY KEY (organization, id)
);
CREATE INDEX flight_shown_of_flight ON flight_shown USING btree (organization, flight, id);
ALTER TABLE flight_shown ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY flight_shown_of_organization ON flight_shown FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER flight_shown_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON flight_shown FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE idempotency (
	organization uuid NOT NULL,
	token uuid NOT NULL,
	key text NOT NULL,
	request bytea NOT NULL,
	answer bytea NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT idempotency_pkey PRIMARY KEY (organization, token, key)
);
ALTER TABLE idempotency ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY idempotency_of_organization ON idempotency FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER idempotency_kept BEFORE UPDATE OR TRUNCATE ON idempotency FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER idempotency_kept_for_a_month BEFORE DELETE ON idempotency FOR EACH ROW WHEN ((old.at > (clock_timestamp() - '30 days'::interval))) EXECUTE FUNCTION refuse();

CREATE TABLE linked_identity (
	digest bytea NOT NULL,
	person uuid NOT NULL,
	issuer text NOT NULL,
	subject text NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT linked_identity_digest_is_sha256 CHECK ((octet_length(digest) = 32)),
	CONSTRAINT linked_identity_person_fkey FOREIGN KEY (person) REFERENCES account(id),
	CONSTRAINT linked_identity_pkey PRIMARY KEY (digest)
);
CREATE INDEX linked_identity_of_person ON linked_identity USING btree (person);
ALTER TABLE linked_identity ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY linked_identity_added ON linked_identity FOR INSERT WITH CHECK (person = asking_person());
CREATE POLICY linked_identity_seen ON linked_identity FOR SELECT USING ((person = asking_person()) OR (digest = presented_digest()));
CREATE TRIGGER linked_identity_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON linked_identity FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE log_checkpoint (
	organization uuid NOT NULL,
	size bigint NOT NULL,
	signer text NOT NULL,
	at timestamp with time zone NOT NULL,
	signed text NOT NULL,
	CONSTRAINT log_checkpoint_pkey PRIMARY KEY (organization, size, signer)
);
ALTER TABLE log_checkpoint ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY log_checkpoint_of_organization ON log_checkpoint FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER log_checkpoint_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON log_checkpoint FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE log_entry (
	organization uuid NOT NULL,
	number bigint NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	record text NOT NULL,
	key text NOT NULL,
	version integer NOT NULL,
	digest bytea NOT NULL,
	hashes bytea NOT NULL,
	CONSTRAINT log_entry_digest_is_sha256 CHECK ((octet_length(digest) = 32)),
	CONSTRAINT log_entry_pkey PRIMARY KEY (organization, number)
);
CREATE INDEX log_entry_of_record ON log_entry USING btree (organization, record, key, number);
ALTER TABLE log_entry ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY log_entry_of_organization ON log_entry FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER log_entry_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON log_entry FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE log_head (
	organization uuid NOT NULL,
	size bigint NOT NULL,
	frontier bytea[] NOT NULL,
	CONSTRAINT log_head_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT log_head_pkey PRIMARY KEY (organization)
) WITH (fillfactor=10);
ALTER TABLE log_head ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY log_head_begun ON log_head FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY log_head_moved ON log_head FOR UPDATE USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE POLICY log_head_seen ON log_head FOR SELECT USING ((organization = asking_organization()) OR asking_keeper());
CREATE TRIGGER log_head_kept BEFORE DELETE OR TRUNCATE ON log_head FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER log_head_only_grows BEFORE UPDATE ON log_head FOR EACH ROW WHEN ((new.size < old.size)) EXECUTE FUNCTION refuse();

CREATE TABLE membership (
	organization uuid NOT NULL,
	person uuid NOT NULL,
	name text NOT NULL,
	roles role[] NOT NULL,
	since timestamp with time zone NOT NULL,
	until timestamp with time zone,
	version integer NOT NULL,
	CONSTRAINT membership_ends_later CHECK ((until >= since)),
	CONSTRAINT membership_entry_fkey FOREIGN KEY (organization, person, version) REFERENCES membership_history(organization, person, number) DEFERRABLE INITIALLY DEFERRED,
	CONSTRAINT membership_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT membership_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT membership_person_fkey FOREIGN KEY (person) REFERENCES account(id),
	CONSTRAINT membership_pkey PRIMARY KEY (organization, person),
	CONSTRAINT membership_roles_given CHECK ((cardinality(roles) > 0))
);
CREATE INDEX membership_of_person ON membership USING btree (person);
ALTER TABLE membership ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY membership_added ON membership FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY membership_changed ON membership FOR UPDATE USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE POLICY membership_seen ON membership FOR SELECT USING ((organization = asking_organization()) OR (person = asking_person()));
CREATE TRIGGER membership_kept BEFORE DELETE OR TRUNCATE ON membership FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER membership_last_administrator AFTER UPDATE ON membership FOR EACH ROW WHEN (((old.until IS NULL) AND ('administrator'::text = ANY ((old.roles)::text[])) AND ((new.until IS NOT NULL) OR (NOT ('administrator'::text = ANY ((new.roles)::text[])))))) EXECUTE FUNCTION keep_an_administrator();
CREATE TRIGGER membership_moves_by_versions BEFORE UPDATE ON membership FOR EACH ROW WHEN ((new.version <> (old.version + 1))) EXECUTE FUNCTION refuse();

CREATE TABLE membership_history (
	organization uuid NOT NULL,
	person uuid NOT NULL,
	number integer NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	name text NOT NULL,
	roles role[] NOT NULL,
	until timestamp with time zone,
	CONSTRAINT membership_history_person_fkey FOREIGN KEY (organization, person) REFERENCES membership(organization, person),
	CONSTRAINT membership_history_pkey PRIMARY KEY (organization, person, number)
);
ALTER TABLE membership_history ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY membership_history_of_organization ON membership_history FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER membership_history_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON membership_history FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE meter_entry (
	organization uuid NOT NULL,
	aircraft uuid NOT NULL,
	meter meter NOT NULL,
	number integer NOT NULL,
	hours double precision NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	walkaround uuid,
	flight uuid,
	because text NOT NULL,
	CONSTRAINT meter_entry_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT meter_entry_flight_fkey FOREIGN KEY (organization, flight) REFERENCES flight(organization, id),
	CONSTRAINT meter_entry_hours_range CHECK (((hours >= (0)::double precision) AND (hours <= (200000)::double precision))),
	CONSTRAINT meter_entry_pkey PRIMARY KEY (organization, aircraft, meter, number),
	CONSTRAINT meter_entry_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround(organization, id)
);
ALTER TABLE meter_entry ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY meter_entry_of_organization ON meter_entry FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER meter_entry_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON meter_entry FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER meter_entry_follows_the_book BEFORE INSERT ON meter_entry FOR EACH ROW EXECUTE FUNCTION refuse_unlike_the_book();

CREATE TABLE note (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	person uuid NOT NULL,
	cause text NOT NULL,
	kind note_kind NOT NULL,
	letter jsonb,
	departs timestamp with time zone,
	place bigint NOT NULL,
	at timestamp with time zone NOT NULL,
	state note_state NOT NULL,
	due_at timestamp with time zone NOT NULL,
	next_at timestamp with time zone NOT NULL,
	attempts integer NOT NULL,
	sent_at timestamp with time zone,
	trace text NOT NULL,
	CONSTRAINT note_person_fkey FOREIGN KEY (organization, person) REFERENCES membership(organization, person),
	CONSTRAINT note_pkey PRIMARY KEY (organization, id),
	CONSTRAINT note_says_something CHECK (((letter IS NULL) = ((state)::text = 'empty'::text))),
	CONSTRAINT note_sent_at_an_instant CHECK (((sent_at IS NOT NULL) = ((state)::text = 'sent'::text))),
	CONSTRAINT note_written_once UNIQUE (organization, person, cause)
);
CREATE INDEX note_digests ON note USING btree (organization, person, at) WHERE ((kind)::text = 'digest'::text);
CREATE INDEX note_to_send ON note USING btree (organization, next_at, id) WHERE ((state)::text = 'waiting'::text);
ALTER TABLE note ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY note_of_organization ON note FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER note_ends_once BEFORE UPDATE ON note FOR EACH ROW WHEN (((old.state)::text <> 'waiting'::text)) EXECUTE FUNCTION refuse();
CREATE TRIGGER note_kept BEFORE DELETE OR TRUNCATE ON note FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER note_words_kept BEFORE UPDATE OF organization, id, person, cause, kind, letter, departs, place, at ON note FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE note_cursor (
	organization uuid NOT NULL,
	place bigint NOT NULL,
	CONSTRAINT note_cursor_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT note_cursor_pkey PRIMARY KEY (organization)
);
ALTER TABLE note_cursor ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY note_cursor_of_organization ON note_cursor FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER note_cursor_goes_on BEFORE UPDATE ON note_cursor FOR EACH ROW WHEN ((new.place < old.place)) EXECUTE FUNCTION refuse();
CREATE TRIGGER note_cursor_kept BEFORE DELETE OR TRUNCATE ON note_cursor FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE notice_preference (
	organization uuid NOT NULL,
	person uuid NOT NULL,
	version integer NOT NULL,
	document jsonb NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT notice_preference_person_fkey FOREIGN KEY (organization, person) REFERENCES membership(organization, person),
	CONSTRAINT notice_preference_pkey PRIMARY KEY (organization, person)
);
ALTER TABLE notice_preference ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY notice_preference_of_organization ON notice_preference FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER notice_preference_kept BEFORE DELETE OR TRUNCATE ON notice_preference FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER notice_preference_moves_by_versions BEFORE UPDATE ON notice_preference FOR EACH ROW WHEN ((new.version <> (old.version + 1))) EXECUTE FUNCTION refuse();

CREATE TABLE organization (
	id uuid NOT NULL,
	name text NOT NULL,
	CONSTRAINT organization_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT organization_pkey PRIMARY KEY (id)
);
ALTER TABLE organization ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY organization_added ON organization FOR INSERT WITH CHECK asking_keeper();
CREATE POLICY organization_of_person ON organization FOR SELECT USING (EXISTS ( SELECT
   FROM membership m
  WHERE ((m.organization = organization.id) AND (m.person = asking_person()))));
CREATE POLICY organization_seen ON organization FOR SELECT USING ((id = asking_organization()) OR asking_keeper());

CREATE TABLE passkey (
	person uuid NOT NULL,
	id uuid NOT NULL,
	handle bytea NOT NULL,
	name text NOT NULL,
	record jsonb NOT NULL,
	version integer NOT NULL,
	added_at timestamp with time zone NOT NULL,
	used_at timestamp with time zone,
	removed_at timestamp with time zone,
	CONSTRAINT passkey_handle_key UNIQUE (handle),
	CONSTRAINT passkey_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT passkey_person_fkey FOREIGN KEY (person) REFERENCES account(id),
	CONSTRAINT passkey_pkey PRIMARY KEY (person, id)
);
ALTER TABLE passkey ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY passkey_of_person ON passkey FOR ALL USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE TRIGGER passkey_kept BEFORE DELETE OR TRUNCATE ON passkey FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER passkey_made_kept BEFORE UPDATE OF person, id, handle, name, added_at ON passkey FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER passkey_stays_removed BEFORE UPDATE ON passkey FOR EACH ROW WHEN ((old.removed_at IS NOT NULL)) EXECUTE FUNCTION refuse();

CREATE TABLE password (
	person uuid NOT NULL,
	phc text NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT password_is_hashed CHECK ((phc ~ '^\$argon2id\$v=19\$m=\d+,t=\d+,p=\d+\$[A-Za-z0-9+/]{22,}\$[A-Za-z0-9+/]{43,}$'::text)),
	CONSTRAINT password_person_fkey FOREIGN KEY (person) REFERENCES account(id),
	CONSTRAINT password_pkey PRIMARY KEY (person)
);
ALTER TABLE password ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY password_added ON password FOR INSERT WITH CHECK (person = asking_person());
CREATE POLICY password_changed ON password FOR UPDATE USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE POLICY password_seen ON password FOR SELECT USING ((person = asking_person()) OR (EXISTS ( SELECT
   FROM account a
  WHERE ((a.id = password.person) AND (a.email_digest = presented_email())))));
CREATE TRIGGER password_kept BEFORE DELETE OR TRUNCATE ON password FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE password_link (
	digest bytea NOT NULL,
	person uuid NOT NULL,
	at timestamp with time zone NOT NULL,
	until timestamp with time zone NOT NULL,
	used_at timestamp with time zone,
	first boolean NOT NULL,
	CONSTRAINT password_link_digest_is_sha256 CHECK ((octet_length(digest) = 32)),
	CONSTRAINT password_link_person_fkey FOREIGN KEY (person) REFERENCES account(id),
	CONSTRAINT password_link_pkey PRIMARY KEY (digest)
);
CREATE INDEX password_link_of_person ON password_link USING btree (person);
ALTER TABLE password_link ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY password_link_added ON password_link FOR INSERT WITH CHECK ((person = asking_person()) OR (EXISTS ( SELECT
   FROM membership m
  WHERE ((m.organization = asking_organization()) AND (m.person = password_link.person)))) OR (EXISTS ( SELECT
   FROM account a
  WHERE ((a.id = password_link.person) AND (a.email_digest = presented_email()) AND asking_keeper()))));
CREATE POLICY password_link_seen ON password_link FOR SELECT USING ((digest = presented_digest()) OR (person = asking_person()));
CREATE POLICY password_link_used ON password_link FOR UPDATE USING ((digest = presented_digest()) OR (person = asking_person())) WITH CHECK (person = asking_person());
CREATE TRIGGER password_link_kept BEFORE DELETE OR TRUNCATE ON password_link FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER password_link_made_kept BEFORE UPDATE OF digest, person, at, until, first ON password_link FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER password_link_stays_used BEFORE UPDATE ON password_link FOR EACH ROW WHEN ((old.used_at IS NOT NULL)) EXECUTE FUNCTION refuse();

CREATE TABLE photo (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	squawk uuid,
	walkaround uuid,
	result uuid,
	signature uuid,
	type photo_type NOT NULL,
	digest bytea NOT NULL,
	thumbnail bytea,
	size integer NOT NULL,
	width integer NOT NULL,
	height integer NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	CONSTRAINT photo_digests_are_sha256 CHECK (((length(digest) = 32) AND (length(thumbnail) = 32))),
	CONSTRAINT photo_is_seen CHECK (((((type)::text = 'image/jpeg'::text) = (thumbnail IS NOT NULL)) AND (((type)::text = 'image/jpeg'::text) = ((width > 0) AND (height > 0))) AND (width >= 0) AND (height >= 0))),
	CONSTRAINT photo_of_one_thing CHECK (((num_nonnulls(squawk, result, signature) = 1) AND ((walkaround IS NULL) = (result IS NULL)))),
	CONSTRAINT photo_pkey PRIMARY KEY (organization, id),
	CONSTRAINT photo_signature_fkey FOREIGN KEY (organization, signature) REFERENCES signature(organization, id),
	CONSTRAINT photo_size_range CHECK (((size >= 1) AND (size <= 16777216))),
	CONSTRAINT photo_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk(organization, id),
	CONSTRAINT photo_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround(organization, id)
);
CREATE INDEX photo_of_signature ON photo USING btree (organization, signature, id) WHERE (signature IS NOT NULL);
CREATE INDEX photo_of_squawk ON photo USING btree (organization, squawk, id) WHERE (squawk IS NOT NULL);
CREATE INDEX photo_of_walkaround ON photo USING btree (organization, walkaround, id) WHERE (walkaround IS NOT NULL);
CREATE INDEX photo_with_digest ON photo USING btree (organization, digest);
CREATE INDEX photo_with_thumbnail ON photo USING btree (organization, thumbnail) WHERE (thumbnail IS NOT NULL);
ALTER TABLE photo ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY photo_of_organization ON photo FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER photo_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON photo FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER photo_of_a_result BEFORE INSERT ON photo FOR EACH ROW WHEN (((new.walkaround IS NOT NULL) AND (new.result IS NOT NULL))) EXECUTE FUNCTION refuse_unreported();

CREATE TABLE recovery_code (
	person uuid NOT NULL,
	digest bytea NOT NULL,
	at timestamp with time zone NOT NULL,
	used_at timestamp with time zone,
	CONSTRAINT recovery_code_digest_is_sha256 CHECK ((octet_length(digest) = 32)),
	CONSTRAINT recovery_code_person_fkey FOREIGN KEY (person) REFERENCES account(id),
	CONSTRAINT recovery_code_pkey PRIMARY KEY (person, digest)
);
ALTER TABLE recovery_code ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY recovery_code_of_person ON recovery_code FOR ALL USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE TRIGGER recovery_code_kept BEFORE DELETE OR TRUNCATE ON recovery_code FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER recovery_code_made_kept BEFORE UPDATE OF person, digest, at ON recovery_code FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER recovery_code_stays_used BEFORE UPDATE ON recovery_code FOR EACH ROW WHEN ((old.used_at IS NOT NULL)) EXECUTE FUNCTION refuse();

CREATE TABLE security_event (
	id uuid NOT NULL,
	organization uuid,
	person uuid,
	email bytea,
	kind security_event_kind NOT NULL,
	about text NOT NULL,
	by text NOT NULL,
	address text NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT security_event_is_somebodys CHECK ((num_nonnulls(organization, person, email) > 0)),
	CONSTRAINT security_event_pkey PRIMARY KEY (id)
);
CREATE INDEX security_event_of_organization ON security_event USING btree (organization, id) WHERE (organization IS NOT NULL);
CREATE INDEX security_event_of_person ON security_event USING btree (person, id) WHERE (organization IS NULL);
ALTER TABLE security_event ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY security_event_added ON security_event FOR INSERT WITH CHECK 
CASE
    WHEN (organization IS NOT NULL) THEN (organization = asking_organization())
    ELSE COALESCE((person = asking_person()), (email = presented_email()))
END;
CREATE POLICY security_event_seen ON security_event FOR SELECT USING ((organization = asking_organization()) OR ((organization IS NULL) AND (person = asking_person())));
CREATE TRIGGER security_event_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON security_event FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE session (
	person uuid NOT NULL,
	id uuid NOT NULL,
	digest bytea NOT NULL,
	organization uuid,
	began timestamp with time zone NOT NULL,
	seen timestamp with time zone NOT NULL,
	until timestamp with time zone NOT NULL,
	ended_at timestamp with time zone,
	factor text NOT NULL,
	agent text NOT NULL,
	address text NOT NULL,
	CONSTRAINT session_digest_is_sha256 CHECK ((octet_length(digest) = 32)),
	CONSTRAINT session_digest_key UNIQUE (digest),
	CONSTRAINT session_organization_fkey FOREIGN KEY (organization, person) REFERENCES membership(organization, person),
	CONSTRAINT session_person_fkey FOREIGN KEY (person) REFERENCES account(id),
	CONSTRAINT session_pkey PRIMARY KEY (person, id)
);
ALTER TABLE session ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY session_added ON session FOR INSERT WITH CHECK (person = asking_person());
CREATE POLICY session_changed ON session FOR UPDATE USING (person = asking_person()) WITH CHECK (person = asking_person());
CREATE POLICY session_ended_seen ON session FOR SELECT USING (asking_keeper() AND (LEAST(until, ended_at) <= (now() - '30 days'::interval)));
CREATE POLICY session_forgotten ON session FOR DELETE USING asking_keeper();
CREATE POLICY session_seen ON session FOR SELECT USING ((person = asking_person()) OR (digest = presented_digest()));
CREATE TRIGGER session_kept BEFORE TRUNCATE ON session FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER session_kept_for_a_month BEFORE DELETE ON session FOR EACH ROW WHEN ((LEAST(old.until, old.ended_at) > (clock_timestamp() - '30 days'::interval))) EXECUTE FUNCTION refuse();
CREATE TRIGGER session_made_kept BEFORE UPDATE OF person, id, digest, organization, began, until, factor, agent, address ON session FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER session_stays_ended BEFORE UPDATE ON session FOR EACH ROW WHEN ((old.ended_at IS NOT NULL)) EXECUTE FUNCTION refuse();

CREATE TABLE signature (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	aircraft uuid NOT NULL,
	squawk uuid,
	action signed_action NOT NULL,
	person uuid NOT NULL,
	name text NOT NULL,
	certificate uuid NOT NULL,
	certificate_version integer NOT NULL,
	certificate_kind certificate_kind NOT NULL,
	certificate_number text NOT NULL,
	ratings text[] NOT NULL,
	authority jsonb NOT NULL,
	digest bytea NOT NULL,
	text text NOT NULL,
	proven proof NOT NULL,
	day date NOT NULL,
	at timestamp with time zone NOT NULL,
	corrects uuid,
	CONSTRAINT signature_about_squawk CHECK (((squawk IS NOT NULL) OR ((action)::text = ANY (ARRAY['inspect'::text, 'correct'::text])))),
	CONSTRAINT signature_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT signature_aircraft_key UNIQUE (organization, id, aircraft),
	CONSTRAINT signature_authority_given CHECK ((jsonb_array_length(authority) > 0)),
	CONSTRAINT signature_certificate_fkey FOREIGN KEY (organization, certificate, certificate_version, person, certificate_kind, certificate_number, ratings) REFERENCES certificate(organization, id, version, person, kind, number, ratings),
	CONSTRAINT signature_correction_corrects CHECK ((((action)::text = 'correct'::text) = (corrects IS NOT NULL))),
	CONSTRAINT signature_corrects_fkey FOREIGN KEY (organization, corrects, aircraft) REFERENCES signature(organization, id, aircraft),
	CONSTRAINT signature_digest_of_text CHECK ((digest = sha256(convert_to(text, 'UTF8'::name)))),
	CONSTRAINT signature_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT signature_pkey PRIMARY KEY (organization, id),
	CONSTRAINT signature_says_what_it_is CHECK ((((((text)::jsonb ->> 'organization'::text) = (organization)::text) AND (((text)::jsonb ->> 'aircraft'::text) = (aircraft)::text) AND (NOT (((text)::jsonb ->> 'squawk'::text) IS DISTINCT FROM (squawk)::text)) AND ((((text)::jsonb -> 'act'::text) ->> 'action'::text) = (action)::text) AND (NOT ((((text)::jsonb -> 'act'::text) ->> 'corrects'::text) IS DISTINCT FROM (corrects)::text)) AND ((((text)::jsonb -> 'signer'::text) ->> 'person'::text) = (person)::text) AND ((((text)::jsonb -> 'signer'::text) ->> 'name'::text) = name) AND ((((text)::jsonb -> 'signer'::text) ->> 'certificate'::text) = (certificate)::text) AND ((((text)::jsonb -> 'signer'::text) ->> 'kind'::text) = (certificate_kind)::text) AND ((((text)::jsonb -> 'signer'::text) ->> 'number'::text) = certificate_number)) IS TRUE)),
	CONSTRAINT signature_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk(organization, id),
	CONSTRAINT signature_squawk_key UNIQUE (organization, id, squawk, action)
);
CREATE INDEX signature_of_aircraft ON signature USING btree (organization, aircraft, id);
CREATE INDEX signature_of_squawk ON signature USING btree (organization, squawk, id) WHERE (squawk IS NOT NULL);
ALTER TABLE signature ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY signature_of_organization ON signature FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER signature_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON signature FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER signature_certificate_in_force BEFORE INSERT ON signature FOR EACH ROW EXECUTE FUNCTION hold_certificate();

CREATE TABLE squawk (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	aircraft uuid NOT NULL,
	number integer NOT NULL,
	kind squawk_kind NOT NULL,
	unit text NOT NULL,
	item text NOT NULL,
	words text NOT NULL,
	state squawk_state NOT NULL,
	deferral uuid,
	reported_by text NOT NULL,
	reported_at timestamp with time zone NOT NULL,
	version integer NOT NULL,
	entry integer GENERATED ALWAYS AS (NULLIF(version, 1)) STORED,
	confirmed boolean DEFAULT false NOT NULL,
	duplicate_of uuid,
	progress jsonb DEFAULT '{}'::jsonb NOT NULL,
	expected_on date,
	expected_words text DEFAULT ''::text NOT NULL,
	CONSTRAINT squawk_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT squawk_deferral_fkey FOREIGN KEY (organization, deferral, id) REFERENCES deferral(organization, id, squawk) DEFERRABLE INITIALLY DEFERRED,
	CONSTRAINT squawk_deferral_when_deferred CHECK (
CASE
    WHEN ((state)::text = 'deferred'::text) THEN ((deferral IS NOT NULL) AND ((unit = ''::text) <> (item = ''::text)))
    ELSE (deferral IS NULL)
END),
	CONSTRAINT squawk_duplicate_closed CHECK (((duplicate_of IS NULL) OR (((state)::text = 'closed'::text) AND (duplicate_of <> id)))),
	CONSTRAINT squawk_duplicate_fkey FOREIGN KEY (organization, duplicate_of) REFERENCES squawk(organization, id),
	CONSTRAINT squawk_entry_fkey FOREIGN KEY (organization, id, entry) REFERENCES squawk_history(organization, squawk, number) DEFERRABLE INITIALLY DEFERRED,
	CONSTRAINT squawk_expected CHECK (
CASE
    WHEN (expected_on IS NULL) THEN (expected_words = ''::text)
    ELSE ((expected_words <> ''::text) AND ((state)::text <> 'closed'::text))
END),
	CONSTRAINT squawk_number_key UNIQUE (organization, aircraft, number),
	CONSTRAINT squawk_pkey PRIMARY KEY (organization, id),
	CONSTRAINT squawk_words_given CHECK ((words <> ''::text))
) WITH (fillfactor=90);
CREATE UNIQUE INDEX squawk_one_open_deferral ON squawk USING btree (organization, aircraft, unit, item) WHERE ((state)::text = 'deferred'::text);
CREATE INDEX squawk_open ON squawk USING btree (organization, aircraft, number) WHERE ((state)::text <> 'closed'::text);
ALTER TABLE squawk ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY squawk_of_organization ON squawk FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER squawk_kept BEFORE DELETE OR TRUNCATE ON squawk FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER squawk_moves_by_versions BEFORE UPDATE ON squawk FOR EACH ROW WHEN ((new.version <> (old.version + 1))) EXECUTE FUNCTION refuse();
CREATE TRIGGER squawk_progress_signed BEFORE INSERT OR UPDATE OF progress ON squawk FOR EACH ROW WHEN ((new.progress <> '{}'::jsonb)) EXECUTE FUNCTION sign_progress();
CREATE TRIGGER squawk_report_kept BEFORE UPDATE OF organization, id, aircraft, number, words, reported_by, reported_at ON squawk FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE squawk_history (
	organization uuid NOT NULL,
	squawk uuid NOT NULL,
	number integer NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	step squawk_step NOT NULL,
	state squawk_state NOT NULL,
	words text NOT NULL,
	signature uuid,
	expected_on date,
	CONSTRAINT squawk_history_expected CHECK (((expected_on IS NULL) OR ((step)::text = 'expect'::text))),
	CONSTRAINT squawk_history_pkey PRIMARY KEY (organization, squawk, number),
	CONSTRAINT squawk_history_signature_fkey FOREIGN KEY (organization, signature, squawk, step) REFERENCES signature(organization, id, squawk, action),
	CONSTRAINT squawk_history_signed CHECK (((signature IS NOT NULL) OR ((step)::text <> ALL (ARRAY['out-of-use'::text, 'extend'::text, 'carry-on'::text, 'work'::text, 'return-to-service'::text, 'check-flight'::text, 'correct'::text])))),
	CONSTRAINT squawk_history_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk(organization, id)
);
CREATE UNIQUE INDEX squawk_history_signature_once ON squawk_history USING btree (organization, signature) WHERE (signature IS NOT NULL);
ALTER TABLE squawk_history ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY squawk_history_of_organization ON squawk_history FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER squawk_history_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON squawk_history FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE standing (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	version integer NOT NULL,
	person uuid NOT NULL,
	name text NOT NULL,
	aircraft uuid,
	kind standing_kind NOT NULL,
	valid_from date NOT NULL,
	valid_until date,
	ended boolean NOT NULL,
	entered_by uuid NOT NULL,
	by text NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT standing_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT standing_by_another CHECK ((entered_by <> person)),
	CONSTRAINT standing_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT standing_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT standing_pkey PRIMARY KEY (organization, id, version),
	CONSTRAINT standing_version_counts CHECK ((version > 0)),
	CONSTRAINT standing_window CHECK ((valid_until >= valid_from))
);
CREATE INDEX standing_of_person ON standing USING btree (organization, person, id, version);
ALTER TABLE standing ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY standing_of_organization ON standing FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER standing_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON standing FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER standing_follows BEFORE INSERT ON standing FOR EACH ROW EXECUTE FUNCTION follow_standing();

CREATE TABLE stop_link (
	digest bytea NOT NULL,
	organization uuid NOT NULL,
	person uuid NOT NULL,
	kind note_kind,
	at timestamp with time zone NOT NULL,
	CONSTRAINT stop_link_digest_is_sha256 CHECK ((octet_length(digest) = 32)),
	CONSTRAINT stop_link_person_fkey FOREIGN KEY (organization, person) REFERENCES membership(organization, person),
	CONSTRAINT stop_link_pkey PRIMARY KEY (digest)
);
ALTER TABLE stop_link ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY stop_link_added ON stop_link FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY stop_link_seen ON stop_link FOR SELECT USING (digest = presented_digest());
CREATE TRIGGER stop_link_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON stop_link FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE token (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	digest bytea NOT NULL,
	name text NOT NULL,
	roles role[] NOT NULL,
	maker uuid,
	own boolean DEFAULT false NOT NULL,
	actions text[],
	made_at timestamp with time zone,
	until timestamp with time zone,
	CONSTRAINT token_digest_is_sha256 CHECK ((octet_length(digest) = 32)),
	CONSTRAINT token_digest_key UNIQUE (digest),
	CONSTRAINT token_ends_within_a_year CHECK ((until <= (made_at + '366 days'::interval))),
	CONSTRAINT token_maker_fkey FOREIGN KEY (organization, maker) REFERENCES membership(organization, person),
	CONSTRAINT token_name_given CHECK ((name ~ '\S'::text)),
	CONSTRAINT token_of_a_person_ends CHECK (((maker IS NULL) OR ((until IS NOT NULL) AND (made_at IS NOT NULL)))),
	CONSTRAINT token_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT token_own_has_a_maker CHECK (((NOT own) OR (maker IS NOT NULL))),
	CONSTRAINT token_pkey PRIMARY KEY (organization, id),
	CONSTRAINT token_roles_given CHECK ((cardinality(roles) > 0))
);
ALTER TABLE token ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY token_added ON token FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY token_seen ON token FOR SELECT USING ((organization = asking_organization()) OR (digest = presented_digest()));
CREATE TRIGGER token_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON token FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE token_revocation (
	organization uuid NOT NULL,
	token uuid NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	CONSTRAINT token_revocation_pkey PRIMARY KEY (organization, token),
	CONSTRAINT token_revocation_token_fkey FOREIGN KEY (organization, token) REFERENCES token(organization, id)
);
ALTER TABLE token_revocation ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY token_revocation_of_organization ON token_revocation FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER token_revocation_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON token_revocation FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE walkaround (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	aircraft uuid NOT NULL,
	flight uuid,
	checklist text NOT NULL,
	place text NOT NULL,
	moisture boolean,
	state walkaround_state NOT NULL,
	started_by text NOT NULL,
	started_at timestamp with time zone NOT NULL,
	completed_by text NOT NULL,
	completed_at timestamp with time zone,
	left_open text[] NOT NULL,
	version integer NOT NULL,
	CONSTRAINT walkaround_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT walkaround_checklist_fkey FOREIGN KEY (organization, checklist) REFERENCES checklist(organization, digest),
	CONSTRAINT walkaround_completed_by_somebody CHECK (((((state)::text = 'completed'::text) = ((completed_at IS NOT NULL) AND (completed_by <> ''::text))) AND ((completed_at IS NULL) = (completed_by = ''::text)))),
	CONSTRAINT walkaround_flight_fkey FOREIGN KEY (organization, flight) REFERENCES flight(organization, id),
	CONSTRAINT walkaround_pkey PRIMARY KEY (organization, id)
) WITH (fillfactor=70);
CREATE INDEX walkaround_of_aircraft ON walkaround USING btree (organization, aircraft, id);
CREATE INDEX walkaround_of_flight ON walkaround USING btree (organization, flight, id) WHERE (flight IS NOT NULL);
ALTER TABLE walkaround ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY walkaround_of_organization ON walkaround FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER walkaround_completion_kept BEFORE UPDATE ON walkaround FOR EACH ROW WHEN ((((old.state)::text = 'completed'::text) AND (((((old.state)::text IS DISTINCT FROM (new.state)::text) OR (old.completed_by IS DISTINCT FROM new.completed_by)) OR (old.completed_at IS DISTINCT FROM new.completed_at)) OR (old.left_open IS DISTINCT FROM new.left_open)))) EXECUTE FUNCTION refuse();
CREATE TRIGGER walkaround_kept BEFORE DELETE OR TRUNCATE ON walkaround FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER walkaround_moves_by_versions BEFORE UPDATE ON walkaround FOR EACH ROW WHEN ((new.version <> (old.version + 1))) EXECUTE FUNCTION refuse();
CREATE TRIGGER walkaround_start_kept BEFORE UPDATE OF organization, id, aircraft, flight, checklist, place, moisture, started_by, started_at ON walkaround FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE walkaround_report (
	organization uuid NOT NULL,
	walkaround uuid NOT NULL,
	number integer NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	late boolean NOT NULL,
	ids uuid[] NOT NULL,
	results text NOT NULL,
	measured_ids uuid[] NOT NULL,
	measured text[] NOT NULL,
	measured_at timestamp with time zone[] NOT NULL,
	measured_values double precision[] NOT NULL,
	CONSTRAINT walkaround_report_measures_its_results CHECK (((measured_ids <@ ids) AND (cardinality(measured) = cardinality(measured_ids)) AND (cardinality(measured_at) = cardinality(measured_ids)) AND (cardinality(measured_values) = cardinality(measured_ids)) AND (array_position(measured, NULL::text) IS NULL) AND (array_position(measured_at, NULL::timestamp with time zone) IS NULL) AND (array_position(measured_values, NULL::double precision) IS NULL))),
	CONSTRAINT walkaround_report_number_counts CHECK ((number > 0)),
	CONSTRAINT walkaround_report_pkey PRIMARY KEY (organization, walkaround, number),
	CONSTRAINT walkaround_report_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround(organization, id)
);
ALTER TABLE walkaround_report ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY walkaround_report_of_organization ON walkaround_report FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER walkaround_report_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON walkaround_report FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER walkaround_report_result_once BEFORE INSERT ON walkaround_report FOR EACH ROW EXECUTE FUNCTION refuse_doubled_results();

CREATE TABLE walkaround_squawk (
	organization uuid NOT NULL,
	walkaround uuid NOT NULL,
	result uuid NOT NULL,
	squawk uuid NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	CONSTRAINT walkaround_squawk_pkey PRIMARY KEY (organization, walkaround, result),
	CONSTRAINT walkaround_squawk_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk(organization, id),
	CONSTRAINT walkaround_squawk_walkaround_fkey FOREIGN KEY (organization, walkaround) REFERENCES walkaround(organization, id)
);
CREATE INDEX walkaround_squawk_of_squawk ON walkaround_squawk USING btree (organization, squawk);
ALTER TABLE walkaround_squawk ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY walkaround_squawk_of_organization ON walkaround_squawk FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER walkaround_squawk_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON walkaround_squawk FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER walkaround_squawk_of_a_result BEFORE INSERT ON walkaround_squawk FOR EACH ROW EXECUTE FUNCTION refuse_unreported();

CREATE TABLE warning (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	aircraft uuid NOT NULL,
	thing text NOT NULL,
	due date NOT NULL,
	days integer NOT NULL,
	lead integer NOT NULL,
	what text NOT NULL,
	says text NOT NULL,
	squawk uuid,
	flights uuid[] NOT NULL,
	at timestamp with time zone NOT NULL,
	CONSTRAINT warning_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT warning_given_once UNIQUE (organization, aircraft, thing, due, lead),
	CONSTRAINT warning_pkey PRIMARY KEY (organization, id),
	CONSTRAINT warning_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk(organization, id)
);
ALTER TABLE warning ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY warning_of_organization ON warning FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER warning_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON warning FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE warning_leads (
	organization uuid NOT NULL,
	version integer NOT NULL,
	days integer[] NOT NULL,
	at timestamp with time zone NOT NULL,
	by text NOT NULL,
	CONSTRAINT warning_leads_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT warning_leads_pkey PRIMARY KEY (organization, version),
	CONSTRAINT warning_leads_range CHECK (((cardinality(days) <= 10) AND (0 <= ALL (days)) AND (365 >= ALL (days)))),
	CONSTRAINT warning_leads_version_counts CHECK ((version > 0))
);
ALTER TABLE warning_leads ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY warning_leads_of_organization ON warning_leads FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER warning_leads_append_only BEFORE DELETE OR UPDATE OR TRUNCATE ON warning_leads FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE webhook (
	organization uuid NOT NULL,
	id uuid NOT NULL,
	url text NOT NULL,
	kinds text[] NOT NULL,
	aircraft uuid,
	state webhook_state NOT NULL,
	by text NOT NULL,
	at timestamp with time zone NOT NULL,
	version integer NOT NULL,
	CONSTRAINT webhook_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft(organization, id),
	CONSTRAINT webhook_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT webhook_pkey PRIMARY KEY (organization, id),
	CONSTRAINT webhook_version_from_one CHECK ((version > 0))
);
ALTER TABLE webhook ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY webhook_of_organization ON webhook FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER webhook_kept BEFORE DELETE OR TRUNCATE ON webhook FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE webhook_relay (
	organization uuid NOT NULL,
	place bigint NOT NULL,
	CONSTRAINT webhook_relay_organization_fkey FOREIGN KEY (organization) REFERENCES organization(id),
	CONSTRAINT webhook_relay_pkey PRIMARY KEY (organization)
);
ALTER TABLE webhook_relay ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY webhook_relay_added ON webhook_relay FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY webhook_relay_moved ON webhook_relay FOR UPDATE USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE POLICY webhook_relay_seen ON webhook_relay FOR SELECT USING ((organization = asking_organization()) OR asking_keeper());
CREATE TRIGGER webhook_relay_kept BEFORE DELETE OR TRUNCATE ON webhook_relay FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE webhook_secret (
	organization uuid NOT NULL,
	webhook uuid NOT NULL,
	id uuid NOT NULL,
	sealed bytea NOT NULL,
	at timestamp with time zone NOT NULL,
	until timestamp with time zone,
	CONSTRAINT webhook_secret_pkey PRIMARY KEY (organization, webhook, id),
	CONSTRAINT webhook_secret_webhook_fkey FOREIGN KEY (organization, webhook) REFERENCES webhook(organization, id)
);
ALTER TABLE webhook_secret ENABLE ROW LEVEL SECURITY, FORCE ROW LEVEL SECURITY;
CREATE POLICY webhook_secret_of_organization ON webhook_secret FOR ALL USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER webhook_secret_kept BEFORE DELETE OR TRUNCATE ON webhook_secret FOR EACH STATEMENT EXECUTE FUNCTION refuse();
