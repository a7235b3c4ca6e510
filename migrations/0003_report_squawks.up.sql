-- What is wrong with an aircraft. A squawk has one row as it stands and a history that is only ever added to; a hand on
-- psql can neither change what was reported nor let a squawk move without an entry that says so.

CREATE DOMAIN squawk_kind AS text CONSTRAINT squawk_kind_known CHECK (VALUE IN ('inoperative', 'condition'));
CREATE DOMAIN squawk_state AS text CONSTRAINT squawk_state_known CHECK (VALUE IN ('reported', 'deferred', 'closed'));
CREATE DOMAIN squawk_step AS text CONSTRAINT squawk_step_known CHECK (VALUE IN ('report', 'note', 'defer', 'close', 'reopen'));
CREATE DOMAIN deferral_method AS text CONSTRAINT deferral_method_known CHECK (VALUE IN ('removed', 'deactivated'));

CREATE TABLE squawk (
	organization uuid         NOT NULL,
	id           uuid         NOT NULL,
	aircraft     uuid         NOT NULL,
	number       integer      NOT NULL,
	kind         squawk_kind  NOT NULL,
	unit         text         NOT NULL, -- empty: no unit is named
	item         text         NOT NULL, -- empty: no item is named
	words        text         NOT NULL,
	state        squawk_state NOT NULL,
	deferral     uuid,
	reported_by  text         NOT NULL,
	reported_at  timestamptz  NOT NULL,
	version      integer      NOT NULL,
	entry        integer GENERATED ALWAYS AS (nullif(version, 1)) STORED, -- of the history, that made this version
	CONSTRAINT squawk_pkey PRIMARY KEY (organization, id),
	CONSTRAINT squawk_number_key UNIQUE (organization, aircraft, number),
	CONSTRAINT squawk_aircraft_fkey FOREIGN KEY (organization, aircraft) REFERENCES aircraft (organization, id),
	CONSTRAINT squawk_words_given CHECK (words <> ''),
	-- Deferred with its deferral, and only then; and only what is named, as a unit or as an item.
	CONSTRAINT squawk_deferral_when_deferred CHECK (
		CASE WHEN state = 'deferred' THEN deferral IS NOT NULL AND (unit = '') <> (item = '') ELSE deferral IS NULL END)
) WITH (fillfactor = 90);

CREATE INDEX squawk_open ON squawk (organization, aircraft, number) WHERE state <> 'closed';
CREATE UNIQUE INDEX squawk_one_open_deferral ON squawk (organization, aircraft, unit, item) WHERE state = 'deferred';

ALTER TABLE squawk ENABLE ROW LEVEL SECURITY;
ALTER TABLE squawk FORCE ROW LEVEL SECURITY;
CREATE POLICY squawk_of_organization ON squawk
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER squawk_kept BEFORE DELETE OR TRUNCATE ON squawk FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER squawk_report_kept BEFORE UPDATE OF organization, id, aircraft, number, words, reported_by, reported_at ON squawk
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

CREATE TABLE squawk_history (
	organization uuid        NOT NULL,
	squawk       uuid        NOT NULL,
	number       integer     NOT NULL,
	at           timestamptz NOT NULL,
	by           text        NOT NULL,
	step         squawk_step NOT NULL,
	state        squawk_state NOT NULL, -- after the step
	words        text        NOT NULL,
	CONSTRAINT squawk_history_pkey PRIMARY KEY (organization, squawk, number),
	CONSTRAINT squawk_history_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk (organization, id)
);

ALTER TABLE squawk_history ENABLE ROW LEVEL SECURITY;
ALTER TABLE squawk_history FORCE ROW LEVEL SECURITY;
CREATE POLICY squawk_history_of_organization ON squawk_history
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER squawk_history_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON squawk_history
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A squawk moves version by version, and no version is without the entry of the same number that says who made it; the
-- report itself is in the squawk's own row, where it cannot change. Looked at when the transaction ends, as each needs
-- the other.
CREATE TRIGGER squawk_moves_by_versions BEFORE UPDATE ON squawk
	FOR EACH ROW WHEN (NEW.version <> OLD.version + 1) EXECUTE FUNCTION refuse();
ALTER TABLE squawk ADD CONSTRAINT squawk_entry_fkey
	FOREIGN KEY (organization, id, entry) REFERENCES squawk_history (organization, squawk, number)
	DEFERRABLE INITIALLY DEFERRED;

-- What lets an inoperative item stay: 14 CFR 91.213(d)(3) asks that it be removed or deactivated, placarded and entered
-- in the maintenance record, (d)(4) that somebody entitled to it determine that it is no hazard. The record is never
-- changed or ended: the squawk points at the one that holds, and its history says when that began and ended.
CREATE TABLE deferral (
	organization  uuid        NOT NULL,
	id            uuid        NOT NULL,
	squawk        uuid        NOT NULL,
	basis         text        NOT NULL,
	method        deferral_method NOT NULL,
	placard       text        NOT NULL,
	entry         text        NOT NULL,
	determined_by text        NOT NULL,
	determined_at timestamptz NOT NULL,
	removed_on    date,
	until         timestamptz NOT NULL,
	CONSTRAINT deferral_pkey PRIMARY KEY (organization, id),
	CONSTRAINT deferral_squawk_key UNIQUE (organization, id, squawk),
	CONSTRAINT deferral_squawk_fkey FOREIGN KEY (organization, squawk) REFERENCES squawk (organization, id),
	CONSTRAINT deferral_basis_given CHECK (basis ~ '\S'),
	CONSTRAINT deferral_placard_given CHECK (placard ~ '\S'),
	CONSTRAINT deferral_entry_given CHECK (entry ~ '\S'),
	CONSTRAINT deferral_determination_signed CHECK (determined_by ~ '\S'),
	-- An instant that was left out arrives as one of the year 1.
	CONSTRAINT deferral_determination_dated CHECK (determined_at >= '1900-01-01 00:00:00+00'),
	CONSTRAINT deferral_removal_dated CHECK (removed_on IS NULL OR method = 'removed'),
	CONSTRAINT deferral_ends_later CHECK (until > determined_at)
);

ALTER TABLE deferral ENABLE ROW LEVEL SECURITY;
ALTER TABLE deferral FORCE ROW LEVEL SECURITY;
CREATE POLICY deferral_of_organization ON deferral
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER deferral_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON deferral
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- A squawk is deferred by a deferral of its own.
ALTER TABLE squawk ADD CONSTRAINT squawk_deferral_fkey
	FOREIGN KEY (organization, deferral, id) REFERENCES deferral (organization, id, squawk)
	DEFERRABLE INITIALLY DEFERRED;
