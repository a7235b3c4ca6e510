package postgres

import (
	"context"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

const (
	selectCredentials = `
		SELECT a.id, a.email, a.name, a.at, coalesce(p.phc, '')
		FROM account a LEFT JOIN password p ON p.person = a.id`
	selectCredentialsByEmail  = selectCredentials + ` WHERE a.email_digest = $1`
	selectCredentialsByPerson = selectCredentials + ` WHERE a.id = $1`

	insertAccount = `INSERT INTO account (id, email, email_digest, name, at) VALUES ($1, $2, $3, $4, $5)`

	setPassword = `
		INSERT INTO password (person, phc, at) VALUES ($1, $2, $3)
		ON CONFLICT ON CONSTRAINT password_pkey DO UPDATE SET phc = excluded.phc, at = excluded.at`
	// A password that was changed meanwhile stays as it was changed.
	rehash = `UPDATE password SET phc = $3 WHERE person = $1 AND phc = $2`

	insertLink = `INSERT INTO password_link (digest, person, at, until, first) VALUES ($1, $2, $3, $4, $5)`
	// A link for somebody new is good as long as there is no other way in; the latest link alone is good.
	liveLink = `
		FROM password_link l
		WHERE l.digest = $1 AND l.used_at IS NULL AND l.until > $2
			AND NOT (l.first AND (EXISTS (SELECT FROM password p WHERE p.person = l.person)
				OR EXISTS (SELECT FROM linked_identity i WHERE i.person = l.person)))
			AND NOT EXISTS (SELECT FROM password_link n WHERE n.person = l.person AND n.at > l.at)`
	becomeBearerOfLink = `SELECT set_config('tiedown.person', coalesce((SELECT person::text FROM password_link WHERE digest = $1), ''), true)`
	selectLink         = `SELECT l.person ` + liveLink
	useLink            = `
		WITH live AS (SELECT l.digest ` + liveLink + `),
			spent AS (UPDATE password_link SET used_at = $2 WHERE digest IN (SELECT digest FROM live) AND used_at IS NULL RETURNING 1)
		SELECT expect(count(*), 1, '` + nothingThere + `') FROM spent`

	selectMemberships = `
		SELECT o.id, o.name, m.name, m.roles::text[]
		FROM membership m JOIN organization o ON o.id = m.organization
		WHERE m.person = $1 AND m.until IS NULL ORDER BY m.organization`

	selectIdentities   = `SELECT issuer, subject FROM linked_identity WHERE person = $1 ORDER BY at`
	selectIdentity     = `SELECT person FROM linked_identity WHERE digest = $1`
	insertIdentity     = `INSERT INTO linked_identity (digest, person, issuer, subject, at) VALUES ($1, $2, $3, $4, $5)`
	selectPersonByMail = `SELECT id FROM account WHERE email_digest = $1`
)

// Credentials implements people.Store.
func (s *Store) Credentials(ctx context.Context, digest [32]byte) (people.Credentials, error) {
	held, err := one(ctx, s, email(digest), ask(selectCredentialsByEmail, digest[:]), scanCredentials)
	if err != nil {
		return held, absent(err, "account")
	}
	// Passkeys are seen by their person alone: who is meant is known now.
	held.Passkeys, err = s.Passkeys(ctx, held.Account.ID)
	return held, err
}

// CredentialsOf implements people.Store.
func (s *Store) CredentialsOf(ctx context.Context, id techlog.ID) (people.Credentials, error) {
	held, err := one(ctx, s, person(id), ask(selectCredentialsByPerson, uuid(id)), scanCredentials)
	if err != nil {
		return held, absent(err, "account")
	}
	held.Passkeys, err = s.Passkeys(ctx, id)
	return held, err
}

func scanCredentials(row pgx.Row) (people.Credentials, error) {
	var c people.Credentials
	err := row.Scan(into(&c.Account.ID), &c.Account.Email, &c.Account.Name, &c.Account.At, &c.Hash)
	return c, err
}

// SetPassword implements people.Store.
func (s *Store) SetPassword(ctx context.Context, id techlog.ID, hash string, but techlog.ID, at time.Time, e techlog.SecurityEvent) error {
	return s.tell(ctx, person(id), ask(setPassword, uuid(id), hash, instant(at)), ask(endOtherSessions, uuid(id), uuid(but), instant(at)), noteEvent(e))
}

// Rehash implements people.Store.
func (s *Store) Rehash(ctx context.Context, id techlog.ID, old, hash string) error {
	return s.tell(ctx, person(id), ask(rehash, uuid(id), old, hash))
}

// LinkOf implements people.Store.
func (s *Store) LinkOf(ctx context.Context, digest [32]byte, at time.Time) (techlog.ID, error) {
	who := bearer(digest).and(asking{ask(becomeBearerOfLink, digest[:])})
	id, err := one(ctx, s, who, ask(selectLink, digest[:], instant(at)), scanID)
	return id, absent(err, "link")
}

// UseLink implements people.Store.
func (s *Store) UseLink(ctx context.Context, digest [32]byte, id techlog.ID, hash string, at time.Time, e techlog.SecurityEvent) error {
	return s.tell(ctx, bearer(digest).and(person(id)),
		ask(useLink, digest[:], instant(at)), ask(setPassword, uuid(id), hash, instant(at)),
		ask(endOtherSessions, uuid(id), uuid(techlog.ID{}), instant(at)), noteEvent(e))
}

// Memberships implements people.Store.
func (s *Store) Memberships(ctx context.Context, id techlog.ID) ([]techlog.Membership, error) {
	return list(ctx, s, person(id), ask(selectMemberships, uuid(id)), scanMembership)
}

func scanMembership(row pgx.Row) (techlog.Membership, error) {
	var m techlog.Membership
	err := row.Scan(into(&m.Organization.ID), &m.Organization.Name, &m.Name, &m.Roles)
	return m, err
}

// PersonOf implements people.Store.
func (s *Store) PersonOf(ctx context.Context, identity [32]byte) (techlog.ID, error) {
	id, err := one(ctx, s, bearer(identity), ask(selectIdentity, identity[:]), scanID)
	return id, absent(err, "identity")
}

// LinkIdentity implements people.Store.
func (s *Store) LinkIdentity(ctx context.Context, id techlog.ID, digest [32]byte, i people.Identity, at time.Time, e techlog.SecurityEvent) error {
	return s.tell(ctx, person(id), ask(insertIdentity, digest[:], uuid(id), i.Issuer, i.Subject, instant(at)), noteEvent(e))
}

// Identities implements people.Store.
func (s *Store) Identities(ctx context.Context, id techlog.ID) ([]people.Identity, error) {
	return list(ctx, s, person(id), ask(selectIdentities, uuid(id)), func(row pgx.Row) (people.Identity, error) {
		var i people.Identity
		err := row.Scan(&i.Issuer, &i.Subject)
		return i, err
	})
}

// AddAccount implements people.Store.
func (s *Store) AddAccount(ctx context.Context, a techlog.Account, link techlog.PasswordLink, in *people.NewMember) error {
	who := keeper().and(email(a.Email.Digest()))
	writes := []query{addAccount(a), addLink(link)}
	if in != nil {
		m := techlog.Member{Person: a.ID, Name: in.Name, Roles: in.Roles, Since: a.At, Version: 1}
		writes = append(writes, addMember(in.Organization, m), addMemberEntry(in.Organization, techlog.MemberEntry{
			Person: a.ID, Number: 1, At: a.At, By: in.By, Name: m.Name, Roles: m.Roles,
		}))
	}
	err := s.addAccount(ctx, who, in, writes)
	if errors.Is(err, errAgain) {
		return techlog.Errorf(techlog.KindConflict, "there is an account of this e-mail address already")
	}
	return err
}

func (s *Store) addAccount(ctx context.Context, who asking, in *people.NewMember, writes []query) error {
	if in == nil {
		return s.tell(ctx, who, writes...)
	}
	return s.keep(ctx, who, in.Organization, in.By, writes...)
}

func addAccount(a techlog.Account) query {
	digest := a.Email.Digest()
	return ask(insertAccount, uuid(a.ID), string(a.Email), digest[:], a.Name, instant(a.At))
}

func addLink(l techlog.PasswordLink) query {
	return ask(insertLink, l.Digest[:], uuid(l.Person), instant(l.At), instant(l.Until), l.First)
}

// AddLink implements people.Store.
func (s *Store) AddLink(ctx context.Context, digest [32]byte, link techlog.PasswordLink) error {
	who := keeper().and(email(digest))
	id, err := one(ctx, s, who, ask(selectPersonByMail, digest[:]), scanID)
	if err != nil {
		return absent(err, "account")
	}
	link.Person = id
	return s.tell(ctx, who, addLink(link))
}
