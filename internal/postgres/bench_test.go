package postgres_test

import (
	"context"
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"sync/atomic"
	"testing"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"tiedown/internal/audit"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

// The benchmarks come in pairs: what the store does, and the barest statement that could stand in its place. Only the
// ratio of two that ran side by side says anything.
//
//	go test -run '^$' -bench . ./internal/postgres

const benchAircraft, benchFlights = 500, 5

var benchID atomic.Uint64

func nextID() techlog.ID {
	var id techlog.ID
	binary.BigEndian.PutUint64(id[:], benchID.Add(1))
	return id
}

// fleet is an organization whose aircraft each have some flights planned.
type fleet struct {
	store    *postgres.Store
	pool     *pgxpool.Pool // for the bare statements
	org      techlog.ID
	aircraft []techlog.ID
}

const bareTable = `
	CREATE TABLE bare (organization uuid, id uuid, aircraft uuid, number int, kind text, unit text, item text, words text, state text,
		reported_by text, reported_at timestamptz, version int, PRIMARY KEY (organization, id))`

func newFleet(b *testing.B) *fleet {
	b.Helper()
	url := pgtest.New(b)
	pool, err := pgxpool.New(b.Context(), url+"&pool_max_conns=8")
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(pool.Close)
	if _, err := pool.Exec(b.Context(), bareTable); err != nil {
		b.Fatal(err)
	}
	f := &fleet{store: open(b, url), pool: pool, org: nextID()}
	if err := f.store.AddOrganization(b.Context(), techlog.Organization{ID: f.org, Name: "Windsock Flyers"}); err != nil {
		b.Fatal(err)
	}
	base := techlog.Base{ID: nextID(), Code: "N00A", Name: "North Field", Zone: "America/Chicago", Version: 1}
	f.change(b, func(tx hangar.Tx) { tx.AddBase(base) })
	for range benchAircraft {
		f.change(b, func(tx hangar.Tx) { f.addAircraft(tx, base.ID) })
	}
	// What is planned on empty tables is planned badly; a server that has run for a minute has been analyzed.
	for _, aircraft := range f.aircraft {
		if err := f.file(b.Context(), aircraft, false); err != nil {
			b.Fatal(err)
		}
	}
	if _, err := pool.Exec(b.Context(), `ANALYZE`); err != nil {
		b.Fatal(err)
	}
	return f
}

func (f *fleet) change(b *testing.B, queue func(hangar.Tx)) {
	b.Helper()
	_, err := f.store.Change(b.Context(), hangar.Scope{Organization: f.org, At: benchNow}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		queue(tx)
		return nil, nil
	})
	if err != nil {
		b.Fatal(err)
	}
}

var benchNow = time.Date(2031, time.May, 4, 12, 0, 0, 0, time.UTC)

func (f *fleet) addAircraft(tx hangar.Tx, base techlog.ID) {
	a := techlog.Aircraft{
		ID: nextID(), Registration: fmt.Sprintf("N0%X", len(f.aircraft)), Type: "Tern 2", Base: base, Revision: 1, Version: 1, PlanVersion: 1, StateVersion: 1,
	}
	tx.AddAircraft(a)
	tx.AddConfiguration(techlog.ConfigurationRevision{Aircraft: a.ID, Revision: 1, At: benchNow, By: "M. Control"})
	for i := range benchFlights {
		tx.AddFlight(techlog.Flight{
			ID: nextID(), Aircraft: a.ID, From: base, To: base, Departs: benchNow.Add(time.Duration(i+1) * time.Hour),
			Arrives: benchNow.Add(time.Duration(i+2) * time.Hour), Rules: "vfr", Facts: casefile.FlightFacts{ForHire: new(false), Occupants: new(2)},
			Purpose: "local", State: techlog.Planned, PlannedBy: "S. Cheduler", Zone: "America/Chicago",
			Hold: techlog.Hold{Verdict: "clear", Rules: "book", At: benchNow}, Version: 1,
		})
	}
	f.aircraft = append(f.aircraft, a.ID)
}

