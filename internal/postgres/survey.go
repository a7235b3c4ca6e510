package postgres

import (
	"bytes"
	"context"
	"slices"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	selectFleetIDs = `SELECT id FROM aircraft WHERE organization = $1 ORDER BY id LIMIT $2`

	// Facts and configuration are left out of the aircraft whose plan version is the one that the caller knows of it.
	surveyAircraft = `
		SELECT ` + aircraftColumns + `, CASE WHEN k.known THEN NULL ELSE a.facts END, CASE WHEN k.known THEN NULL ELSE c.document END
		FROM unnest($2::uuid[]) n (id) JOIN aircraft a ON a.organization = $1 AND a.id = n.id
			CROSS JOIN LATERAL (SELECT a.plan_version IS NOT DISTINCT FROM ($3::jsonb ->> a.id::text)::integer AS known) k
			LEFT JOIN aircraft_configuration c
				ON NOT k.known AND c.organization = a.organization AND c.aircraft = a.id AND c.revision = a.revision
		ORDER BY a.id`
	surveySquawks = selectSquawksWhere + ` AND s.aircraft = ANY($2) AND s.state <> 'closed' ORDER BY s.aircraft, s.number`
	surveyBlocks  = selectBlocksWhere + ` AND aircraft = ANY($2) AND NOT cancelled AND coalesce(ends > $3, true) ORDER BY aircraft, id`
	surveyService = `
		SELECT e.aircraft, e.meter, e.number, e.hours, e.at, e.by, e.walkaround, e.flight, e.because
		FROM unnest($2::uuid[]) n (id) CROSS JOIN LATERAL (
			SELECT b.aircraft, b.meter, b.number, b.hours, b.at, b.by, b.walkaround, b.flight, b.because FROM meter_entry b
			WHERE b.organization = $1 AND b.aircraft = n.id AND b.meter = 'time-in-service' AND b.number IN (1, (
				SELECT max(m.number) FROM meter_entry m WHERE m.organization = $1 AND m.aircraft = n.id AND m.meter = 'time-in-service'))
			OFFSET 0) e -- by itself for each aircraft
		ORDER BY e.aircraft, e.number`
	// No flight takes longer than so many days, so that those which end later do not overlap.
	surveyFlights = selectFlightsWhere + `
		AND state = 'planned' AND arrives > $2 AND arrives < $3::timestamptz + interval '32 days' AND departs < $3 ORDER BY departs, id`
	surveyAirports = `
		SELECT a.ident, a.name, a.lat, a.lon
		FROM unnest($2::text[]) n (ident) CROSS JOIN LATERAL (SELECT ident, name, lat, lon FROM airport WHERE organization = $1 AND ident = n.ident OFFSET 0) a
		ORDER BY a.ident`
	surveyBases = `SELECT ` + baseColumns + ` FROM base
		WHERE organization = $1 AND id IN (
			SELECT unnest($2::uuid[]) UNION SELECT a.base FROM unnest($3::uuid[]) n (id) JOIN aircraft a ON a.organization = $1 AND a.id = n.id)
		ORDER BY id`
)

// FleetIDs lists the identifiers of an organization's aircraft.
func (s *Store) FleetIDs(ctx context.Context, org techlog.ID, limit int) ([]techlog.ID, error) {
	return list(ctx, s, organization(org), ask(selectFleetIDs, uuid(org), limit), scanID)
}

// Survey reads many aircraft with what bears on their flights, as of one instant.
func (s *Store) Survey(ctx context.Context, org techlog.ID, want hangar.SurveyWant) (hangar.Survey, error) {
	known := make(map[string]int, len(want.Known))
	for id, version := range want.Known {
		known[id.String()] = version
	}
	ids := uuidList(want.Aircraft)
	slices.SortFunc(ids, func(a, b [16]byte) int { return bytes.Compare(a[:], b[:]) })
	ids = slices.Compact(ids)
	survey, err := asOfOneInstant(ctx, s, org,
		func(batch *pgx.Batch) {
			batch.Queue(surveyAircraft, uuid(org), ids, known)
			batch.Queue(surveySquawks, uuid(org), ids)
			batch.Queue(surveyBlocks, uuid(org), ids, instant(want.BlocksFrom))
			batch.Queue(surveyService, uuid(org), ids)
			batch.Queue(selectCompanyRules, uuid(org))
			batch.Queue(surveyBases, uuid(org), uuidList(want.Bases), ids)
			batch.Queue(surveyAirports, uuid(org), filled(want.Airports))
			if !want.From.IsZero() {
				batch.Queue(surveyFlights, uuid(org), instant(want.From), instant(want.To))
			}
		},
		func(results pgx.BatchResults) (hangar.Survey, error) { return readSurvey(results, want.From) })
	return survey, translate(err)
}

// uuidList is identifiers as the driver writes them.
func uuidList(ids []techlog.ID) [][16]byte {
	written := make([][16]byte, len(ids))
	for i := range ids {
		written[i] = uuid(ids[i])
	}
	return written
}

// readSurvey reads the results in the order in which they were asked for.
func readSurvey(results pgx.BatchResults, from time.Time) (hangar.Survey, error) {
	var survey hangar.Survey
	var err error
	if survey.Aircraft, err = collect(results, scanSurveyed); err != nil {
		return survey, err
	}
	of := make(map[techlog.ID]int, len(survey.Aircraft))
	for i := range survey.Aircraft {
		of[survey.Aircraft[i].Aircraft.ID] = i
	}
	squawks, err := collect(results, scanSquawk)
	if err != nil {
		return survey, err
	}
	for i := range squawks {
		if at, ok := of[squawks[i].Aircraft]; ok {
			survey.Aircraft[at].Squawks = append(survey.Aircraft[at].Squawks, squawks[i])
		}
	}
	blocks, err := collect(results, scanBlock)
	if err != nil {
		return survey, err
	}
	for i := range blocks {
		if at, ok := of[blocks[i].Aircraft]; ok {
			survey.Aircraft[at].Blocks = append(survey.Aircraft[at].Blocks, blocks[i])
		}
	}
	entries, err := collect(results, scanBookEntry)
	if err != nil {
		return survey, err
	}
	for _, e := range entries {
		if at, ok := of[e.Aircraft]; ok && !survey.Aircraft[at].PlanKnown {
			survey.Aircraft[at].InService = append(survey.Aircraft[at].InService, e)
		}
	}
	company, err := scanCompanyRules(results.QueryRow())
	if err != nil {
		return survey, err
	}
	for i := range survey.Aircraft {
		survey.Aircraft[i].Company = company
	}
	if survey.Bases, err = collect(results, scanBase); err != nil {
		return survey, err
	}
	if survey.Airports, err = collect(results, scanAirport); err != nil || from.IsZero() {
		return survey, err
	}
	flights, err := collect(results, scanFlight)
	for i := range flights {
		if at, ok := of[flights[i].Aircraft]; ok {
			survey.Aircraft[at].Flights = append(survey.Aircraft[at].Flights, flights[i])
		}
	}
	return survey, err
}

// scanSurveyed reads an aircraft. No facts mean that the plan was known.
func scanSurveyed(row pgx.Row) (hangar.Snapshot, error) {
	var snap hangar.Snapshot
	var facts *casefile.Facts
	var configuration *casefile.Configuration
	err := row.Scan(append(aircraftFields(&snap.Aircraft, &snap.Squawked), &facts, &configuration)...)
	if facts == nil {
		snap.PlanKnown = true
		return snap, err
	}
	snap.Aircraft.Facts = *facts
	if configuration != nil {
		snap.Aircraft.Configuration = *configuration
	}
	return snap, err
}
