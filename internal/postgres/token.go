package postgres

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	insertToken = `
		INSERT INTO token (organization, id, digest, name, roles, maker, own, actions, made_at, until)
		VALUES ($1, $2, $3, $4, $5::text[]::role[], $6, $7, $8, $9, $10)`

	// Whoever presents a token asks for its organization from then on. A token that a person made is good for no more
	// than the person is now, and for nothing once the membership has ended.
	becomeBearerOfToken = `SELECT set_config('tiedown.organization', coalesce((SELECT organization::text FROM token WHERE digest = $1), ''), true)`
	selectToken         = `
		SELECT t.organization, t.id, t.name, t.actions, t.until, CASE WHEN t.own THEN t.maker END,
			CASE WHEN t.maker IS NULL THEN t.roles::text[]
				ELSE ARRAY(SELECT r FROM unnest(t.roles::text[]) WITH ORDINALITY AS u (r, n) WHERE r = ANY (m.roles::text[]) ORDER BY n) END
		FROM token t LEFT JOIN membership m ON m.organization = t.organization AND m.person = t.maker AND m.until IS NULL
		WHERE t.digest = $1 AND NOT EXISTS (SELECT FROM token_revocation r WHERE r.organization = t.organization AND r.token = t.id) AND (t.maker IS NULL OR m.person IS NOT NULL)`

	selectAccessToken = `
		SELECT id, name, maker, own, roles::text[], actions, made_at, until,
			(SELECT r.at FROM token_revocation r WHERE r.organization = token.organization AND r.token = token.id)
		FROM token WHERE organization = $1`
	selectOneAccessToken = selectAccessToken + ` AND id = $2`
	selectAccessTokens   = selectAccessToken + `
		AND ($2::uuid IS NULL OR maker = $2) AND ($3::uuid IS NULL OR id > $3) ORDER BY id LIMIT $4`
	revokeToken = `INSERT INTO token_revocation (organization, token, at, by) VALUES ($1, $2, $3, $4)`
)

// Authenticate finds the bearer of a token. Until it is found nobody's organization is asked for: the session presents
// the digest, and sees the one token that has it.
func (s *Store) Authenticate(ctx context.Context, digest [32]byte) (techlog.Principal, error) {
	asks := bearer(digest).and(asking{ask(becomeBearerOfToken, digest[:])})
	who, err := one(ctx, s, asks, ask(selectToken, digest[:]), scanPrincipal)
	if errors.Is(err, pgx.ErrNoRows) {
		return techlog.Principal{}, techlog.Errorf(techlog.KindUnauthorized, "nobody bears this token")
	}
	return who, translate(err)
}

func scanPrincipal(row pgx.Row) (techlog.Principal, error) {
	var p techlog.Principal
	var actions *[]techlog.Action
	var until *time.Time
	var own *[16]byte
	err := row.Scan(into(&p.Organization), into(&p.Token), &p.Name, &actions, &until, &own, &p.Roles)
	p.Scope, p.Until = scopeOf(actions), given(until)
	if own != nil {
		p.Person = *own
	}
	return p, err
}

func scopeOf(actions *[]techlog.Action) techlog.Scope {
	if actions == nil {
		return techlog.Scope{}
	}
	return techlog.Scope{Limited: true, Actions: *actions}
}

// AddToken enters a token by its digest, made by whoever runs the server. Kind conflict if the digest or the identifier
// is taken, not-found if the organization does not exist.
func (s *Store) AddToken(ctx context.Context, p techlog.Principal, digest [32]byte) error {
	return s.keep(ctx, keeper(), p.Organization, theProgram, addToken(p.Organization, techlog.AccessToken{ID: p.Token, Name: p.Name, Roles: p.Roles}, digest))
}

func addToken(org techlog.ID, t techlog.AccessToken, digest [32]byte) query {
	var actions *[]string // nil: it is not limited
	if t.Scope.Limited {
		names := make([]string, len(t.Scope.Actions))
		for i, a := range t.Scope.Actions {
			names[i] = string(a)
		}
		actions = &names
	}
	return enter(tokens, insertToken, uuid(org), uuid(t.ID), digest[:], t.Name, roleNames(t.Roles), uuidOrNull(t.Maker), t.Own, actions,
		instantOrNull(t.MadeAt), instantOrNull(t.Until))
}

// AccessTokens implements hangar.Store.
func (s *Store) AccessTokens(ctx context.Context, org, maker techlog.ID, page hangar.Page) ([]techlog.AccessToken, error) {
	return list(ctx, s, organization(org), ask(selectAccessTokens, uuid(org), uuidOrNull(maker), uuidOrNull(page.After), page.Limit), scanAccessToken)
}

func scanAccessToken(row pgx.Row) (techlog.AccessToken, error) {
	var t techlog.AccessToken
	var maker *[16]byte
	var actions *[]techlog.Action
	var made, until, revoked *time.Time
	err := row.Scan(into(&t.ID), &t.Name, &maker, &t.Own, &t.Roles, &actions, &made, &until, &revoked)
	if maker != nil {
		t.Maker = *maker
	}
	t.Scope, t.MadeAt, t.Until, t.Revoked = scopeOf(actions), given(made), given(until), given(revoked)
	return t, err
}

// AccessToken implements hangar.Tx.
func (c *change) AccessToken(ctx context.Context, id techlog.ID) (techlog.AccessToken, error) {
	t, err := scanAccessToken(c.conn.QueryRow(ctx, selectOneAccessToken, c.org, uuid(id)))
	return t, absent(err, "token")
}

func (c *change) AddAccessToken(t techlog.AccessToken, digest [32]byte) {
	c.add(addToken(c.scope.Organization, t, digest))
}

func (c *change) RevokeAccessToken(id techlog.ID, at time.Time) {
	c.write(revocations, revokeToken, c.org, uuid(id), instant(at), c.scope.By)
}
