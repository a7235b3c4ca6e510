package postgres

import (
	"context"
	"encoding/json"
	"errors"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	tell             = `SELECT tell($1, $2, $3, $4, $5, $6, $7, $8)`
	appendLogAndTell = `SELECT append_log($1, $2, $3, $4, $5, $6, $7, $8, $9), tell($10, $11, $12, $13, $14, $15, $16, $17)`
	selectEvents     = `
		SELECT id, place, kind, aircraft, subject, by, at, changes FROM event
		WHERE organization = $1 AND place > $2 ORDER BY place LIMIT $3`
	selectLastEvent = `SELECT coalesce(max(place), 0) FROM event WHERE organization = $1`

	insertAnswer = `
		INSERT INTO idempotency (organization, token, key, request, answer, at)
		VALUES ($1, $2, $3, $4, $5, $6)`
	selectAnswer = `SELECT request, answer FROM idempotency WHERE organization = $1 AND token = $2 AND key = $3`
)

// Events lists what happened after a place, in the order of places.
func (s *Store) Events(ctx context.Context, org techlog.ID, after int64, limit int) ([]techlog.Event, error) {
	return list(ctx, s, organization(org), ask(selectEvents, uuid(org), after, limit), scanEvent)
}

// LastEvent is the place of the newest event: 0 if there is none.
func (s *Store) LastEvent(ctx context.Context, org techlog.ID) (int64, error) {
	last, err := one(ctx, s, organization(org), ask(selectLastEvent, uuid(org)), func(row pgx.Row) (int64, error) {
		var place int64
		err := row.Scan(&place)
		return place, err
	})
	return last, translate(err)
}

func scanEvent(row pgx.Row) (techlog.Event, error) {
	var e techlog.Event
	var aircraft *[16]byte
	err := row.Scan(into(&e.ID), &e.Place, &e.Kind, &aircraft, into(&e.Subject), &e.By, &e.At, &e.Changes)
	e.Aircraft = idOrZero(aircraft)
	if len(e.Changes) == 0 {
		e.Changes = nil
	}
	return e, err
}

// tidings are the events of one change, as the function tell takes them.
type tidings struct {
	ids, subjects  [][16]byte
	aircraft       []*[16]byte
	kinds, changes []string
	moments        []time.Time
}

func (c *change) Emit(e techlog.Event) {
	changes, err := json.Marshal(filled(e.Changes))
	if err != nil {
		c.fail(err)
		return
	}
	t := &c.tidings
	t.ids, t.kinds, t.aircraft = append(t.ids, uuid(e.ID)), append(t.kinds, e.Kind), append(t.aircraft, uuidOrNull(e.Aircraft))
	t.subjects, t.moments, t.changes = append(t.subjects, uuid(e.Subject)), append(t.moments, instant(e.At)), append(t.changes, string(changes))
}

// any reports whether there is something to tell.
func (t *tidings) any() bool { return len(t.ids) > 0 }

func (t *tidings) args(org [16]byte, by string) []any {
	return []any{org, by, t.ids, t.kinds, t.aircraft, t.subjects, t.moments, t.changes}
}

// queueAnnals enters in the log what the change writes, and tells what happened, in one statement where it is both. It comes
// last, as it locks the head of the organization's log.
func (c *change) queueAnnals() {
	switch {
	case !c.tidings.any():
		c.leaves.queueOn(&c.writes)
	case len(c.leaves.records) == 0:
		c.queue(tell, c.tidings.args(c.org, c.scope.By)...)
	default:
		c.queue(appendLogAndTell, append(c.leaves.args(), c.tidings.args(c.org, c.scope.By)...)...)
	}
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
