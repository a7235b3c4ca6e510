package postgres

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/techlog"
)

const (
	insertOrganization  = `INSERT INTO organization (id, name) VALUES ($1, $2)`
	selectOrganizations = `SELECT id, name FROM organization ORDER BY id`

	insertToken = `INSERT INTO token (organization, id, digest, name, role) VALUES ($1, $2, $3, $4, $5)`
	selectToken = `SELECT organization, id, name, role FROM token WHERE digest = $1`
)

// Authenticate finds the bearer of a token. Until it is found nobody's organization is asked for: the session presents
// the digest, and sees the one token that has it.
func (s *Store) Authenticate(ctx context.Context, digest [32]byte) (techlog.Principal, error) {
	who, err := one(ctx, s, bearer(digest), ask(selectToken, digest[:]), scanPrincipal)
	if errors.Is(err, pgx.ErrNoRows) {
		return techlog.Principal{}, techlog.Errorf(techlog.KindUnauthorized, "nobody bears this token")
	}
	return who, translate(err)
}

// AddOrganization enters an organization. Kind conflict if its identifier is taken.
func (s *Store) AddOrganization(ctx context.Context, o techlog.Organization) error {
	return s.keep(ctx, o.ID, organizations, ask(insertOrganization, uuid(o.ID), o.Name), ask(beginLog, uuid(o.ID)))
}

// Organizations lists every organization in the order of their identifiers.
func (s *Store) Organizations(ctx context.Context) ([]techlog.Organization, error) {
	return list(ctx, s, keeper(), ask(selectOrganizations), scanOrganization)
}

// AddToken enters a token by its digest. Kind conflict if the digest or the identifier is taken, not-found if the
// organization does not exist, invalid unless it has one role: a token has.
func (s *Store) AddToken(ctx context.Context, p techlog.Principal, digest [32]byte) error {
	if len(p.Roles) != 1 {
		return techlog.Errorf(techlog.KindInvalid, "a token has one role, not %d", len(p.Roles))
	}
	return s.keep(ctx, p.Organization, tokens,
		ask(insertToken, uuid(p.Organization), uuid(p.Token), digest[:], p.Name, string(p.Roles[0])))
}

func scanPrincipal(row pgx.Row) (techlog.Principal, error) {
	var p techlog.Principal
	var role techlog.Role
	err := row.Scan(into(&p.Organization), into(&p.Token), &p.Name, &role)
	p.Roles = techlog.As(role)
	return p, err
}

func scanOrganization(row pgx.Row) (techlog.Organization, error) {
	var o techlog.Organization
	err := row.Scan(into(&o.ID), &o.Name)
	return o, err
}
