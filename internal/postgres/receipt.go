package postgres

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/audit"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	// The last entry about a record.
	selectEntryOf = `
		SELECT number, at, by, version, digest FROM log_entry
		WHERE organization = $1 AND record = $2 AND key = $3 ORDER BY number DESC LIMIT 1`
	// The n-th hash that is kept with each of some entries. Each is looked up by itself, however few entries there were
	// when this was planned.
	selectNodes = `
		SELECT (SELECT substring(e.hashes FROM 32 * n.level + 1 FOR 32) FROM log_entry e WHERE e.organization = $1 AND e.number = n.number)
		FROM unnest($2::bigint[], $3::integer[]) WITH ORDINALITY AS n (number, level, place) ORDER BY n.place`
	selectSigned     = `SELECT signed FROM log_checkpoint WHERE organization = $1 AND size = $2 AND signer = $3`
	insertCheckpoint = `
		INSERT INTO log_checkpoint (organization, size, signer, at, signed) VALUES ($1, $2, $3, $4, $5) ON CONFLICT DO NOTHING`
)

// LogState reads where an organization's log has come to, and the checkpoint of just that size which the key of a name has
// signed. Kind not-found if there is no such log.
func (s *Store) LogState(ctx context.Context, org techlog.ID, signer string) (hangar.LogState, error) {
	var state hangar.LogState
	err := s.reading(ctx, org, func(tx pgx.Tx) error {
		var err error
		state, err = logState(ctx, tx, org, signer)
		return err
	})
	return state, absent(err, "log")
}

// Vouched reads a record with its last entry and the proof of it, and the state of the log, all as of one instant. The
// receipt lacks its checkpoint. Kind not-found if there is no such record. A record that is not as it was entered is an
// error.
func (s *Store) Vouched(ctx context.Context, org techlog.ID, table string, key []any, signer string) (audit.Receipt, hangar.LogState, error) {
	var receipt audit.Receipt
	var state hangar.LogState
	l, ok := ledgerNamed(table)
	if !ok {
		return receipt, state, fmt.Errorf("of %s no receipts are given", table)
	}
	err := s.reading(ctx, org, func(tx pgx.Tx) error {
		var err error
		if state, err = logState(ctx, tx, org, signer); err != nil {
			return err
		}
		receipt, err = receiptOf(ctx, tx, l, org, key, state.Head.Size)
		return err
	})
	return receipt, state, absent(err, "record")
}

// KeepCheckpoint keeps a signed checkpoint, unless the same key has signed one of that size before.
func (s *Store) KeepCheckpoint(ctx context.Context, org techlog.ID, k audit.Kept) error {
	var batch pgx.Batch
	organization(org).queueOn(&batch)
	batch.Queue(insertCheckpoint, uuid(org), k.Size, k.Signer, instant(k.At), k.Signed)
	return translate(s.pool.SendBatch(ctx, &batch).Close())
}

// reading runs f in a transaction that sees one instant.
func (s *Store) reading(ctx context.Context, org techlog.ID, f func(pgx.Tx) error) error {
	return pgx.BeginTxFunc(ctx, s.pool, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) error {
		if _, err := tx.Exec(ctx, askOrganization, org.String()); err != nil {
			return err
		}
		return f(tx)
	})
}

func logState(ctx context.Context, tx pgx.Tx, org techlog.ID, signer string) (hangar.LogState, error) {
	var state hangar.LogState
	var err error
	if state.Head, err = scanHead(tx.QueryRow(ctx, selectHead, uuid(org))); err != nil {
		return state, err
	}
	err = tx.QueryRow(ctx, selectSigned, uuid(org), state.Head.Size, signer).Scan(&state.Signed)
	if errors.Is(err, pgx.ErrNoRows) {
		err = nil
	}
	return state, err
}

// receiptOf makes a receipt, all but its checkpoint, in a log of a size.
func receiptOf(ctx context.Context, tx pgx.Tx, l ledger, org techlog.ID, key []any, size int64) (audit.Receipt, error) {
	record, named, err := l.read(ctx, tx, org, key)
	if err != nil {
		return audit.Receipt{}, err
	}
	r := audit.Receipt{Record: record.Text(), Entry: audit.Entry{Organization: org.String(), Table: l.table, Key: named}}
	var digest []byte
	var at time.Time
	err = tx.QueryRow(ctx, selectEntryOf, uuid(org), l.table, named).Scan(&r.Number, &at, &r.Entry.By, &r.Entry.Version, &digest)
	if err != nil && !errors.Is(err, pgx.ErrNoRows) {
		return r, err
	}
	if d := record.Digest(); err != nil || !slices.Equal(digest, d[:]) {
		return r, fmt.Errorf("%s %s is not as it was entered in the log: run `tiedown audit verify`", l.table, named)
	}
	r.Entry.At, r.Entry.Digest = at, [32]byte(digest)
	r.Proof, err = audit.Prove(size, r.Number, func(nodes []audit.Node) ([]audit.Hash, error) {
		numbers, levels := make([]int64, len(nodes)), make([]int32, len(nodes))
		for i, n := range nodes {
			numbers[i], levels[i] = n.Number, int32(n.Level)
		}
		rows, err := tx.Query(ctx, selectNodes, uuid(org), numbers, levels)
		if err != nil {
			return nil, err
		}
		return pgx.CollectRows(rows, func(row pgx.CollectableRow) (audit.Hash, error) {
			var raw []byte
			if err := row.Scan(&raw); err != nil {
				return audit.Hash{}, err
			}
			return hashOf(raw)
		})
	})
	return r, err
}

// read writes down a row as it stands, and tells its key. It returns pgx.ErrNoRows when there is none.
func (l ledger) read(ctx context.Context, tx pgx.Tx, org techlog.ID, key []any) (audit.Record, string, error) {
	rows, err := tx.Query(ctx, l.selectRow(), append([]any{uuid(org)}, key...)...)
	if err != nil {
		return audit.Record{}, "", err
	}
	values, err := pgx.CollectExactlyOneRow(rows, func(row pgx.CollectableRow) ([]any, error) { return row.Values() })
	if err != nil {
		return audit.Record{}, "", err
	}
	record, named, _, err := l.record(values)
	return record, named, err
}
