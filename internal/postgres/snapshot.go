package postgres

import (
	"context"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	// What a determination reads must have been so at one instant: a configuration of yesterday with the squawks of
	// today could permit what neither day did.
	beginReading = `BEGIN ISOLATION LEVEL REPEATABLE READ READ ONLY`
	beginChange  = `BEGIN ISOLATION LEVEL READ COMMITTED`
	commit       = `COMMIT`
	rollback     = `ROLLBACK`
)

// Snapshot reads an aircraft with what bears on its flights, as of one instant. Kind not-found if there is no such
// aircraft.
func (s *Store) Snapshot(ctx context.Context, org techlog.ID, want hangar.Want) (hangar.Snapshot, error) {
	snap, err := s.snapshot(ctx, org, want)
	if err == nil && want.KnownPlan != 0 && !snap.PlanKnown {
		// The plan has changed since it was compiled, and its configuration was not asked for.
		want.KnownPlan = 0
		snap, err = s.snapshot(ctx, org, want)
	}
	return snap, absent(err, "aircraft")
}

func (s *Store) snapshot(ctx context.Context, org techlog.ID, want hangar.Want) (hangar.Snapshot, error) {
	return asOfOneInstant(ctx, s, org,
		func(batch *pgx.Batch) { queueSnapshot(batch, selectAircraftRow, org, want) },
		func(results pgx.BatchResults) (hangar.Snapshot, error) { return readSnapshot(results, want) })
}

// queueSnapshot asks for what readSnapshot reads. The aircraft's row comes first, so that with a lock on it the rest is
// read after whoever had it has committed.
func queueSnapshot(batch *pgx.Batch, aircraftRow string, org techlog.ID, want hangar.Want) {
	batch.Queue(aircraftRow, uuid(org), uuid(want.Aircraft), want.KnownPlan)
	if want.KnownPlan == 0 {
		batch.Queue(selectConfiguration, uuid(org), uuid(want.Aircraft))
		batch.Queue(selectCompanyRules, uuid(org))
		batch.Queue(selectServiceBook, uuid(org), uuid(want.Aircraft))
	}
	batch.Queue(selectOpenSquawks, uuid(org), uuid(want.Aircraft))
	batch.Queue(selectStandingBlocks, uuid(org), uuid(want.Aircraft), instantOrNull(want.FlightsFrom))
	if !want.FlightsFrom.IsZero() {
		batch.Queue(selectPlannedFlights, uuid(org), uuid(want.Aircraft), want.FlightsFrom)
	}
}

// readSnapshot reads the results of queueSnapshot. It returns pgx.ErrNoRows when there is no such aircraft.
func readSnapshot(results pgx.BatchResults, want hangar.Want) (hangar.Snapshot, error) {
	snap, err := scanAircraftRow(results.QueryRow())
	if err != nil {
		return snap, err
	}
	if want.KnownPlan == 0 {
		if snap.Aircraft.Configuration, err = scanConfiguration(results.QueryRow()); err != nil {
			return snap, err
		}
		if snap.Company, err = scanCompanyRules(results.QueryRow()); err != nil {
			return snap, err
		}
		if snap.InService, err = collect(results, scanBookEntry); err != nil {
			return snap, err
		}
	}
	if snap.Squawks, err = collect(results, scanSquawk); err != nil {
		return snap, err
	}
	if snap.Blocks, err = collect(results, scanBlock); err != nil {
		return snap, err
	}
	if !want.FlightsFrom.IsZero() {
		snap.Flights, err = collect(results, scanFlight)
	}
	return snap, err
}
