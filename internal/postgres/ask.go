package postgres

import (
	"context"
	"encoding/hex"
	"slices"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/techlog"
)

// The settings that row-level security reads. They hold for one transaction.
const (
	askOrganization = `SELECT set_config('tiedown.organization', $1, true)`
	askToken        = `SELECT set_config('tiedown.token', $1, true)`
	askKeeper       = `SELECT set_config('tiedown.keeper', 'on', true)`
	askPerson       = `SELECT set_config('tiedown.person', $1, true)`
	askEmail        = `SELECT set_config('tiedown.email', $1, true)`
	askAddress      = `SELECT set_config('tiedown.address', $1, true)`
)

// asking is for whom a transaction asks: settings to make before anything else.
type asking []query

func organization(id techlog.ID) asking { return asking{ask(askOrganization, id.String())} }
func bearer(digest [32]byte) asking     { return asking{ask(askToken, hex.EncodeToString(digest[:]))} }
func keeper() asking                    { return asking{ask(askKeeper)} }
func person(id techlog.ID) asking       { return asking{ask(askPerson, id.String())} }
func email(digest [32]byte) asking      { return asking{ask(askEmail, hex.EncodeToString(digest[:]))} }

func address(digest [32]byte) asking { return asking{ask(askAddress, hex.EncodeToString(digest[:]))} }

// and is for whom else the transaction asks.
func (a asking) and(others ...asking) asking { return slices.Concat(append([]asking{a}, others...)...) }

func (a asking) queueOn(batch *pgx.Batch) {
	for _, setting := range a {
		setting.queueOn(batch)
	}
}

// skipOver reads over the answers to the settings. An error stays with the results.
func (a asking) skipOver(results pgx.BatchResults) {
	for range a {
		_, _ = results.Exec()
	}
}

// query is a statement with its arguments.
type query struct {
	sql  string
	args []any
	of   *ledger // of the record that it writes, whose columns' values come first; nil: the log does not vouch for it
}

func ask(sql string, args ...any) query { return query{sql: sql, args: args} }

// enter is a statement that writes a record of a ledger.
func enter(l ledger, sql string, args ...any) query { return query{sql, args, &l} }

func (q query) queueOn(batch *pgx.Batch) { batch.Queue(q.sql, q.args...) }

// scanner reads the columns of one row.
type scanner[T any] func(row pgx.Row) (T, error)

// one reads one row in one round trip. It returns pgx.ErrNoRows when there is none.
func one[T any](ctx context.Context, s *Store, who asking, q query, scan scanner[T]) (T, error) {
	results := s.send(ctx, who, q)
	record, err := scan(results.QueryRow())
	return record, finish(results, err)
}

// list reads every row in one round trip. No rows are an empty list.
func list[T any](ctx context.Context, s *Store, who asking, q query, scan scanner[T]) ([]T, error) {
	results := s.send(ctx, who, q)
	records, err := collect(results, scan)
	return records, translate(finish(results, err))
}

// send sends the setting and the query. Without an explicit begin they are one implicit transaction, which ends with
// the batch, and the setting with it.
func (s *Store) send(ctx context.Context, who asking, q query) pgx.BatchResults {
	var batch pgx.Batch
	who.queueOn(&batch)
	q.queueOn(&batch)
	results := s.pool.SendBatch(ctx, &batch)
	who.skipOver(results)
	return results
}

// finish ends a batch. An error of the batch explains whatever else went wrong; the absence of a row is none.
func finish(results pgx.BatchResults, err error) error {
	if closing := results.Close(); closing != nil {
		return closing
	}
	return err
}

// collect reads the rows of the next result.
func collect[T any](results pgx.BatchResults, scan scanner[T]) ([]T, error) {
	rows, err := results.Query()
	if err != nil {
		return nil, err
	}
	return collectRows(rows, scan)
}

// few is room for what one aircraft usually has.
const few = 8

func collectRows[T any](rows pgx.Rows, scan scanner[T]) ([]T, error) {
	defer rows.Close()
	records := make([]T, 0, few)
	for rows.Next() {
		record, err := scan(rows)
		if err != nil {
			return nil, err
		}
		records = append(records, record)
	}
	return records, rows.Err()
}

// tell writes, in one round trip and one implicit transaction, what the log does not vouch for.
func (s *Store) tell(ctx context.Context, who asking, writes ...query) error {
	var batch pgx.Batch
	who.queueOn(&batch)
	for _, q := range writes {
		q.queueOn(&batch)
	}
	return translate(s.pool.SendBatch(ctx, &batch).Close())
}

// asOfOneInstant reads the results of several queries of an organization, in one round trip and one transaction.
func asOfOneInstant[T any](ctx context.Context, s *Store, org techlog.ID, queue func(*pgx.Batch), read func(pgx.BatchResults) (T, error)) (T, error) {
	var batch pgx.Batch
	batch.Queue(beginReading)
	organization(org).queueOn(&batch)
	queue(&batch)
	batch.Queue(commit)
	results := s.pool.SendBatch(ctx, &batch)
	_, _ = results.Exec() // an error stays with the results
	_, _ = results.Exec()
	record, err := read(results)
	return record, finish(results, err)
}
