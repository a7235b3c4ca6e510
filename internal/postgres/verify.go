package postgres

import (
	"context"
	"errors"
	"fmt"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/audit"
	"tiedown/internal/techlog"
)

const (
	// A hand that nothing stopped may have left nulls: they are read as what no entry holds, and found.
	selectEntries = `
		SELECT coalesce(number, -1), at, coalesce(by, ''), coalesce(record, ''), coalesce(key, ''), coalesce(version, -1), digest, hashes
		FROM log_entry WHERE organization = $1 ORDER BY number`
	selectLines = `
		SELECT coalesce(key, ''), coalesce(number, -1), coalesce(version, -1), digest
		FROM log_entry WHERE organization = $1 AND record = $2 ORDER BY key, number`
	// Those that are kept, and those that others have kept.
	selectCheckpoints = `
		SELECT coalesce(size, -1), coalesce(signer, ''), at, coalesce(signed, '') FROM log_checkpoint WHERE organization = $1
		UNION ALL SELECT o.size, o.signer, o.at, o.signed
			FROM unnest($2::bigint[], $3::text[], $4::timestamptz[], $5::text[]) AS o (size, signer, at, signed)
		ORDER BY 1`
	selectHead = `SELECT coalesce(size, -1), coalesce(frontier, '{}') FROM log_head WHERE organization = $1`
)

// VerifyLog reads an organization's whole log and every record that it vouches for, as of one instant, and reports each
// that is not as it was entered. Checkpoints may be signed by any of the keys; others are checkpoints that were kept
// elsewhere. Nobody who writes has to wait, and no more than a few records are in memory at a time. It gives the number of
// entries.
func (s *Store) VerifyLog(ctx context.Context, org techlog.ID, keys []audit.PublicKey, others []audit.Kept, report func(audit.Fault)) (int64, error) {
	var entries int64
	err := pgx.BeginTxFunc(ctx, s.pool, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, askOrganization, org.String()); err != nil {
			return err
		}
		v := verification{ctx, tx, org, report}
		var err error
		if entries, err = v.walk(keys, others); err != nil {
			return err
		}
		for _, l := range ledgers {
			if err := v.match(l); err != nil {
				return err
			}
		}
		return nil
	})
	return entries, translate(err)
}

// verification is one under way.
type verification struct {
	ctx    context.Context
	tx     pgx.Tx
	org    techlog.ID
	report func(audit.Fault)
}

// walk follows the log from its first entry to its head.
func (v verification) walk(keys []audit.PublicKey, others []audit.Kept) (int64, error) {
	w := audit.Walk{
		Organization: v.org.String(), Keys: keys, Report: v.report,
		Vouched: func(table string) bool { _, ok := ledgerNamed(table); return ok },
	}
	head, err := scanHead(v.tx.QueryRow(v.ctx, selectHead, uuid(v.org)))
	switch {
	case errors.Is(err, pgx.ErrNoRows), errors.Is(err, errHashes):
		v.report(audit.Fault{Where: "head of the log", Says: "there is none"})
	case err != nil:
		return 0, err
	}
	checkpoints := openCursor(v.tx, "checkpoints", checkpointsOf(v.org, others), scanCheckpoint)
	kept, due, err := checkpoints.next(v.ctx)
	if err != nil {
		return 0, err
	}
	entries := openCursor(v.tx, "entries", ask(selectEntries, uuid(v.org)), v.scanEntry)
	for {
		entry, more, err := entries.next(v.ctx)
		if err != nil {
			return 0, err
		}
		for due && (!more || kept.Size <= entry.Number) {
			w.Checkpoint(kept)
			if kept, due, err = checkpoints.next(v.ctx); err != nil {
				return 0, err
			}
		}
		if !more {
			w.Head(head)
			return w.Size(), nil
		}
		w.Entry(entry)
	}
}

// match holds the records of a table against their entries.
func (v verification) match(l ledger) error {
	rows := openCursor(v.tx, "rows", ask(l.selectRows(), uuid(v.org)), func(row pgx.CollectableRow) (audit.Row, error) {
		values, err := row.Values()
		if err != nil {
			return audit.Row{}, err
		}
		r := audit.Row{}
		r.Key, _ = values[0].(string)
		record, _, _, err := l.record(values[1:])
		r.Digest, r.Fault = record.Digest(), err
		return r, nil
	})
	lines := openCursor(v.tx, "lines", ask(selectLines, uuid(v.org), l.table), func(row pgx.CollectableRow) (audit.Line, error) {
		var n audit.Line
		var digest []byte
		err := row.Scan(&n.Key, &n.Number, &n.Version, &digest)
		copy(n.Digest[:], digest)
		return n, err
	})
	return audit.Match(l.table, l.changes(),
		func() (audit.Row, bool, error) { return rows.next(v.ctx) },
		func() (audit.Line, bool, error) { return lines.next(v.ctx) }, v.report)
}

// scanEntry reads an entry as it stands: one that cannot be one is read as far as it can, and found to be altered.
func (v verification) scanEntry(row pgx.CollectableRow) (audit.Stored, error) {
	s := audit.Stored{Entry: audit.Entry{Organization: v.org.String()}}
	var at any
	var digest, hashes []byte
	if err := row.Scan(&s.Number, &at, &s.By, &s.Table, &s.Key, &s.Version, &digest, &hashes); err != nil {
		return s, err
	}
	s.At, _ = at.(time.Time) // infinity is none
	copy(s.Digest[:], digest)
	var err error
	if s.Hashes, err = hashesOf(hashes); errors.Is(err, errHashes) {
		err = nil
	}
	return s, err
}

func checkpointsOf(org techlog.ID, others []audit.Kept) query {
	var sizes []int64
	var signers, signed []string
	var instants []time.Time
	for _, k := range others {
		sizes, signers = append(sizes, k.Size), append(signers, k.Signer)
		instants, signed = append(instants, k.At), append(signed, k.Signed)
	}
	return ask(selectCheckpoints, uuid(org), filled(sizes), filled(signers), filled(instants), filled(signed))
}

func scanCheckpoint(row pgx.CollectableRow) (audit.Kept, error) {
	var k audit.Kept
	var at any
	err := row.Scan(&k.Size, &k.Signer, &at, &k.Signed)
	k.At, _ = at.(time.Time)
	return k, err
}

func scanHead(row pgx.Row) (audit.Head, error) {
	var h audit.Head
	var frontier [][]byte
	if err := row.Scan(&h.Size, &frontier); err != nil {
		return h, err
	}
	for _, raw := range frontier {
		hash, err := hashOf(raw)
		if err != nil {
			return h, fmt.Errorf("the head of the log: %w", err)
		}
		h.Frontier = append(h.Frontier, hash)
	}
	return h, nil
}
