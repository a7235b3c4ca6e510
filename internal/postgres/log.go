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
	appendLog = `SELECT append_log($1, $2, $3, $4, $5, $6, $7, $8, $9)`
	beginLog  = `INSERT INTO log_head (organization, size, frontier) VALUES ($1, 0, '{}')`

	selectUnlogged = `
		SELECT o.id, o.name FROM organization o
		WHERE NOT EXISTS (SELECT FROM log_head h WHERE h.organization = o.id) ORDER BY o.id`
	beginLogUnlessBegun = beginLog + ` ON CONFLICT DO NOTHING`
	selectNow           = `SELECT now()`
)

// theProgram makes the changes that nobody asked for.
const theProgram = "tiedown"

// leaves are the entries of one transaction, as append_log takes them.
type leaves struct {
	organization techlog.ID
	at           time.Time
	by           string

	records, keys   []string
	versions        []int32
	digests, hashes [][]byte
	once            []bool
}

// vouch enters a record, given the values of its ledger's columns.
func (e *leaves) vouch(l ledger, values []any) error {
	r, key, version, err := l.record(values)
	if err != nil {
		return err
	}
	entry := audit.Entry{
		Organization: e.organization.String(), At: e.at, By: e.by, Table: l.table, Key: key, Version: version, Digest: r.Digest(),
	}
	hash := entry.Hash()
	e.records, e.keys, e.versions = append(e.records, l.table), append(e.keys, key), append(e.versions, int32(version))
	e.digests, e.hashes, e.once = append(e.digests, entry.Digest[:]), append(e.hashes, hash[:]), append(e.once, l.once)
	return nil
}

// queueOn appends them to the log, if there are any: it locks the log's head until the transaction ends.
func (e *leaves) queueOn(batch *pgx.Batch) {
	if len(e.records) > 0 {
		batch.Queue(appendLog, e.args()...)
	}
}

func (e *leaves) args() []any {
	return []any{uuid(e.organization), instant(e.at), e.by, e.records, e.keys, e.versions, e.digests, e.hashes, e.once}
}

// write queues a statement that writes a record, and enters the record. The first arguments are the values of the
// ledger's columns, in their order; others are of columns that are not covered.
func (c *change) write(l ledger, sql string, args ...any) { c.add(enter(l, sql, args...)) }

// add queues a statement, and enters the record that it writes, if the log vouches for it.
func (c *change) add(q query) {
	c.queue(q.sql, q.args...)
	if err := c.leaves.take(q); err != nil {
		c.fail(err)
	}
}

// take enters the record that a statement writes, if the log vouches for it.
func (e *leaves) take(q query) error {
	if q.of == nil {
		return nil
	}
	return e.vouch(*q.of, q.args[:len(q.of.columns)])
}

// keep writes what belongs to an organization in a transaction outside a change, and enters the records among it at the
// database's own instant. by is who makes it, in words.
func (s *Store) keep(ctx context.Context, who asking, org techlog.ID, by string, writes ...query) error {
	err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error {
		e := leaves{organization: org, by: by}
		if err := tx.QueryRow(ctx, selectNow).Scan(&e.at); err != nil {
			return err
		}
		var batch pgx.Batch
		who.and(organization(org)).queueOn(&batch)
		for _, q := range writes {
			if err := e.take(q); err != nil {
				return err
			}
			q.queueOn(&batch)
		}
		e.queueOn(&batch)
		return tx.SendBatch(ctx, &batch).Close()
	})
	return translate(err)
}

// BeginLogs enters what the organizations have on record that had no log yet: those from before there was one. It gives
// their number. at is the instant of the entries.
func (s *Store) BeginLogs(ctx context.Context, at time.Time) (int, error) {
	without, err := list(ctx, s, keeper(), ask(selectUnlogged), scanOrganization)
	if err != nil {
		return 0, err
	}
	for _, o := range without {
		err := pgx.BeginFunc(ctx, s.pool, func(tx pgx.Tx) error { return beginLogOf(ctx, tx, o.ID, at) })
		if err != nil {
			return 0, fmt.Errorf("enter what %s has on record: %w", o.Name, translate(err))
		}
	}
	return len(without), nil
}

