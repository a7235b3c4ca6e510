package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/techlog"
)

const (
	insertOrganization  = `INSERT INTO organization (id, name) VALUES ($1, $2)`
	selectOrganizations = `SELECT id, name FROM organization ORDER BY id`
)

// AddOrganization enters an organization. Kind conflict if its identifier is taken.
func (s *Store) AddOrganization(ctx context.Context, o techlog.Organization) error {
	return s.keep(ctx, keeper(), o.ID, theProgram, enter(organizations, insertOrganization, uuid(o.ID), o.Name), ask(beginLog, uuid(o.ID)))
}

// Organizations lists every organization in the order of their identifiers.
func (s *Store) Organizations(ctx context.Context) ([]techlog.Organization, error) {
	return list(ctx, s, keeper(), ask(selectOrganizations), scanOrganization)
}

func scanOrganization(row pgx.Row) (techlog.Organization, error) {
	var o techlog.Organization
	err := row.Scan(into(&o.ID), &o.Name)
	return o, err
}
