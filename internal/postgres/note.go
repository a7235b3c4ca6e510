package postgres

import (
	"context"
	"encoding/json"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/notice"
	"tiedown/internal/techlog"
)

const (
	selectPreferences  = `SELECT person, document, version FROM notice_preference WHERE organization = $1`
	selectPreference   = selectPreferences + ` AND person = $2`
	selectsPreferences = selectPreferences + ` ORDER BY person`
	// Of two that begin, or of two that follow the same version, one is too late.
	setPreference = `
		WITH changed AS (
			INSERT INTO notice_preference AS p (organization, person, version, document, at) VALUES ($1, $2, $3, $4, $5)
			ON CONFLICT ON CONSTRAINT notice_preference_pkey DO UPDATE
				SET version = excluded.version, document = excluded.document, at = excluded.at
				WHERE p.version = excluded.version - 1
			RETURNING version = 1 OR xmax <> 0 AS follows)
		SELECT expect(count(*) FILTER (WHERE follows), 1, '` + changedMeanwhile + `') FROM changed`

	selectCursor = `SELECT place FROM note_cursor WHERE organization = $1`
	beginCursor  = `INSERT INTO note_cursor (organization, place) VALUES ($1, $2) ON CONFLICT ON CONSTRAINT note_cursor_pkey DO NOTHING`
	moveCursor   = `
		WITH moved AS (UPDATE note_cursor SET place = $3 WHERE organization = $1 AND place = $2 RETURNING 1)
		SELECT expect(count(*), 1, '` + changedMeanwhile + `') FROM moved`
	insertNote = `
		INSERT INTO note (organization, id, person, cause, kind, letter, departs, place, at, state, due_at, next_at, attempts, trace)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $11, 0, '')
		ON CONFLICT ON CONSTRAINT note_written_once DO NOTHING`
	selectNotesWhere = `
		SELECT id, person, cause, kind, letter, departs, place, at, state, due_at, next_at, attempts, trace FROM note WHERE organization = $1`
	selectNotesOf    = selectNotesWhere + ` AND person = $2 ORDER BY at DESC, id DESC LIMIT $3`
	selectLastDigest = selectNotesWhere + ` AND person = $2 AND kind = 'digest' ORDER BY at DESC LIMIT 1`

	// Whoever claims a note has it to itself until next_at. Notes that somebody else is claiming at this moment are left
	// to whoever does.
	claimNotes = `
		WITH due AS (
			SELECT id FROM note WHERE organization = $1 AND state = 'waiting' AND next_at <= $2
			ORDER BY next_at, id LIMIT $4 FOR NO KEY UPDATE SKIP LOCKED)
		UPDATE note n SET next_at = $3, attempts = n.attempts + 1 FROM due WHERE n.organization = $1 AND n.id = due.id
		RETURNING n.id, n.person, n.cause, n.kind, n.letter, n.departs, n.place, n.at, n.state, n.due_at, n.next_at, n.attempts, n.trace`
	// What somebody else has settled meanwhile, as the claim had run out, stays as it is.
	settleNote = `
		UPDATE note SET state = $3, next_at = $4, sent_at = $5, trace = $6, attempts = attempts - $7,
			due_at = CASE WHEN $7 > 0 THEN $4 ELSE due_at END
		WHERE organization = $1 AND id = $2 AND state = 'waiting'`

	insertStopLink = `INSERT INTO stop_link (digest, organization, person, kind, at) VALUES ($1, $2, $3, $4, $5)`
	selectStopLink = `SELECT digest, organization, person, coalesce(kind, ''), at FROM stop_link WHERE digest = $1`
)

// Preferences implements messenger.Store.
func (s *Store) Preferences(ctx context.Context, org, person techlog.ID) (notice.Preferences, error) {
	said, err := one(ctx, s, organization(org), ask(selectPreference, uuid(org), uuid(person)), scanPreferences)
	return said.preferences, absent(err, "preference")
}

// AllPreferences implements messenger.Store.
func (s *Store) AllPreferences(ctx context.Context, org techlog.ID) (map[techlog.ID]notice.Preferences, error) {
	all, err := list(ctx, s, organization(org), ask(selectsPreferences, uuid(org)), scanPreferences)
	of := make(map[techlog.ID]notice.Preferences, len(all))
	for _, said := range all {
		of[said.person] = said.preferences
	}
	return of, err
}

type said struct {
	person      techlog.ID
	preferences notice.Preferences
}

func scanPreferences(row pgx.Row) (said, error) {
	var p said
	err := row.Scan(into(&p.person), &p.preferences, &p.preferences.Version) // a document is read over all that was there
	return p, err
}

