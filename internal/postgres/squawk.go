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
	// A squawk with the deferral that holds, if one does.
	selectSquawksWhere = `
		SELECT s.id, s.aircraft, s.number, s.kind, s.unit, s.item, s.words, s.state, s.reported_by, s.reported_at, s.version,
			s.confirmed, s.duplicate_of, s.progress, s.expected_on, s.expected_words,
			d.id, d.basis, d.method, d.placard, d.entry, d.determined_by, d.determined_at, d.removed_on, d.until, d.considered,
			d.signature, d.discovered, d.extended_until, d.involves_maintenance, d.maintenance_done
		FROM squawk s LEFT JOIN deferral d ON d.organization = s.organization AND d.id = s.deferral
		WHERE s.organization = $1`
	selectSquawk      = selectSquawksWhere + ` AND s.id = $2`
	selectOpenSquawks = selectSquawksWhere + ` AND s.aircraft = $2 AND s.state <> 'closed' ORDER BY s.number`

	selectHistory = `
		SELECT squawk, number, at, by, step, state, words, signature, expected_on FROM squawk_history
		WHERE organization = $1 AND squawk = $2 ORDER BY number`

	insertSquawk = `
		INSERT INTO squawk (organization, id, aircraft, number, kind, unit, item, words, state, deferral, reported_by, reported_at, version,
			confirmed, duplicate_of, progress, expected_on, expected_words)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18)`
	// What was reported, by whom and when, never changes: the row that is entered in the log must have it as it stands.
	updateSquawk = `
		WITH changed AS (
			UPDATE squawk SET kind = $5, unit = $6, item = $7, state = $9, deferral = $10, version = $13,
				confirmed = $14, duplicate_of = $15, progress = $16, expected_on = $17, expected_words = $18
			WHERE organization = $1 AND id = $2 AND version = $13 - 1
				AND (aircraft, number, words, reported_by, reported_at) IS NOT DISTINCT FROM ($3::uuid, $4::integer, $8::text, $11::text, $12::timestamptz)
			RETURNING 1)
		SELECT expect(count(*), 1, '` + changedMeanwhile + `') FROM changed`
	// A squawk that goes on being deferred brings its deferral along. The same one is left alone; another one under
	// the same identifier runs into the key.
	insertDeferral = `
		INSERT INTO deferral (organization, id, squawk, basis, method, placard, entry, determined_by, determined_at, removed_on, until,
			considered, signature, discovered, extended_until, involves_maintenance, maintenance_done)
		SELECT $1::uuid, $2::uuid, $3::uuid, $4::text, $5::text, $6::text, $7::text, $8::text, $9::timestamptz, $10::date, $11::timestamptz,
			$12::text[], $13::uuid, $14::date, $15::date, $16::boolean, $17::boolean
		WHERE NOT EXISTS (
			SELECT FROM deferral
			WHERE organization = $1 AND id = $2 AND squawk = $3 AND basis = $4 AND method = $5 AND placard = $6 AND entry = $7
				AND determined_by = $8 AND determined_at = $9 AND removed_on IS NOT DISTINCT FROM $10 AND until = $11
				AND considered = $12 AND signature IS NOT DISTINCT FROM $13 AND discovered IS NOT DISTINCT FROM $14
				AND extended_until IS NOT DISTINCT FROM $15 AND involves_maintenance IS NOT DISTINCT FROM $16
				AND maintenance_done = $17)`
	insertHistory = `
		INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words, signature, expected_on)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
)

// Squawks lists squawks, newest first.
func (s *Store) Squawks(ctx context.Context, org techlog.ID, filter hangar.SquawkFilter, page hangar.Page) ([]techlog.Squawk, error) {
	f := squawksWhere(org, filter)
	if !page.After.IsZero() {
		f.and(`s.id < `, uuid(page.After))
	}
	return list(ctx, s, organization(org), f.first(page.Limit, `s.id DESC`), scanSquawk)
}

// SquawksTouched implements hangar.Store.
func (s *Store) SquawksTouched(ctx context.Context, org techlog.ID, filter hangar.SquawkFilter, t hangar.Touch) ([]techlog.Squawk, error) {
	f := squawksWhere(org, filter)
	f.among(`s.aircraft`, idList(t.Aircraft))
	f.among(`EXISTS (SELECT FROM squawk_history h WHERE h.organization = s.organization AND h.squawk = s.id AND h.at`, t.Moments)
	f.close()
	return list(ctx, s, organization(org), f.whole(`s.id`), scanSquawk)
}

func squawksWhere(org techlog.ID, filter hangar.SquawkFilter) *filter {
	f := filtered(selectSquawksWhere, uuid(org))
	if !filter.Aircraft.IsZero() {
		f.and(`s.aircraft = `, uuid(filter.Aircraft))
	}
	if filter.State != "" {
		f.and(`s.state = `, string(filter.State))
	}
	if filter.State == techlog.Reported || filter.State == techlog.Deferred {
		f.when(`s.state <> 'closed'`)
	}
	return f
}

// Squawk reads a squawk. Kind not-found if there is none.
func (s *Store) Squawk(ctx context.Context, org, id techlog.ID) (techlog.Squawk, error) {
	squawk, err := one(ctx, s, organization(org), ask(selectSquawk, uuid(org), uuid(id)), scanSquawk)
	return squawk, absent(err, "squawk")
}

// History lists the entries of a squawk, oldest first. There are none of a squawk that does not exist.
func (s *Store) History(ctx context.Context, org, squawk techlog.ID) ([]techlog.HistoryEntry, error) {
	return list(ctx, s, organization(org), ask(selectHistory, uuid(org), uuid(squawk)), scanHistory)
}

// deferralRow is a deferral that may be absent.
type deferralRow struct {
	id                                          *[16]byte
	basis, method, placard, entry, determinedBy *string
	determinedAt, removedOn, until              *time.Time
	considered                                  []string
	signature                                   *[16]byte
	discovered, extendedUntil                   *time.Time
	involvesMaintenance, maintenanceDone        *bool
}

func (d deferralRow) deferral() *techlog.Deferral {
	if d.id == nil {
		return nil
	}
	deferral := &techlog.Deferral{
		ID: *d.id, Basis: *d.basis, Method: *d.method, Placard: *d.placard, Entry: *d.entry,
		DeterminedBy: *d.determinedBy, DeterminedAt: *d.determinedAt, Until: *d.until,
		RemovedOn: writtenDate(d.removedOn), Signature: idOrZero(d.signature), Discovered: writtenDate(d.discovered),
		ExtendedUntil: writtenDate(d.extendedUntil), InvolvesMaintenance: d.involvesMaintenance, MaintenanceDone: *d.maintenanceDone,
	}
	if len(d.considered) > 0 {
		deferral.Considered = d.considered
	}
	return deferral
}

func scanSquawk(row pgx.Row) (techlog.Squawk, error) {
	var s techlog.Squawk
	var d deferralRow
	var duplicateOf *[16]byte
	var expectedOn *time.Time
	var expectedWords string
	err := row.Scan(into(&s.ID), into(&s.Aircraft), &s.Number, &s.Kind, &s.Unit, &s.Item, &s.Words, &s.State, &s.ReportedBy,
		&s.ReportedAt, &s.Version, &s.Confirmed, &duplicateOf, &s.Progress, &expectedOn, &expectedWords, &d.id, &d.basis, &d.method, &d.placard, &d.entry, &d.determinedBy, &d.determinedAt,
		&d.removedOn, &d.until, &d.considered, &d.signature, &d.discovered, &d.extendedUntil, &d.involvesMaintenance, &d.maintenanceDone)
	if err == nil {
		s.Deferral, s.DuplicateOf = d.deferral(), idOrZero(duplicateOf)
		if expectedOn != nil {
			s.Expected = &techlog.Expected{On: writtenDate(expectedOn), Words: expectedWords}
		}
	}
	return s, err
}

func scanHistory(row pgx.Row) (techlog.HistoryEntry, error) {
	var e techlog.HistoryEntry
	var signature *[16]byte
	var expected *time.Time
	err := row.Scan(into(&e.Squawk), &e.Number, &e.At, &e.By, &e.Step, &e.State, &e.Words, &signature, &expected)
	e.Signature, e.Expected = idOrZero(signature), writtenDate(expected)
	return e, err
}

func (c *change) AddSquawk(s techlog.Squawk) {
	c.write(squawks, insertSquawk, c.squawkRow(s)...)
	c.addDeferral(s)
	counts := c.counts(s.Aircraft)
	counts.squawked = max(counts.squawked, s.Number)
}

func (c *change) UpdateSquawk(s techlog.Squawk) {
	c.write(squawks, updateSquawk, c.squawkRow(s)...)
	c.addDeferral(s)
}

func (c *change) squawkRow(s techlog.Squawk) []any {
	var expected techlog.Expected
	if s.Expected != nil {
		expected = *s.Expected
	}
	on, err := dateOrNull("expected", expected.On)
	if err != nil {
		c.fail(err)
	}
	return []any{
		c.org, uuid(s.ID), uuid(s.Aircraft), s.Number, s.Kind, s.Unit, s.Item, s.Words, string(s.State), deferralID(s),
		s.ReportedBy, instant(s.ReportedAt), s.Version, s.Confirmed, uuidOrNull(s.DuplicateOf), s.Progress, on, expected.Words,
	}
}

func deferralID(s techlog.Squawk) *[16]byte {
	if s.Deferral == nil {
		return nil
	}
	return uuidOrNull(s.Deferral.ID)
}

func (c *change) addDeferral(s techlog.Squawk) {
	d := s.Deferral
	if d == nil {
		return
	}
	removedOn, wrong := dateOrNull("deferral.removed_on", d.RemovedOn)
	discovered, wrong2 := dateOrNull("deferral.discovered", d.Discovered)
	extendedUntil, wrong3 := dateOrNull("deferral.extended_until", d.ExtendedUntil)
	if err := errors.Join(wrong, wrong2, wrong3); err != nil {
		c.fail(err)
		return
	}
	c.write(deferrals, insertDeferral, c.org, uuid(d.ID), uuid(s.ID), d.Basis, d.Method, d.Placard, d.Entry, d.DeterminedBy,
		instant(d.DeterminedAt), removedOn, instant(d.Until), filled(d.Considered), uuidOrNull(d.Signature), discovered,
		extendedUntil, d.InvolvesMaintenance, d.MaintenanceDone)
}

func (c *change) AddHistory(e techlog.HistoryEntry) {
	expected, err := dateOrNull("expected", e.Expected)
	if err != nil {
		c.fail(err)
		return
	}
	c.write(histories, insertHistory, c.org, uuid(e.Squawk), e.Number, instant(e.At), e.By, string(e.Step), string(e.State), e.Words,
		uuidOrNull(e.Signature), expected)
}
