-- What a hand with every right has changed, taken away or put in another order must be found, though no trigger could
-- stop it. So every record is entered, in the transaction that writes it, in a log of its organization that is the leaves
-- of a Merkle tree (RFC 6962): an entry holds a digest of the record, and the head of the log the hashes from which the
-- root follows. What the installation has signed of size and root (a checkpoint) is kept, and can be kept by others.

CREATE TABLE log_entry (
	organization uuid        NOT NULL,
	number       bigint      NOT NULL, -- place in the log, from 0, without a gap
	at           timestamptz NOT NULL,
	by           text        NOT NULL, -- who made the change, in words
	record       text        COLLATE "C" NOT NULL, -- its table
	key          text        COLLATE "C" NOT NULL, -- names it in the table
	version      integer     NOT NULL, -- of a record that changes; 0: it never does
	digest       bytea       NOT NULL, -- SHA-256 of the record as it is written down
	hashes       bytea       NOT NULL, -- 32 bytes each: of the leaf, then of the subtrees that it completes, smallest first
	CONSTRAINT log_entry_pkey PRIMARY KEY (organization, number),
	CONSTRAINT log_entry_digest_is_sha256 CHECK (octet_length(digest) = 32)
);

CREATE INDEX log_entry_of_record ON log_entry (organization, record, key, number);

ALTER TABLE log_entry ENABLE ROW LEVEL SECURITY;
ALTER TABLE log_entry FORCE ROW LEVEL SECURITY;
CREATE POLICY log_entry_of_organization ON log_entry
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER log_entry_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON log_entry
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- The row that every change of an organization locks last, from its entries to its commit. Room is left on the page, so
-- that the new version lies beside the old.
CREATE TABLE log_head (
	organization uuid    NOT NULL,
	size         bigint  NOT NULL, -- entries
	frontier     bytea[] NOT NULL, -- roots of the complete subtrees, the largest first
	CONSTRAINT log_head_pkey PRIMARY KEY (organization),
	CONSTRAINT log_head_organization_fkey FOREIGN KEY (organization) REFERENCES organization (id)
) WITH (fillfactor = 10);

ALTER TABLE log_head ENABLE ROW LEVEL SECURITY;
ALTER TABLE log_head FORCE ROW LEVEL SECURITY;
-- The program looks over all of them for those that have not been begun.
CREATE POLICY log_head_seen ON log_head FOR SELECT USING (organization = asking_organization() OR asking_keeper());
CREATE POLICY log_head_begun ON log_head FOR INSERT WITH CHECK (organization = asking_organization());
CREATE POLICY log_head_moved ON log_head FOR UPDATE
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER log_head_kept BEFORE DELETE OR TRUNCATE ON log_head FOR EACH STATEMENT EXECUTE FUNCTION refuse();
CREATE TRIGGER log_head_only_grows BEFORE UPDATE ON log_head
	FOR EACH ROW WHEN (NEW.size < OLD.size) EXECUTE FUNCTION refuse();

CREATE TABLE log_checkpoint (
	organization uuid        NOT NULL,
	size         bigint      NOT NULL, -- entries that it is about
	signer       text        NOT NULL, -- name of the key
	at           timestamptz NOT NULL,
	signed       text        NOT NULL, -- letter by letter
	CONSTRAINT log_checkpoint_pkey PRIMARY KEY (organization, size, signer)
);

ALTER TABLE log_checkpoint ENABLE ROW LEVEL SECURITY;
ALTER TABLE log_checkpoint FORCE ROW LEVEL SECURITY;
CREATE POLICY log_checkpoint_of_organization ON log_checkpoint
	USING (organization = asking_organization()) WITH CHECK (organization = asking_organization());
CREATE TRIGGER log_checkpoint_append_only BEFORE UPDATE OR DELETE OR TRUNCATE ON log_checkpoint
	FOR EACH STATEMENT EXECUTE FUNCTION refuse();

-- Appends the entries of one change. The caller has hashed each leaf; here they get their numbers, and their place in
-- the tree: an inner node is the hash of a byte 1 and its two children. An entry that is wanted once is left out when
-- its record has one: the record is there already, and never changes. Locking the head makes changes of one organization
-- commit one after the other, so it comes last.
CREATE FUNCTION append_log(whose uuid, moment timestamptz, who text, records text[], keys text[], versions integer[],
	digests bytea[], leaves bytea[], once boolean[]) RETURNS void
LANGUAGE plpgsql AS $$
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
END $$;
