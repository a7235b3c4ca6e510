package postgres

import (
	"context"
	"encoding/hex"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

const (
	// What was measured on the newest walkarounds of an aircraft: of each, the results that have a value.
	selectMeasured = `
		SELECT w.id, w.checklist, m.id, m.checked, m.value, m.made_at
		FROM (SELECT id, checklist FROM walkaround WHERE organization = $1 AND aircraft = $2 ORDER BY id DESC LIMIT $3) AS w
		CROSS JOIN LATERAL (
			SELECT r.measured_ids, r.measured, r.measured_values, r.measured_at FROM walkaround_report r
			WHERE r.organization = $1 AND r.walkaround = w.id OFFSET 0) AS r
		CROSS JOIN LATERAL unnest(r.measured_ids, r.measured, r.measured_values, r.measured_at) AS m (id, checked, value, made_at)
		ORDER BY m.made_at, m.id`
	selectInService = `
		SELECT aircraft, meter, number, hours, at, by, walkaround, flight, because FROM meter_entry
		WHERE organization = $1 AND aircraft = $2 AND meter = 'time-in-service' ORDER BY number DESC LIMIT $3`
	// Each report counts up its walkaround's version.
	selectStamp = `
		SELECT state_version, concat_ws(' ',
			(SELECT w.id::text || '/' || w.version FROM walkaround w WHERE w.organization = $1 AND w.aircraft = $2 ORDER BY w.id DESC LIMIT 1),
			(SELECT e.number FROM meter_entry e WHERE e.organization = $1 AND e.aircraft = $2 AND e.meter = 'time-in-service'
				ORDER BY e.number DESC LIMIT 1))
		FROM aircraft WHERE organization = $1 AND id = $2`
)

// Stamp reads what tells whether a status is still good. Kind not-found if there is no such aircraft.
func (s *Store) Stamp(ctx context.Context, org, aircraft techlog.ID) (hangar.Stamp, error) {
	stamp, err := one(ctx, s, organization(org), ask(selectStamp, uuid(org), uuid(aircraft)), func(row pgx.Row) (hangar.Stamp, error) {
		var stamp hangar.Stamp
		err := row.Scan(&stamp.Version, &stamp.Walked)
		return stamp, err
	})
	return stamp, absent(err, "aircraft")
}

// Measured reads what was measured on the newest walkarounds of an aircraft, in the order of time, and the newest entries of
// its time in service, in the order of the book: as of one instant.
func (s *Store) Measured(ctx context.Context, org, aircraft techlog.ID, walkarounds, readings int) (hangar.Measured, error) {
	m, err := asOfOneInstant(ctx, s, org, func(batch *pgx.Batch) {
		batch.Queue(selectMeasured, uuid(org), uuid(aircraft), walkarounds)
		batch.Queue(selectInService, uuid(org), uuid(aircraft), readings)
	}, readMeasured)
	return m, translate(err)
}

func readMeasured(results pgx.BatchResults) (hangar.Measured, error) {
	var m hangar.Measured
	var err error
	if m.Measurements, err = collect(results, scanMeasurement); err != nil {
		return m, err
	}
	newest, err := collect(results, scanBookEntry)
	for i := len(newest) - 1; i >= 0; i-- {
		m.InService = append(m.InService, newest[i])
	}
	return m, err
}

func scanMeasurement(row pgx.Row) (walkaround.Measurement, error) {
	var m walkaround.Measurement
	var digest string
	if err := row.Scan(into(&m.Walkaround), &digest, into(&m.Result), &m.Check, &m.Value, &m.At); err != nil {
		return m, err
	}
	_, err := hex.Decode(m.Checklist[:], []byte(digest))
	return m, err
}
