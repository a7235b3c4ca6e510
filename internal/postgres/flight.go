package postgres

import (
	"context"
	"encoding/json"
	"slices"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectFlightsWhere = `
		SELECT id, aircraft, from_base, to_base, departs, arrives, rules, facts, purpose, state, planned_by, light_day, light_night,
			light_sunset_to_sunrise, in_alaska, zone, hold_verdict, hold_rows, hold_rules, hold_at, version,
			sequence, changed_at, series, hold_blocks, hold_legs, coalesce(legs, (
				SELECT jsonb_build_array(jsonb_build_object('departs', departs, 'arrives', arrives, 'in_alaska', in_alaska,
					'from', jsonb_build_object('base', f.id, 'ident', f.code, 'name', f.name, 'lat', f.lat, 'lon', f.lon),
					'to', jsonb_build_object('base', t.id, 'ident', t.code, 'name', t.name, 'lat', t.lat, 'lon', t.lon),
					'light', jsonb_build_object('day', light_day, 'night', light_night, 'sunset_to_sunrise', light_sunset_to_sunrise)))
				FROM base f, base t WHERE f.organization = flight.organization AND f.id = from_base AND t.organization = flight.organization AND t.id = to_base))
		FROM flight WHERE organization = $1`
	selectFlight         = selectFlightsWhere + ` AND id = $2`
	selectSeries         = selectFlightsWhere + ` AND series = $2 ORDER BY departs, id FOR UPDATE`
	selectPlannedFlights = selectFlightsWhere + ` AND aircraft = $2 AND state = 'planned' AND arrives > $3 ORDER BY id`
	selectFlightsAt      = selectFlightsWhere + ` AND state = 'planned' AND arrives > $3 AND ($2 IN (from_base, to_base)
		OR legs @> jsonb_build_array(jsonb_build_object('from', jsonb_build_object('base', $2::uuid)))
		OR legs @> jsonb_build_array(jsonb_build_object('to', jsonb_build_object('base', $2::uuid)))) ORDER BY id`

	// Planned or called off, each by the index of its own.
	selectToCome         = selectFlightsWhere + ` AND state = 'planned' AND arrives > $3 AND departs < $4 AND ($2::uuid IS NULL OR aircraft = $2)`
	selectCalledOff      = selectFlightsWhere + ` AND state = 'cancelled' AND arrives > $3 AND departs < $4 AND ($2::uuid IS NULL OR aircraft = $2)`
	selectFlightsBetween = selectToCome + ` UNION ALL` + selectCalledOff + ` ORDER BY departs, id LIMIT $5`

	selectStaleAircraft = `
		SELECT DISTINCT aircraft FROM flight
		WHERE organization = $1 AND state = 'planned' AND arrives > $3 AND hold_rules <> $2 ORDER BY aircraft`

	insertFlight = `
		INSERT INTO flight (organization, id, aircraft, from_base, to_base, departs, arrives, rules, facts, purpose, state, planned_by,
			light_day, light_night, light_sunset_to_sunrise, in_alaska, zone, version, legs, series, hold_verdict, hold_rows, hold_rules, hold_at, hold_legs,
			hold_blocks, changed_at)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14, $15, $16, $17, $18, $19, $20, $21, $22, $23, $24, $25, $26, $27)`
	updateFlight = `
		WITH changed AS (
			UPDATE flight SET aircraft = $3, from_base = $4, to_base = $5, departs = $6, arrives = $7, rules = $8, facts = $9,
				purpose = $10, state = $11, planned_by = $12, light_day = $13, light_night = $14, light_sunset_to_sunrise = $15,
				in_alaska = $16, zone = $17, version = $18, legs = $19, hold_verdict = $21, hold_rows = $22, hold_rules = $23, hold_at = $24,
				hold_legs = $25, hold_blocks = $26, changed_at = $27, sequence = sequence + 1
			WHERE organization = $1 AND id = $2 AND version = $18 - 1 AND series IS NOT DISTINCT FROM $20
			RETURNING 1)
		SELECT expect(count(*), 1, '` + changedMeanwhile + `') FROM changed`

	// Every hold of a change in one statement. A flight that was moved to another aircraft or taken off the plan since it
	// was read was judged by whoever did that: then the change is run again, on what the aircraft has now.
	setHolds = `
		WITH changed AS (
			UPDATE flight f SET hold_verdict = h.verdict, hold_rows = h.rows::text[], hold_rules = h.rules, hold_at = h.at,
				hold_legs = h.legs::jsonb, hold_blocks = h.blocks::uuid[], changed_at = $10, sequence = f.sequence + 1
			FROM unnest($2::uuid[], $3::integer[], $4::text[], $5::text[], $6::text[], $7::timestamptz[], $8::text[], $9::text[])
				AS h (id, version, verdict, rows, rules, at, legs, blocks)
			WHERE f.organization = $1 AND f.id = h.id AND f.version = h.version
			RETURNING 1)
		SELECT expect(count(*), cardinality($2::uuid[]), '` + movedMeanwhile + `') FROM changed`
)