// SetPreferences implements messenger.Store.
func (s *Store) SetPreferences(ctx context.Context, org, person techlog.ID, p notice.Preferences, at time.Time) error {
	return s.tell(ctx, organization(org), ask(setPreference, uuid(org), uuid(person), p.Version, p, instant(at)))
}

// NoteCursor implements messenger.Store.
func (s *Store) NoteCursor(ctx context.Context, org techlog.ID) (int64, error) {
	place, err := one(ctx, s, organization(org), ask(selectCursor, uuid(org)), scanInto[int64])
	return place, absent(err, "cursor")
}

// BeginNotes implements messenger.Store.
func (s *Store) BeginNotes(ctx context.Context, org techlog.ID, place int64) error {
	return s.tell(ctx, organization(org), ask(beginCursor, uuid(org), place))
}

// WriteNotes implements messenger.Store.
func (s *Store) WriteNotes(ctx context.Context, org techlog.ID, from, to int64, notes []notice.Note) error {
	writes := []query{ask(moveCursor, uuid(org), from, to)}
	for i := range notes {
		q, err := addNote(org, &notes[i])
		if err != nil {
			return err
		}
		writes = append(writes, q)
	}
	return s.tell(ctx, organization(org), writes...)
}

// WriteNote implements messenger.Store.
func (s *Store) WriteNote(ctx context.Context, org techlog.ID, n notice.Note) error {
	q, err := addNote(org, &n)
	if err != nil {
		return err
	}
	return s.tell(ctx, organization(org), q)
}

func addNote(org techlog.ID, n *notice.Note) (query, error) {
	var letter *string
	if n.Letter != nil {
		raw, err := json.Marshal(n.Letter)
		if err != nil {
			return query{}, err
		}
		letter = new(string(raw))
	}
	return ask(insertNote, uuid(org), uuid(n.ID), uuid(n.Person), n.Cause, string(n.Kind), letter, instantOrNull(n.Departs), n.Place,
		instant(n.At), string(n.State), instant(n.NextAt)), nil
}

// LastDigest implements messenger.Store.
func (s *Store) LastDigest(ctx context.Context, org, person techlog.ID) (notice.Note, error) {
	n, err := one(ctx, s, organization(org), ask(selectLastDigest, uuid(org), uuid(person)), scanNote)
	return n, absent(err, "digest")
}

// NotesTo lists the notes to a person, newest first.
func (s *Store) NotesTo(ctx context.Context, org, person techlog.ID, limit int) ([]notice.Note, error) {
	return list(ctx, s, organization(org), ask(selectNotesOf, uuid(org), uuid(person), limit), scanNote)
}

// ClaimNotes implements messenger.Store.
func (s *Store) ClaimNotes(ctx context.Context, org techlog.ID, at, until time.Time, limit int) ([]notice.Note, error) {
	return list(ctx, s, organization(org), ask(claimNotes, uuid(org), instant(at), instant(until), limit), scanNote)
}

func scanNote(row pgx.Row) (notice.Note, error) {
	var n notice.Note
	var departs *time.Time
	err := row.Scan(into(&n.ID), into(&n.Person), &n.Cause, &n.Kind, &n.Letter, &departs, &n.Place, &n.At, &n.State, &n.DueAt, &n.NextAt, &n.Attempts, &n.Trace)
	n.Departs = given(departs)
	return n, err
}

// SettleNote implements messenger.Store.
func (s *Store) SettleNote(ctx context.Context, org, id techlog.ID, o notice.Outcome) error {
	untold := 0
	if o.Untold {
		untold = 1
	}
	return s.tell(ctx, organization(org), ask(settleNote, uuid(org), uuid(id), string(o.State), instant(o.NextAt), instantOrNull(o.At), o.Trace, untold))
}

// AddStopLinks implements messenger.Store.
func (s *Store) AddStopLinks(ctx context.Context, org techlog.ID, links ...notice.StopLink) error {
	writes := make([]query, len(links))
	for i, l := range links {
		var kind *string
		if l.Kind != "" {
			kind = new(string(l.Kind))
		}
		writes[i] = ask(insertStopLink, l.Digest[:], uuid(org), uuid(l.Person), kind, instant(l.At))
	}
	return s.tell(ctx, organization(org), writes...)
}

// StopLink implements messenger.Store.
func (s *Store) StopLink(ctx context.Context, digest [32]byte) (notice.StopLink, error) {
	l, err := one(ctx, s, bearer(digest), ask(selectStopLink, digest[:]), func(row pgx.Row) (notice.StopLink, error) {
		var l notice.StopLink
		var raw []byte
		err := row.Scan(&raw, into(&l.Organization), into(&l.Person), &l.Kind, &l.At)
		copy(l.Digest[:], raw)
		return l, err
	})
	return l, absent(err, "link")
}
