package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

const (
	// An attempt counts unless the subject is locked: then nothing is returned. The one that uses up the free ones
	// locks, and so does every one after it, each for twice as long.
	countAttempt = `
		INSERT INTO attempt AS a (subject, failures, at, until) VALUES ($1, 1, $2, $2)
		ON CONFLICT ON CONSTRAINT attempt_pkey DO UPDATE SET at = $2,
			failures = CASE WHEN a.at < $2::timestamptz - $6::interval THEN 1 ELSE a.failures + 1 END,
			until = $2::timestamptz + CASE WHEN a.at < $2::timestamptz - $6::interval OR a.failures + 1 < $3 THEN interval '0'
				ELSE least($4::interval * power(2, least(a.failures + 1 - $3, 20)), $5::interval) END
		WHERE a.until <= $2
		RETURNING failures`
	selectAttempts  = `SELECT until FROM attempt WHERE subject = ANY ($1) AND until > $2`
	forgiveEmail    = `UPDATE attempt SET failures = 0, until = $2 WHERE subject = $1`
	forgiveAddress  = `UPDATE attempt SET failures = greatest(failures - 1, 0) WHERE subject = $1`
	eventColumns    = `id, person, kind, about, by, address, at`
	insertSecurity  = `INSERT INTO security_event (` + eventColumns + `, organization, email) VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9)`
	selectSecurity  = `SELECT ` + eventColumns + ` FROM security_event`
	selectMySecured = selectSecurity + ` WHERE organization IS NULL AND person = $1 AND ($2::uuid IS NULL OR id < $2) ORDER BY id DESC LIMIT $3`
	selectSecured   = selectSecurity + ` WHERE organization = $1 AND ($2::uuid IS NULL OR id < $2) ORDER BY id DESC LIMIT $3`
)

// Attempt implements people.Store.
func (s *Store) Attempt(ctx context.Context, by []people.Subject, at time.Time) (people.Tried, error) {
	var batch pgx.Batch
	var subjects [][]byte
	who := email(by[0].Digest)
	if len(by) > 1 {
		who = who.and(address(by[1].Digest))
	}
	who.queueOn(&batch)
	// Before anything is counted: a lock that this attempt itself sets is not yet one.
	for _, b := range by {
		subjects = append(subjects, b.Digest[:])
	}
	batch.Queue(selectAttempts, subjects, instant(at))
	for _, b := range by {
		batch.Queue(countAttempt, b.Digest[:], instant(at), b.Limit.Free, b.Limit.First, b.Limit.Longest, b.Limit.Forgotten)
	}
	results := s.pool.SendBatch(ctx, &batch)
	who.skipOver(results)
	var tried people.Tried
	locks, err := collect(results, scanInstant)
	for _, until := range locks {
		if until.After(tried.Locked) {
			tried.Locked = until
		}
	}
	for i := range by {
		failures, failed := collect(results, scanCount)
		if err == nil {
			err = failed
		}
		switch {
		case len(failures) == 0 && tried.Locked.IsZero():
			// Somebody else's attempt has set a lock at this very moment.
			tried.Locked = at.Add(by[i].Limit.First)
		case len(failures) > 0 && i == 0:
			tried.Failures = failures[0]
		}
	}
	return tried, translate(finish(results, err))
}

func scanInstant(row pgx.Row) (time.Time, error) {
	var t time.Time
	err := row.Scan(&t)
	return t, err
}

func scanCount(row pgx.Row) (int, error) {
	var n int
	err := row.Scan(&n)
	return n, err
}

// Forgive implements people.Store.
func (s *Store) Forgive(ctx context.Context, mail, from [32]byte, at time.Time) error {
	who, writes := email(mail), []query{ask(forgiveEmail, mail[:], instant(at))}
	if from != ([32]byte{}) {
		who, writes = who.and(address(from)), append(writes, ask(forgiveAddress, from[:]))
	}
	return s.tell(ctx, who, writes...)
}

// noteEvent adds what happened to a person's account.
func noteEvent(e techlog.SecurityEvent) query { return noteEventIn(e, techlog.ID{}) }

// noteEventIn adds what happened in an organization.
func noteEventIn(e techlog.SecurityEvent, in techlog.ID) query {
	var mail []byte
	if e.Email != ([32]byte{}) {
		mail = e.Email[:]
	}
	return ask(insertSecurity, uuid(e.ID), uuidOrNull(e.Person), e.Kind, e.About, e.By, e.Address, instant(e.At), uuidOrNull(in), mail)
}

// Note implements people.Store.
func (s *Store) Note(ctx context.Context, e techlog.SecurityEvent) error {
	who := person(e.Person)
	if e.Email != ([32]byte{}) {
		who = email(e.Email)
	}
	return s.tell(ctx, who, noteEvent(e))
}

// SecurityEvents implements people.Store.
func (s *Store) SecurityEvents(ctx context.Context, id techlog.ID, limit int, before techlog.ID) ([]techlog.SecurityEvent, error) {
	return list(ctx, s, person(id), ask(selectMySecured, uuid(id), uuidOrNull(before), limit), scanSecurityEvent)
}

// SecurityEventsIn implements hangar.Store.
func (s *Store) SecurityEventsIn(ctx context.Context, org techlog.ID, limit int, before techlog.ID) ([]techlog.SecurityEvent, error) {
	return list(ctx, s, organization(org), ask(selectSecured, uuid(org), uuidOrNull(before), limit), scanSecurityEvent)
}

func scanSecurityEvent(row pgx.Row) (techlog.SecurityEvent, error) {
	var e techlog.SecurityEvent
	var who *[16]byte
	err := row.Scan(into(&e.ID), &who, &e.Kind, &e.About, &e.By, &e.Address, &e.At)
	if who != nil {
		e.Person = *who
	}
	return e, err
}