// Flights lists flights in the order of their identifiers.
func (s *Store) Flights(ctx context.Context, org techlog.ID, filter hangar.FlightFilter, page hangar.Page) ([]techlog.Flight, error) {
	f := flightsWhere(org, filter)
	if !page.After.IsZero() {
		f.and(`id > `, uuid(page.After))
	}
	return list(ctx, s, organization(org), f.first(page.Limit, `id`), scanFlight)
}

// FlightsTouched implements hangar.Store.
func (s *Store) FlightsTouched(ctx context.Context, org techlog.ID, filter hangar.FlightFilter, t hangar.Touch) ([]techlog.Flight, error) {
	f := flightsWhere(org, filter)
	f.among(`changed_at`, t.Moments)
	f.among(`aircraft`, idList(t.Aircraft))
	return list(ctx, s, organization(org), f.whole(`changed_at, id`), scanFlight)
}

func flightsWhere(org techlog.ID, filter hangar.FlightFilter) *filter {
	f := filtered(selectFlightsWhere, uuid(org))
	if !filter.Aircraft.IsZero() {
		f.and(`aircraft = `, uuid(filter.Aircraft))
	}
	switch filter.State {
	case "":
	case techlog.Planned:
		f.when(`state = 'planned'`)
	default:
		f.and(`state = `, string(filter.State))
	}
	if !filter.EndsAfter.IsZero() {
		f.and(`arrives > `, filter.EndsAfter)
	}
	if !filter.DepartBefore.IsZero() {
		f.and(`departs < `, filter.DepartBefore)
	}
	if filter.Held != nil {
		f.and(`(hold_verdict NOT IN ('clear', 'limited') OR hold_blocks <> '{}') = `, *filter.Held)
	}
	if !filter.Series.IsZero() {
		f.and(`series = `, uuid(filter.Series))
	}
	return f
}

// FlightsBetween implements hangar.Store.
func (s *Store) FlightsBetween(ctx context.Context, org, aircraft techlog.ID, from, until time.Time, limit int) ([]techlog.Flight, error) {
	return list(ctx, s, organization(org), ask(selectFlightsBetween, uuid(org), uuidOrNull(aircraft), from, until, limit), scanFlight)
}

// Flight reads a flight. Kind not-found if there is none.
func (s *Store) Flight(ctx context.Context, org, id techlog.ID) (techlog.Flight, error) {
	flight, err := one(ctx, s, organization(org), ask(selectFlight, uuid(org), uuid(id)), scanFlight)
	return flight, absent(err, "flight")
}

// StaleAircraft lists aircraft with planned flights ending after an instant whose holds were read from another book,
// each once, in the order of their identifiers.
func (s *Store) StaleAircraft(ctx context.Context, org techlog.ID, rules string, from time.Time) ([]techlog.ID, error) {
	return list(ctx, s, organization(org), ask(selectStaleAircraft, uuid(org), rules, from), scanID)
}

// SeriesFlights implements hangar.Tx.
func (c *change) SeriesFlights(ctx context.Context, series techlog.ID) ([]techlog.Flight, error) {
	rows, err := c.conn.Query(ctx, selectSeries, c.org, uuid(series))
	if err != nil {
		return nil, translate(err)
	}
	flights, err := pgx.CollectRows(rows, func(row pgx.CollectableRow) (techlog.Flight, error) { return scanFlight(row) })
	return flights, translate(err)
}

func scanID(row pgx.Row) (techlog.ID, error) {
	var id techlog.ID
	err := row.Scan(into(&id))
	return id, err
}

