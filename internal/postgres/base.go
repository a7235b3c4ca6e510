package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	baseColumns = `id, code, name, lat, lon, zone, version`

	selectBases = `SELECT ` + baseColumns + ` FROM base WHERE organization = $1 AND id > $2 ORDER BY id LIMIT $3`
	selectBase  = `SELECT ` + baseColumns + ` FROM base WHERE organization = $1 AND id = $2`
	// A change that reads a base keeps it from being moved until the change is done: what it works out from the place
	// is then still so.
	selectBaseHeld = selectBase + ` FOR KEY SHARE`
	lockBase       = `SELECT 1 FROM base WHERE organization = $1 AND id = $2 FOR UPDATE`

	insertBase = `
		INSERT INTO base (organization, id, code, name, lat, lon, zone, version)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`
	updateBase = `
		WITH changed AS (
			UPDATE base SET code = $3, name = $4, lat = $5, lon = $6, zone = $7, version = $8
			WHERE organization = $1 AND id = $2 AND version = $8 - 1
			RETURNING 1)
		SELECT expect(count(*), 1, '` + changedMeanwhile + `') FROM changed`
)

// Bases lists bases in the order of their identifiers.
func (s *Store) Bases(ctx context.Context, org techlog.ID, page hangar.Page) ([]techlog.Base, error) {
	return list(ctx, s, organization(org), ask(selectBases, uuid(org), uuid(page.After), page.Limit), scanBase)
}

// Base reads a base. Kind not-found if there is none.
func (s *Store) Base(ctx context.Context, org, id techlog.ID) (techlog.Base, error) {
	base, err := one(ctx, s, organization(org), ask(selectBase, uuid(org), uuid(id)), scanBase)
	return base, absent(err, "base")
}

func scanBase(row pgx.Row) (techlog.Base, error) {
	var b techlog.Base
	err := row.Scan(into(&b.ID), &b.Code, &b.Name, &b.Lat, &b.Lon, &b.Zone, &b.Version)
	return b, err
}

func (c *change) AddBase(b techlog.Base)    { c.write(bases, insertBase, c.baseRow(b)...) }
func (c *change) UpdateBase(b techlog.Base) { c.write(bases, updateBase, c.baseRow(b)...) }

func (c *change) baseRow(b techlog.Base) []any {
	return []any{c.org, uuid(b.ID), b.Code, b.Name, b.Lat, b.Lon, b.Zone, b.Version}
}
