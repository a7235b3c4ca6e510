package postgres

import (
	"context"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

const (
	selectPasskeys = `
		SELECT person, id, handle, name, record, version, added_at, used_at FROM passkey
		WHERE person = $1 AND removed_at IS NULL ORDER BY id`
	insertPasskey = `
		INSERT INTO passkey (person, id, handle, name, record, version, added_at) VALUES ($1, $2, $3, $4, $5, $6, $7)`
	usePasskey = `
		WITH used AS (
			UPDATE passkey SET record = $3, version = version + 1, used_at = $4
			WHERE person = $1 AND id = $2 AND version = $5 AND removed_at IS NULL
			RETURNING 1)
		SELECT expect(count(*), 1, '` + nothingThere + `') FROM used`
	removePasskey = `
		WITH removed AS (
			UPDATE passkey SET removed_at = $3 WHERE person = $1 AND id = $2 AND removed_at IS NULL RETURNING 1)
		SELECT expect(count(*), 1, '` + nothingThere + `') FROM removed`

	giveUpRecoveryCodes = `UPDATE recovery_code SET used_at = $2 WHERE person = $1 AND used_at IS NULL`
	insertRecoveryCodes = `INSERT INTO recovery_code (person, digest, at) SELECT $1, d, $3 FROM unnest($2::bytea[]) d`
	useRecoveryCode     = `
		WITH used AS (
			UPDATE recovery_code SET used_at = $3 WHERE person = $1 AND digest = $2 AND used_at IS NULL RETURNING 1)
		SELECT expect(count(*), 1, '` + nothingThere + `') FROM used`

	insertChallenge = `
		INSERT INTO challenge (person, id, ticket, purpose, about, state, at, until) VALUES ($1, $2, $3, $4, $5, $6, $7, $8)`
	challengeColumns = `person, id, purpose, about, state, at, until`
	takeChallenge    = `
		UPDATE challenge SET used_at = $3 WHERE person = $1 AND id = $2 AND used_at IS NULL AND until > $3
		RETURNING ` + challengeColumns
	becomeBearerOfTicket = `SELECT set_config('tiedown.person', coalesce((SELECT person::text FROM challenge WHERE ticket = $1), ''), true)`
	takeTicket           = `
		UPDATE challenge SET used_at = $2 WHERE ticket = $1 AND used_at IS NULL AND until > $2
		RETURNING ` + challengeColumns
)

// Passkeys implements people.Store.
func (s *Store) Passkeys(ctx context.Context, id techlog.ID) ([]people.Passkey, error) {
	return list(ctx, s, person(id), ask(selectPasskeys, uuid(id)), scanPasskey)
}

func scanPasskey(row pgx.Row) (people.Passkey, error) {
	var k people.Passkey
	var used *time.Time
	err := row.Scan(into(&k.Person), into(&k.ID), &k.Handle, &k.Name, &k.Record, &k.Version, &k.Added, &used)
	if used != nil {
		k.Used = *used
	}
	return k, err
}

// AddPasskey implements people.Store.
func (s *Store) AddPasskey(ctx context.Context, k people.Passkey, codes [][32]byte, events ...techlog.SecurityEvent) error {
	writes := []query{ask(insertPasskey, uuid(k.Person), uuid(k.ID), k.Handle, k.Name, k.Record, k.Version, instant(k.Added))}
	if len(codes) > 0 {
		writes = append(writes, newRecoveryCodes(k.Person, codes, k.Added)...)
	}
	for _, e := range events {
		writes = append(writes, noteEvent(e))
	}
	return s.tell(ctx, person(k.Person), writes...)
}

func newRecoveryCodes(id techlog.ID, codes [][32]byte, at time.Time) []query {
	digests := make([][]byte, len(codes))
	for i := range codes {
		digests[i] = codes[i][:]
	}
	return []query{ask(giveUpRecoveryCodes, uuid(id), instant(at)), ask(insertRecoveryCodes, uuid(id), digests, instant(at))}
}

// UsePasskey implements people.Store.
func (s *Store) UsePasskey(ctx context.Context, k people.Passkey, at time.Time) error {
	err := s.tell(ctx, person(k.Person), ask(usePasskey, uuid(k.Person), uuid(k.ID), k.Record, instant(at), k.Version))
	if techlog.KindOf(err) == techlog.KindNotFound {
		return techlog.Errorf(techlog.KindUnproven, "the passkey was used or removed at this moment: try again")
	}
	return err
}

// RemovePasskey implements people.Store.
func (s *Store) RemovePasskey(ctx context.Context, id, passkey techlog.ID, at time.Time, e techlog.SecurityEvent) error {
	return s.tell(ctx, person(id), ask(removePasskey, uuid(id), uuid(passkey), instant(at)), noteEvent(e))
}

// ReplaceRecoveryCodes implements people.Store.
func (s *Store) ReplaceRecoveryCodes(ctx context.Context, id techlog.ID, codes [][32]byte, at time.Time, e techlog.SecurityEvent) error {
	return s.tell(ctx, person(id), append(newRecoveryCodes(id, codes, at), noteEvent(e))...)
}

// UseRecoveryCode implements people.Store.
func (s *Store) UseRecoveryCode(ctx context.Context, id techlog.ID, code [32]byte, at time.Time, e techlog.SecurityEvent) error {
	return s.tell(ctx, person(id), ask(useRecoveryCode, uuid(id), code[:], instant(at)), noteEvent(e))
}

// AddChallenge implements people.Store.
func (s *Store) AddChallenge(ctx context.Context, c people.Challenge) error {
	var ticket []byte
	if c.Ticket != ([32]byte{}) {
		ticket = c.Ticket[:]
	}
	return s.tell(ctx, person(c.Person),
		ask(insertChallenge, uuid(c.Person), uuid(c.ID), ticket, c.Purpose, c.About, c.State, instant(c.At), instant(c.Until)))
}

// TakeChallenge implements people.Store.
func (s *Store) TakeChallenge(ctx context.Context, id, challenge techlog.ID, at time.Time) (people.Challenge, error) {
	c, err := one(ctx, s, person(id), ask(takeChallenge, uuid(id), uuid(challenge), instant(at)), scanChallenge)
	return c, absent(err, "challenge")
}

// TakeTicket implements people.Store.
func (s *Store) TakeTicket(ctx context.Context, digest [32]byte, at time.Time) (people.Challenge, error) {
	who := bearer(digest).and(asking{ask(becomeBearerOfTicket, digest[:])})
	c, err := one(ctx, s, who, ask(takeTicket, digest[:], instant(at)), scanChallenge)
	return c, absent(err, "ticket")
}

func scanChallenge(row pgx.Row) (people.Challenge, error) {
	var c people.Challenge
	err := row.Scan(into(&c.Person), into(&c.ID), &c.Purpose, &c.About, &c.State, &c.At, &c.Until)
	return c, err
}