func scanFlight(row pgx.Row) (techlog.Flight, error) {
	var f techlog.Flight
	var from, to, series *[16]byte
	var blocks [][16]byte
	err := row.Scan(into(&f.ID), into(&f.Aircraft), &from, &to, &f.Departs, &f.Arrives, &f.Rules, &f.Facts,
		&f.Purpose, &f.State, &f.PlannedBy, &f.Light.Day, &f.Light.Night, &f.Light.SunsetToSunrise, &f.InAlaska, &f.Zone,
		&f.Hold.Verdict, &f.Hold.Rows, &f.Hold.Rules, &f.Hold.At, &f.Version,
		&f.Sequence, &f.ChangedAt, &series, &blocks, &f.Hold.Legs, &f.Legs)
	for _, id := range blocks {
		f.Hold.Blocks = append(f.Hold.Blocks, id)
	}
	f.From, f.To, f.Series = idOrZero(from), idOrZero(to), idOrZero(series)
	if len(f.Hold.Rows) == 0 {
		f.Hold.Rows = nil
	}
	if f.Hold.Legs == nil {
		f.Hold.Legs = []techlog.LegHold{{Verdict: f.Hold.Verdict, Rows: f.Hold.Rows}}
	}
	for i := range f.Legs {
		f.Legs[i].Departs, f.Legs[i].Arrives = f.Legs[i].Departs.UTC(), f.Legs[i].Arrives.UTC()
	}
	return f, err
}

func (c *change) AddFlight(f techlog.Flight) { c.write(flights, insertFlight, c.flightRow(f)...) }

func (c *change) UpdateFlight(f techlog.Flight) { c.write(flights, updateFlight, c.flightRow(f)...) }

func (c *change) flightRow(f techlog.Flight) []any {
	holdLegs, err := holdLegs(f.Hold)
	if err != nil {
		c.fail(err)
	}
	return []any{
		c.org, uuid(f.ID), uuid(f.Aircraft), uuidOrNull(f.From), uuidOrNull(f.To), instant(f.Departs), instant(f.Arrives), f.Rules, f.Facts,
		f.Purpose, string(f.State), f.PlannedBy, f.Light.Day, f.Light.Night, f.Light.SunsetToSunrise, f.InAlaska, f.Zone,
		f.Version, legsOf(f.Legs), uuidOrNull(f.Series), f.Hold.Verdict, filled(f.Hold.Rows), f.Hold.Rules, instant(f.Hold.At), holdLegs,
		uuidsOf(f.Hold.Blocks), instant(c.scope.At),
	}
}

// legsOf are legs with their instants as the database keeps them.
func legsOf(legs []techlog.Leg) []techlog.Leg {
	kept := slices.Clone(legs)
	for i := range kept {
		kept[i].Departs, kept[i].Arrives = instant(kept[i].Departs), instant(kept[i].Arrives)
	}
	return kept
}

// holdLegs are the holds of the legs as they are kept: null where there is one leg, whose hold is that of the flight.
func holdLegs(h techlog.Hold) (*string, error) {
	if len(h.Legs) < 2 {
		return nil, nil
	}
	written, err := json.Marshal(h.Legs)
	return new(string(written)), err
}

// uuidsOf are identifiers as the driver writes them.
func uuidsOf(ids []techlog.ID) [][16]byte {
	written := make([][16]byte, len(ids))
	for i, id := range ids {
		written[i] = uuid(id)
	}
	return written
}

// arrayOf are identifiers as the text of an array.
func arrayOf(ids []techlog.ID) string {
	written := make([]string, len(ids))
	for i, id := range ids {
		written[i] = id.String()
	}
	return "{" + strings.Join(written, ",") + "}"
}

// SetHolds sends the holds as one array a column. Arrays of arrays have to be rectangular, so the rows of each hold go
// as the text of an array.
func (c *change) SetHolds(flights []techlog.Flight) {
	n := len(flights)
	if n == 0 {
		return
	}
	ids, versions, verdicts := make([][16]byte, n), make([]int32, n), make([]string, n)
	rows, rules, instants, legs, blocks := make([]string, n), make([]string, n), make([]time.Time, n), make([]*string, n), make([]string, n)
	for i := range flights {
		f := &flights[i]
		literal, err := c.conn.TypeMap().Encode(pgtype.TextArrayOID, pgx.TextFormatCode, filled(f.Hold.Rows), nil)
		if err == nil {
			legs[i], err = holdLegs(f.Hold)
		}
		if err != nil {
			c.fail(err)
			return
		}
		ids[i], versions[i], verdicts[i] = uuid(f.ID), int32(f.Version), f.Hold.Verdict
		rows[i], rules[i], instants[i], blocks[i] = string(literal), f.Hold.Rules, instant(f.Hold.At), arrayOf(f.Hold.Blocks)
	}
	c.queue(setHolds, c.org, ids, versions, verdicts, rows, rules, instants, legs, blocks, instant(c.scope.At))
}
