package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectMember = `
		SELECT m.person, m.name, a.email, m.roles::text[], m.since, m.until, m.version
		FROM membership m JOIN account a ON a.id = m.person WHERE m.organization = $1`
	selectOneMember = selectMember + ` AND m.person = $2`
	selectMembers   = selectMember + ` AND ($2::uuid IS NULL OR m.person > $2) ORDER BY m.person LIMIT $3`
	insertMember    = `
		INSERT INTO membership (organization, person, name, roles, since, until, version)
		VALUES ($1, $2, $3, $4::text[]::role[], $5, $6, $7)`
	updateMember = `
		WITH changed AS (
			UPDATE membership SET name = $3, roles = $4::text[]::role[], since = $5, until = $6, version = $7
			WHERE organization = $1 AND person = $2 AND version = $7 - 1
			RETURNING 1)
		SELECT expect(count(*), 1, '` + changedMeanwhile + `') FROM changed`

	insertMemberEntry = `
		INSERT INTO membership_history (organization, person, number, at, by, name, roles, until)
		VALUES ($1, $2, $3, $4, $5, $6, $7::text[]::role[], $8)`
	selectMemberHistory = `
		SELECT person, number, at, by, name, roles::text[], until FROM membership_history
		WHERE organization = $1 AND person = $2 ORDER BY number`

	selectAccountByEmail = `SELECT id, email, name, at FROM account WHERE email_digest = $1`
	selectElsewhere      = `SELECT EXISTS (SELECT FROM membership WHERE person = $2 AND organization <> $1)`
	askNobody            = `SELECT set_config('tiedown.person', '', true)`
)

// Members implements hangar.Store.
func (s *Store) Members(ctx context.Context, org techlog.ID, page hangar.Page) ([]techlog.Member, error) {
	return list(ctx, s, organization(org), ask(selectMembers, uuid(org), uuidOrNull(page.After), page.Limit), scanMember)
}

// Member implements hangar.Store.
func (s *Store) Member(ctx context.Context, org, id techlog.ID) (techlog.Member, error) {
	m, err := one(ctx, s, organization(org), ask(selectOneMember, uuid(org), uuid(id)), scanMember)
	return m, absent(err, "member")
}

// MemberHistory implements hangar.Store.
func (s *Store) MemberHistory(ctx context.Context, org, id techlog.ID) ([]techlog.MemberEntry, error) {
	return list(ctx, s, organization(org), ask(selectMemberHistory, uuid(org), uuid(id)), scanMemberEntry)
}

func scanMember(row pgx.Row) (techlog.Member, error) {
	var m techlog.Member
	var until *time.Time
	err := row.Scan(into(&m.Person), &m.Name, &m.Email, &m.Roles, &m.Since, &until, &m.Version)
	m.Until = given(until)
	return m, err
}

func scanMemberEntry(row pgx.Row) (techlog.MemberEntry, error) {
	var e techlog.MemberEntry
	var until *time.Time
	err := row.Scan(into(&e.Person), &e.Number, &e.At, &e.By, &e.Name, &e.Roles, &until)
	e.Until = given(until)
	return e, err
}

// Member implements hangar.Tx.
func (c *change) Member(ctx context.Context, id techlog.ID) (techlog.Member, error) {
	m, err := scanMember(c.conn.QueryRow(ctx, selectOneMember, c.org, uuid(id)))
	return m, absent(err, "member")
}

// Account implements hangar.Tx. From then on the transaction presents the address.
func (c *change) Account(ctx context.Context, address techlog.Email) (techlog.Account, error) {
	digest := address.Digest()
	var a techlog.Account
	err := c.as(ctx, email(digest), ask(selectAccountByEmail, digest[:]), func(row pgx.Row) error {
		return row.Scan(into(&a.ID), &a.Email, &a.Name, &a.At)
	})
	return a, absent(err, "account")
}

// WasElsewhere implements hangar.Tx. It asks as the person for a moment: no organization sees another's members.
func (c *change) WasElsewhere(ctx context.Context, id techlog.ID) (bool, error) {
	var was bool
	err := c.as(ctx, person(id), ask(selectElsewhere, c.org, uuid(id)), func(row pgx.Row) error { return row.Scan(&was) })
	if err != nil {
		return false, translate(err)
	}
	_, err = c.conn.Exec(ctx, askNobody)
	return was, translate(err)
}

// as reads one row asking for somebody besides the organization.
func (c *change) as(ctx context.Context, who asking, q query, scan func(pgx.Row) error) error {
	var batch pgx.Batch
	who.queueOn(&batch)
	q.queueOn(&batch)
	results := c.conn.SendBatch(ctx, &batch)
	who.skipOver(results)
	err := scan(results.QueryRow())
	return finish(results, err)
}

func (c *change) AddAccount(a techlog.Account)           { c.add(addAccount(a)) }
func (c *change) AddPasswordLink(l techlog.PasswordLink) { c.add(addLink(l)) }
func (c *change) AddMember(m techlog.Member)             { c.add(addMember(c.scope.Organization, m)) }

func (c *change) UpdateMember(m techlog.Member) {
	c.write(memberships, updateMember, c.org, uuid(m.Person), m.Name, roleNames(m.Roles), instant(m.Since), instantOrNull(m.Until), m.Version)
}

func (c *change) AddMemberEntry(e techlog.MemberEntry) {
	c.add(addMemberEntry(c.scope.Organization, e))
}

func (c *change) NoteSecurity(e techlog.SecurityEvent) { c.add(noteEventIn(e, c.scope.Organization)) }

func addMember(org techlog.ID, m techlog.Member) query {
	return enter(memberships, insertMember, uuid(org), uuid(m.Person), m.Name, roleNames(m.Roles), instant(m.Since), instantOrNull(m.Until), m.Version)
}

func addMemberEntry(org techlog.ID, e techlog.MemberEntry) query {
	return enter(membershipHistories, insertMemberEntry, uuid(org), uuid(e.Person), e.Number, instant(e.At), e.By, e.Name, roleNames(e.Roles), instantOrNull(e.Until))
}

// roleNames is roles as the driver writes them.
func roleNames(roles techlog.RoleSet) []string {
	names := make([]string, len(roles))
	for i, role := range roles {
		names[i] = string(role)
	}
	return names
}