// beginLogOf enters everything that an organization has on record, unless another program has just done so.
func beginLogOf(ctx context.Context, tx pgx.Tx, org techlog.ID, at time.Time) error {
	if _, err := tx.Exec(ctx, askOrganization, org.String()); err != nil {
		return err
	}
	tag, err := tx.Exec(ctx, beginLogUnlessBegun, uuid(org))
	if err != nil || tag.RowsAffected() == 0 {
		return err
	}
	for _, l := range ledgers {
		e := leaves{organization: org, at: at, by: theProgram}
		enter := func() error {
			var batch pgx.Batch
			e.queueOn(&batch)
			e = leaves{organization: org, at: at, by: theProgram}
			return tx.SendBatch(ctx, &batch).Close()
		}
		rows := openCursor(tx, "rows_of_"+l.table, ask(l.selectRows(), uuid(org)), func(row pgx.CollectableRow) ([]any, error) { return row.Values() })
		for {
			values, more, err := rows.next(ctx)
			if err != nil {
				return err
			}
			if more {
				err = e.vouch(l, values[1:])
			}
			if err == nil && (!more || len(e.records) == atOnce) {
				err = enter()
			}
			if err != nil {
				return err
			}
			if !more {
				break
			}
		}
	}
	return nil
}

// atOnce is how many rows are fetched at once of many: a few hundred kilobytes.
const atOnce = 500

// cursor reads the rows of a query one after the other, a few at a time, within a transaction.
type cursor[T any] struct {
	tx    pgx.Tx
	name  string
	query query
	scan  pgx.RowToFunc[T]

	open   bool
	buffer []T
	done   bool
}

func openCursor[T any](tx pgx.Tx, name string, q query, scan pgx.RowToFunc[T]) *cursor[T] {
	return &cursor[T]{tx: tx, name: pgx.Identifier{name}.Sanitize(), query: q, scan: scan}
}

// next gives the next row; false after the last, when the cursor is closed.
func (c *cursor[T]) next(ctx context.Context) (T, bool, error) {
	var none T
	if !c.open {
		if _, err := c.tx.Exec(ctx, `DECLARE `+c.name+` NO SCROLL CURSOR FOR `+c.query.sql, c.query.args...); err != nil {
			return none, false, err
		}
		c.open = true
	}
	if len(c.buffer) == 0 && !c.done {
		rows, err := c.tx.Query(ctx, fmt.Sprintf(`FETCH %d FROM %s`, atOnce, c.name), pgx.QueryExecModeExec)
		if err != nil {
			return none, false, err
		}
		if c.buffer, err = pgx.CollectRows(rows, c.scan); err != nil {
			return none, false, err
		}
		if c.done = len(c.buffer) < atOnce; c.done {
			if _, err := c.tx.Exec(ctx, `CLOSE `+c.name); err != nil {
				return none, false, err
			}
		}
	}
	if len(c.buffer) == 0 {
		return none, false, nil
	}
	next := c.buffer[0]
	c.buffer = c.buffer[1:]
	return next, true, nil
}

var errHashes = errors.New("it is no row of hashes")

func hashOf(raw []byte) (audit.Hash, error) {
	if len(raw) != len(audit.Hash{}) {
		return audit.Hash{}, errHashes
	}
	return audit.Hash(raw), nil
}

// hashesOf reads hashes that are kept one after the other.
func hashesOf(raw []byte) ([]audit.Hash, error) {
	if len(raw)%len(audit.Hash{}) != 0 {
		return nil, errHashes
	}
	hashes := make([]audit.Hash, len(raw)/len(audit.Hash{}))
	for i := range hashes {
		copy(hashes[i][:], raw[i*len(audit.Hash{}):])
	}
	return hashes, nil
}
