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
	insertSession = `
		INSERT INTO session (person, id, digest, organization, began, seen, until, factor, agent, address)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
	// Whoever presents the secret of a session asks as its person from then on.
	becomeBearerOfSession = `SELECT set_config('tiedown.person', coalesce((SELECT person::text FROM session WHERE digest = $1), ''), true)`
	selectSession         = `
		SELECT s.id, s.digest, s.organization, s.began, s.seen, s.until, s.factor, s.agent, s.address, a.id, a.email, a.name, a.at,
			m.person IS NOT NULL, coalesce(m.name, ''), coalesce(m.roles::text[], '{}')
		FROM session s JOIN account a ON a.id = s.person
		LEFT JOIN membership m ON m.organization = s.organization AND m.person = s.person AND m.until IS NULL
		WHERE s.ended_at IS NULL`
	selectSessionByDigest  = selectSession + ` AND s.digest = $1`
	selectSessionsOfPerson = selectSession + ` AND s.person = $1 AND s.until > $2 ORDER BY s.id DESC`

	touchSession = `UPDATE session SET seen = $3 WHERE person = $1 AND id = $2 AND ended_at IS NULL AND seen < $3`
	endSession   = `
		WITH ended AS (UPDATE session SET ended_at = $3 WHERE person = $1 AND id = $2 AND ended_at IS NULL RETURNING 1)
		SELECT expect(count(*), 1, '` + nothingThere + `') FROM ended`
	endOtherSessions = `UPDATE session SET ended_at = $3 WHERE person = $1 AND id <> $2 AND ended_at IS NULL`
)

func addSession(s people.Session) query {
	return ask(insertSession, uuid(s.Account.ID), uuid(s.ID), s.Digest[:], uuidOrNull(s.Organization), instant(s.Began), instant(s.Seen),
		instant(s.Until), s.Factor, s.From.Agent, s.From.Address)
}

// AddSession implements people.Store.
func (s *Store) AddSession(ctx context.Context, made people.Session, e techlog.SecurityEvent) error {
	return s.tell(ctx, person(made.Account.ID), addSession(made), noteEvent(e))
}

// ReplaceSession implements people.Store.
func (s *Store) ReplaceSession(ctx context.Context, old techlog.ID, made people.Session) error {
	id := made.Account.ID
	err := s.tell(ctx, person(id), ask(endSession, uuid(id), uuid(old), instant(made.Began)), addSession(made))
	if techlog.KindOf(err) == techlog.KindNotFound {
		return techlog.Errorf(techlog.KindUnauthorized, "the session is over: sign in again")
	}
	return err
}

// Session implements people.Store.
func (s *Store) Session(ctx context.Context, digest [32]byte) (people.Session, error) {
	who := bearer(digest).and(asking{ask(becomeBearerOfSession, digest[:])})
	found, err := one(ctx, s, who, ask(selectSessionByDigest, digest[:]), scanSession)
	if errors.Is(err, pgx.ErrNoRows) {
		return found, techlog.Errorf(techlog.KindUnauthorized, "the session is over: sign in again")
	}
	return found, translate(err)
}

// TouchSession implements people.Store.
func (s *Store) TouchSession(ctx context.Context, id, session techlog.ID, at time.Time) error {
	return s.tell(ctx, person(id), ask(touchSession, uuid(id), uuid(session), instant(at)))
}

// Sessions implements people.Store.
func (s *Store) Sessions(ctx context.Context, id techlog.ID, at time.Time) ([]people.Session, error) {
	return list(ctx, s, person(id), ask(selectSessionsOfPerson, uuid(id), instant(at)), scanSession)
}

// EndSession implements people.Store.
func (s *Store) EndSession(ctx context.Context, id, session techlog.ID, at time.Time, e techlog.SecurityEvent) error {
	return s.tell(ctx, person(id), ask(endSession, uuid(id), uuid(session), instant(at)), noteEvent(e))
}

func scanSession(row pgx.Row) (people.Session, error) {
	var s people.Session
	var digest []byte
	var organization *[16]byte
	var m techlog.Member
	var is bool
	err := row.Scan(into(&s.ID), &digest, &organization, &s.Began, &s.Seen, &s.Until, &s.Factor, &s.From.Agent, &s.From.Address,
		into(&s.Account.ID), &s.Account.Email, &s.Account.Name, &s.Account.At, &is, &m.Name, &m.Roles)
	if err != nil {
		return s, err
	}
	s.Digest = [32]byte(digest)
	if organization != nil {
		s.Organization = *organization
	}
	if is {
		m.Person = s.Account.ID
		s.Member = &m
	}
	return s, nil
}
