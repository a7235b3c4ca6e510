package postgres

import (
	"errors"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	insertEvent = `
		INSERT INTO event (organization, id, kind, aircraft, subject, at, changes)
		VALUES ($1, $2, $3, $4, $5, $6, $7)`

	insertAnswer = `
		INSERT INTO idempotency (organization, token, key, request, answer, at)
		VALUES ($1, $2, $3, $4, $5, $6)`
	selectAnswer = `SELECT request, answer FROM idempotency WHERE organization = $1 AND token = $2 AND key = $3`
)

func (c *change) Emit(e techlog.Event) {
	c.queue(insertEvent, c.org, uuid(e.ID), e.Kind, uuidOrNull(e.Aircraft), uuid(e.Subject), instant(e.At), filled(e.Changes))
}

// earlierAnswer is what was answered to the first request with a key.
type earlierAnswer struct {
	request []byte // digest
	answer  []byte
}

// scanEarlierAnswer returns nil if the key has not been used.
func scanEarlierAnswer(row pgx.Row) (*earlierAnswer, error) {
	var e earlierAnswer
	err := row.Scan(&e.request, &e.answer)
	if errors.Is(err, pgx.ErrNoRows) {
		return nil, nil
	}
	return &e, err
}

// replay gives the answer if the request is the same.
func (e *earlierAnswer) replay(once *hangar.Once) ([]byte, error) {
	if string(e.request) != string(once.Digest[:]) {
		return nil, techlog.Errorf(techlog.KindReused, "this idempotency key was used for another request")
	}
	return e.answer, nil
}
