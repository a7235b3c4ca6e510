package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	aircraftColumns = `a.id, a.registration, a.type, a.base, a.revision, a.version, a.plan_version, a.state_version, a.squawked`

	// With facts and configuration.
	selectWholeAircraft = `
		SELECT ` + aircraftColumns + `, a.facts, c.document
		FROM aircraft a JOIN aircraft_configuration c
			ON c.organization = a.organization AND c.aircraft = a.id AND c.revision = a.revision
		WHERE a.organization = $1`
	selectFleet    = selectWholeAircraft + ` AND a.id > $2 ORDER BY a.id LIMIT $3`
	selectAircraft = selectWholeAircraft + ` AND a.id = $2`

	// With facts, unless the plan is known, and without configuration.
	selectAircraftRow = `
		SELECT ` + aircraftColumns + `, CASE WHEN a.plan_version = $3 THEN NULL ELSE a.facts END
		FROM aircraft a WHERE a.organization = $1 AND a.id = $2`
	// The lock that every change of an aircraft takes. It leaves the row's key alone, so that it keeps nobody from
	// adding rows that refer to it.
	lockAircraftRow = selectAircraftRow + ` FOR NO KEY UPDATE`

	selectStateVersion  = `SELECT state_version FROM aircraft WHERE organization = $1 AND id = $2`
	selectConfiguration = `
		SELECT c.document
		FROM aircraft a JOIN aircraft_configuration c
			ON c.organization = a.organization AND c.aircraft = a.id AND c.revision = a.revision
		WHERE a.organization = $1 AND a.id = $2`
	selectConfigurations = `
		SELECT aircraft, revision, at, by, document FROM aircraft_configuration
		WHERE organization = $1 AND aircraft = $2 AND ($3 = 0 OR revision < $3)
		ORDER BY revision DESC LIMIT $4`

	insertAircraft = `
		INSERT INTO aircraft (organization, id, registration, type, base, facts, revision, version, plan_version, state_version)
		VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10)`
	updateAircraft = `
		WITH changed AS (
			UPDATE aircraft SET registration = $3, type = $4, base = $5, facts = $6, revision = $7, version = $8, plan_version = $9
			WHERE organization = $1 AND id = $2 AND version = $8 - 1
			RETURNING 1)
		SELECT expect(count(*), 1, '` + changedMeanwhile + `') FROM changed`
	insertConfiguration = `
		INSERT INTO aircraft_configuration (organization, aircraft, revision, at, by, document)
		VALUES ($1, $2, $3, $4, $5, $6)`
	countUpAircraft = `
		UPDATE aircraft SET state_version = state_version + $3, squawked = greatest(squawked, $4), plan_version = plan_version + $5
		WHERE organization = $1 AND id = $2`
)

// Fleet lists aircraft in the order of their identifiers.
func (s *Store) Fleet(ctx context.Context, org techlog.ID, page hangar.Page) ([]techlog.Aircraft, error) {
	return list(ctx, s, organization(org), ask(selectFleet, uuid(org), uuid(page.After), page.Limit), scanAircraft)
}

// Aircraft reads an aircraft with its current configuration. Kind not-found if there is none.
func (s *Store) Aircraft(ctx context.Context, org, id techlog.ID) (techlog.Aircraft, error) {
	a, err := one(ctx, s, organization(org), ask(selectAircraft, uuid(org), uuid(id)), scanAircraft)
	return a, absent(err, "aircraft")
}

// Configurations lists the revisions of an aircraft's configuration, newest first. There are none of an aircraft that
// does not exist.
func (s *Store) Configurations(ctx context.Context, org, aircraft techlog.ID, page hangar.Page) ([]techlog.ConfigurationRevision, error) {
	return list(ctx, s, organization(org),
		ask(selectConfigurations, uuid(org), uuid(aircraft), page.AfterRevision, page.Limit), scanRevision)
}

// StateVersion reads the counter of everything that bears on a determination. Kind not-found if there is no such aircraft.
func (s *Store) StateVersion(ctx context.Context, org, aircraft techlog.ID) (int, error) {
	version, err := one(ctx, s, organization(org), ask(selectStateVersion, uuid(org), uuid(aircraft)), scanInt)
	return version, absent(err, "aircraft")
}

func scanInt(row pgx.Row) (int, error) {
	var n int
	err := row.Scan(&n)
	return n, err
}

func scanAircraft(row pgx.Row) (techlog.Aircraft, error) {
	var a techlog.Aircraft
	var squawked int
	err := row.Scan(append(aircraftFields(&a, &squawked), &a.Facts, &a.Configuration)...)
	return a, err
}

// scanAircraftRow reads an aircraft without its configuration into a snapshot. No facts mean that the plan was known.
func scanAircraftRow(row pgx.Row) (hangar.Snapshot, error) {
	var snap hangar.Snapshot
	var facts *casefile.Facts
	err := row.Scan(append(aircraftFields(&snap.Aircraft, &snap.Squawked), &facts)...)
	if facts == nil {
		snap.PlanKnown = true
	} else {
		snap.Aircraft.Facts = *facts
	}
	return snap, err
}

// aircraftFields are where aircraftColumns go.
func aircraftFields(a *techlog.Aircraft, squawked *int) []any {
	return []any{
		into(&a.ID), &a.Registration, &a.Type, into(&a.Base), &a.Revision, &a.Version, &a.PlanVersion, &a.StateVersion, squawked,
	}
}

func scanConfiguration(row pgx.Row) (casefile.Configuration, error) {
	var c casefile.Configuration
	err := row.Scan(&c)
	return c, err
}

func scanRevision(row pgx.Row) (techlog.ConfigurationRevision, error) {
	var r techlog.ConfigurationRevision
	err := row.Scan(into(&r.Aircraft), &r.Revision, &r.At, &r.By, &r.Configuration)
	return r, err
}

func (c *change) AddAircraft(a techlog.Aircraft) {
	c.write(fleet, insertAircraft, append(c.aircraftRow(a), a.StateVersion)...)
}

func (c *change) UpdateAircraft(a techlog.Aircraft) {
	c.write(fleet, updateAircraft, c.aircraftRow(a)...)
}

func (c *change) aircraftRow(a techlog.Aircraft) []any {
	return []any{
		c.org, uuid(a.ID), a.Registration, a.Type, uuid(a.Base), a.Facts, a.Revision, a.Version, a.PlanVersion,
	}
}

func (c *change) AddConfiguration(r techlog.ConfigurationRevision) {
	c.write(configurations, insertConfiguration, c.org, uuid(r.Aircraft), r.Revision, instant(r.At), r.By, r.Configuration)
}

// Touch and the numbers of new squawks are gathered, so that the row is written once.
func (c *change) Touch(aircraft techlog.ID) { c.counts(aircraft).touched++ }

// counters is what a change counts up in an aircraft's row.
type counters struct {
	aircraft  techlog.ID
	touched   int
	squawked  int // highest number of a squawk added
	replanned int
}

func (c *change) counts(aircraft techlog.ID) *counters {
	for i := range c.counted {
		if c.counted[i].aircraft == aircraft {
			return &c.counted[i]
		}
	}
	c.counted = append(c.counted, counters{aircraft: aircraft})
	return &c.counted[len(c.counted)-1]
}
