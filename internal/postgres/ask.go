package postgres

import (
	"context"
	"encoding/hex"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/techlog"
)

// The settings that row-level security reads. They hold for one transaction.
const (
	askOrganization = `SELECT set_config('tiedown.organization', $1, true)`
	askToken        = `SELECT set_config('tiedown.token', $1, true)`
	askKeeper       = `SELECT set_config('tiedown.keeper', 'on', true)`
)

// asking is for whom a transaction asks: a setting to make before anything else.
type asking struct {
	setting string
	value   []any
}

func organization(id techlog.ID) asking   { return asking{askOrganization, []any{id.String()}} }
func bearer(digest [32]byte) asking       { return asking{askToken, []any{hex.EncodeToString(digest[:])}} }
func keeper() asking                      { return asking{setting: askKeeper} }
func (a asking) queueOn(batch *pgx.Batch) { batch.Queue(a.setting, a.value...) }

// query is a statement with its arguments.
type query struct {
	sql  string
	args []any
}

func ask(sql string, args ...any) query { return query{sql, args} }

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
	_, _ = results.Exec() // an error stays with the results
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