// every runs f in parallel, each time on the next aircraft.
func (f *fleet) every(b *testing.B, do func(ctx context.Context, aircraft techlog.ID) error) {
	b.Helper()
	for i := range 200 { // every connection has prepared its statements
		if err := do(b.Context(), f.aircraft[i%len(f.aircraft)]); err != nil {
			b.Fatal(err)
		}
	}
	var turn atomic.Uint64
	b.SetParallelism(8)
	b.ResetTimer()
	b.RunParallel(func(p *testing.PB) {
		for p.Next() {
			if err := do(b.Context(), f.aircraft[turn.Add(1)%uint64(len(f.aircraft))]); err != nil {
				b.Error(err)
				return
			}
		}
	})
}

// file is the whole of filing a squawk but the judging, which finds that the holds of all flights have changed, or of
// none.
func (f *fleet) file(ctx context.Context, aircraft techlog.ID, holdsChange bool) error {
	id := nextID()
	once := &hangar.Once{Token: f.org, Key: id.String(), Digest: sha256.Sum256(id[:])}
	scope := hangar.Scope{
		Organization: f.org, At: benchNow, Once: once, Lock: []hangar.Want{{Aircraft: aircraft, KnownPlan: 1, FlightsFrom: benchNow}},
	}
	_, err := f.store.Change(ctx, scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		snap := tx.Snapshot(0)
		s := techlog.Squawk{
			ID: id, Aircraft: aircraft, Number: snap.Squawked + 1, Kind: "inoperative", Item: "landing-light", Words: "landing light dark",
			State: techlog.Reported, ReportedBy: "P. Lot", ReportedAt: benchNow, Version: 1,
		}
		tx.AddSquawk(s)
		tx.AddHistory(techlog.HistoryEntry{
			Squawk: id, Number: 1, At: benchNow, By: "P. Lot", Step: techlog.StepReport, State: s.State, Words: s.Words,
		})
		var changes []techlog.HoldChange
		if holdsChange {
			for i := range snap.Flights {
				snap.Flights[i].Hold.Verdict, snap.Flights[i].Hold.Rows = "grounded", []string{"91.205-c-2", "91.209-a"}
				changes = append(changes, techlog.HoldChange{Flight: snap.Flights[i].ID, Was: "clear", Is: "grounded"})
			}
			tx.SetHolds(snap.Flights)
		}
		tx.Touch(aircraft)
		tx.Emit(techlog.Event{ID: nextID(), Kind: "squawk.filed", Aircraft: aircraft, Subject: id, At: benchNow, Changes: changes})
		return []byte(`{"id":"` + id.String() + `"}`), nil
	})
	return err
}

func BenchmarkFileSquawk(b *testing.B) {
	f := newFleet(b)
	f.every(b, func(ctx context.Context, aircraft techlog.ID) error { return f.file(ctx, aircraft, true) })
}

func BenchmarkFileSquawkHoldsAsTheyWere(b *testing.B) {
	f := newFleet(b)
	f.every(b, func(ctx context.Context, aircraft techlog.ID) error { return f.file(ctx, aircraft, false) })
}

// BenchmarkFileSquawkUnlogged is the same write into a log that keeps nothing and locks nothing: what the log costs.
func BenchmarkFileSquawkUnlogged(b *testing.B) {
	f := newFleet(b)
	const nothing = `
		CREATE OR REPLACE FUNCTION append_log(whose uuid, moment timestamptz, who text, records text[], keys text[], versions integer[],
			digests bytea[], leaves bytea[], once boolean[]) RETURNS void LANGUAGE plpgsql AS 'BEGIN END'`
	if _, err := f.pool.Exec(b.Context(), nothing); err != nil {
		b.Fatal(err)
	}
	f.every(b, func(ctx context.Context, aircraft techlog.ID) error { return f.file(ctx, aircraft, true) })
}

