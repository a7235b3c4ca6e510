package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectBlocksWhere = `
		SELECT id, aircraft, begins, ends, kind, words, by, at, cancelled, version FROM block WHERE organization = $1`
	selectBlock = selectBlocksWhere + ` AND id = $2`
	// A flight's window is no longer than a month: what ended before then holds none that is to come.
	selectStandingBlocks = selectBlocksWhere + `
		AND aircraft = $2 AND NOT cancelled AND coalesce(ends > $3::timestamptz - interval '32 days', true) ORDER BY id`

	insertBlock = `
		INSERT INTO block (organization, id, aircraft, begins, ends, kind, words, by, at, cancelled, version)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11)`
	updateBlock = `
		WITH changed AS (
			UPDATE block SET begins = $4, ends = $5, kind = $6, words = $7, cancelled = $10, version = $11
			WHERE organization = $1 AND id = $2 AND aircraft = $3 AND by = $8 AND at = $9 AND version = $11 - 1
			RETURNING 1)
		SELECT expect(count(*), 1, '` + changedMeanwhile + `') FROM changed`

	insertShown = `
		INSERT INTO flight_shown (organization, id, flight, person, name, at, by, verdict, shown)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
	selectShown = `
		SELECT id, flight, person, name, at, by, verdict, shown FROM flight_shown
		WHERE organization = $1 AND flight = $2 AND ($3::uuid IS NULL OR id > $3) ORDER BY id LIMIT $4`
)

// Blocks implements hangar.Store.
func (s *Store) Blocks(ctx context.Context, org techlog.ID, filter hangar.BlockFilter, page hangar.Page) ([]techlog.Block, error) {
	f := filtered(selectBlocksWhere, uuid(org))
	f.and(`aircraft = `, uuid(filter.Aircraft))
	if !filter.Cancelled {
		f.when(`NOT cancelled`)
	}
	if !filter.EndsAfter.IsZero() {
		f.and(`coalesce(ends, 'infinity') > `, filter.EndsAfter)
	}
	if !filter.BeginsBefore.IsZero() {
		f.and(`begins < `, filter.BeginsBefore)
	}
	if !page.After.IsZero() {
		f.and(`id > `, uuid(page.After))
	}
	return list(ctx, s, organization(org), f.first(page.Limit, `id`), scanBlock)
}

// Block reads a block. Kind not-found if there is none.
func (s *Store) Block(ctx context.Context, org, id techlog.ID) (techlog.Block, error) {
	block, err := one(ctx, s, organization(org), ask(selectBlock, uuid(org), uuid(id)), scanBlock)
	return block, absent(err, "block")
}

func scanBlock(row pgx.Row) (techlog.Block, error) {
	var b techlog.Block
	var ends *time.Time
	err := row.Scan(into(&b.ID), into(&b.Aircraft), &b.From, &ends, &b.Kind, &b.Words, &b.By, &b.At, &b.Cancelled, &b.Version)
	b.Until = given(ends)
	return b, err
}

// Block implements hangar.Tx.
func (c *change) Block(ctx context.Context, id techlog.ID) (techlog.Block, error) {
	block, err := scanBlock(c.conn.QueryRow(ctx, selectBlock, c.org, uuid(id)))
	return block, absent(err, "block")
}

func (c *change) AddBlock(b techlog.Block)    { c.write(blocks, insertBlock, c.blockRow(b)...) }
func (c *change) UpdateBlock(b techlog.Block) { c.write(blocks, updateBlock, c.blockRow(b)...) }

func (c *change) blockRow(b techlog.Block) []any {
	return []any{
		c.org, uuid(b.ID), uuid(b.Aircraft), instant(b.From), instantOrNull(b.Until), string(b.Kind), b.Words, b.By, instant(b.At), b.Cancelled, b.Version,
	}
}

// Shown implements hangar.Store.
func (s *Store) Shown(ctx context.Context, org, flight techlog.ID, page hangar.Page) ([]techlog.Shown, error) {
	asked := ask(selectShown, uuid(org), uuid(flight), uuidOrNull(page.After), page.Limit)
	return list(ctx, s, organization(org), asked, func(row pgx.Row) (techlog.Shown, error) {
		var k techlog.Shown
		err := row.Scan(into(&k.ID), into(&k.Flight), into(&k.Person), &k.Name, &k.At, &k.By, &k.Verdict, &k.Shown)
		return k, err
	})
}

// AddShown implements hangar.Tx.
func (c *change) AddShown(k techlog.Shown) {
	c.write(showings, insertShown, c.org, uuid(k.ID), uuid(k.Flight), uuid(k.Person), k.Name, instant(k.At), k.By, k.Verdict, k.Shown)
}