// BenchmarkReceipt makes receipts of a squawk's entry in a log of 100,000 entries.
func BenchmarkReceipt(b *testing.B) {
	l := newLogged(b)
	conn := connect(b, l.url)
	const fill = `
		SELECT set_config('tiedown.organization', $1, false), append_log($1::uuid, now(), 'P. Lot', array_agg('base'::text), array_agg(n::text),
			array_agg(1), array_agg(sha256(n::text::bytea)), array_agg(sha256(n::text::bytea)), array_agg(false))
		FROM generate_series(1, 100000) n`
	if _, err := conn.Exec(b.Context(), `SELECT set_config('tiedown.organization', $1, false)`, l.org.String()); err != nil {
		b.Fatal(err)
	}
	if _, err := conn.Exec(b.Context(), fill, l.org.String()); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		receipt, state, err := l.store.Vouched(b.Context(), l.org, "squawk_history", []any{[16]byte(l.squawk), 1}, "")
		if err != nil || state.Head.Size < 100000 {
			b.Fatal(state.Head.Size, err)
		}
		if receipt.Checkpoint, err = l.key.Sign(audit.Checkpoint{
			Organization: l.org.String(), Size: state.Head.Size, Root: state.Head.Root(), At: noon,
		}); err != nil {
			b.Fatal(err)
		}
		if _, err := receipt.Check(l.key.Public()); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkVerify verifies an organization with 100,000 squawks and their reports: 200,000 entries.
func BenchmarkVerify(b *testing.B) {
	l := newLogged(b)
	conn := l.vandal(b)
	fill := fmt.Sprintf(`
		INSERT INTO squawk (organization, id, aircraft, number, kind, unit, item, words, state, reported_by, reported_at, version)
			SELECT '%s', gen_random_uuid(), '%s', 10 + n, 'condition', '', 'tire', 'worn on one side', 'reported', 'P. Lot', now(), 1
			FROM generate_series(1, 100000) n;
		INSERT INTO squawk_history (organization, squawk, number, at, by, step, state, words)
			SELECT organization, id, 1, reported_at, reported_by, 'report', 'reported', words FROM squawk WHERE number > 10;
		DELETE FROM log_entry; DELETE FROM log_head;
		ALTER TABLE log_head ADD PRIMARY KEY (organization); ALTER TABLE log_entry ADD PRIMARY KEY (organization, number)`, l.org, l.aircraft)
	if err := try(conn, fill); err != nil {
		b.Fatal(err)
	}
	if _, err := l.store.BeginLogs(b.Context(), noon); err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if faults := l.verify(b); len(faults) > 0 {
			b.Fatalf("%.1000q", faults)
		}
	}
}

func BenchmarkBareInsert(b *testing.B) {
	f := newFleet(b)
	f.every(b, func(ctx context.Context, aircraft techlog.ID) error {
		_, err := f.pool.Exec(ctx, `INSERT INTO bare VALUES ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12)`,
			[16]byte(f.org), [16]byte(nextID()), [16]byte(aircraft), 1, "inoperative", "", "landing-light", "landing light dark", "reported", "P. Lot", benchNow, 1)
		return err
	})
}

func BenchmarkStateVersion(b *testing.B) {
	f := newFleet(b)
	f.every(b, func(ctx context.Context, aircraft techlog.ID) error {
		_, err := f.store.StateVersion(ctx, f.org, aircraft)
		return err
	})
}

func BenchmarkSnapshot(b *testing.B) {
	f := newFleet(b)
	f.every(b, func(ctx context.Context, aircraft techlog.ID) error {
		_, err := f.store.Snapshot(ctx, f.org, hangar.Want{Aircraft: aircraft, KnownPlan: 1, FlightsFrom: benchNow})
		return err
	})
}

func BenchmarkBareRead(b *testing.B) {
	f := newFleet(b)
	_, err := f.pool.Exec(b.Context(), `INSERT INTO bare (organization, id, version) SELECT $1, unnest($2::uuid[]), 1`, [16]byte(f.org), uuids(f.aircraft))
	if err != nil {
		b.Fatal(err)
	}
	f.every(b, func(ctx context.Context, aircraft techlog.ID) error {
		var version int
		return f.pool.QueryRow(ctx, `SELECT version FROM bare WHERE organization = $1 AND id = $2`, [16]byte(f.org), [16]byte(aircraft)).Scan(&version)
	})
}

func uuids(ids []techlog.ID) [][16]byte {
	list := make([][16]byte, len(ids))
	for i := range ids {
		list[i] = ids[i]
	}
	return list
}
