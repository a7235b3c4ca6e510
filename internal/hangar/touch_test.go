package hangar_test

import (
	"context"
	"fmt"
	"maps"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

// writers tells of every planned flight in which transaction its row was written last.
func (c *club) writers() map[string]string {
	c.t.Helper()
	conn, err := pgx.Connect(c.t.Context(), c.url)
	if err != nil {
		c.t.Fatal(err)
	}
	defer conn.Close(context.Background())
	if _, err := conn.Exec(c.t.Context(), `SELECT set_config('tiedown.organization', $1, false)`, c.who.Organization.String()); err != nil {
		c.t.Fatal(err)
	}
	rows, err := conn.Query(c.t.Context(), `SELECT id::text, xmin::text FROM flight`)
	if err != nil {
		c.t.Fatal(err)
	}
	written := map[string]string{}
	var id, by string
	if _, err := pgx.ForEachRow(rows, []any{&id, &by}, func() error {
		written[id] = by
		return nil
	}); err != nil {
		c.t.Fatal(err)
	}
	return written
}

// TestASquawkWritesItsAircraftsFlightsAlone counts the rows that a squawk has written: those of the flights of its aircraft whose
// hold changes, and no other.
func TestASquawkWritesItsAircraftsFlightsAlone(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	var mine []string
	for i := range 4 {
		c.aircraft = c.enter("trainer", fmt.Sprintf("N0%d0TW", i+3))
		mine = nil
		for hours := 24; hours < 24*6; hours += 24 {
			mine = append(mine, c.plan(float64(hours), nil).Flight.ID.String())
		}
	}
	past := c.plan(2, nil).Flight.ID.String()
	c.wait(5 * time.Hour)
	before := c.writers()
	if len(before) != 4*5+1 {
		t.Fatalf("%d flights", len(before))
	}
	light := c.squawk("inoperative", "landing-light", "")
	after := c.writers()
	if len(light.Changes) != len(mine) {
		t.Errorf("%d verdicts change", len(light.Changes))
	}
	for _, id := range mine {
		if after[id] == before[id] {
			t.Errorf("the hold of %s was not written", id)
		}
		delete(before, id)
		delete(after, id)
	}
	if !maps.Equal(before, after) || before[past] == "" {
		t.Errorf("flights of other aircraft, or that are over, were written")
	}
	// What changes no hold writes no flight.
	before = c.writers()
	c.must(c.service.AddNote(t.Context(), c.who, hangar.Note{Squawk: light.Squawk.ID, Words: "Lamp ordered."}, nil, keep(&techlog.HistoryEntry{})))
	c.must(c.service.MoveSquawk(t.Context(), c.who, hangar.Move{
		Squawk: light.Squawk.ID, Version: 2, Step: techlog.StepExpect, Words: "The lamp is on order.", Expected: "2027-01-20",
	}, nil, keep(&hangar.FiledSquawk{})))
	if !maps.Equal(before, c.writers()) {
		t.Error("a note, or what is expected, has written flights")
	}
}

// BenchmarkASquawkAmongManyFlights files a squawk that changes the hold of every flight of its aircraft, in fleets of so many aircraft with so
// many flights each, and takes it back untimed. The time hangs on the flights of the one aircraft, not on those of the fleet.
func BenchmarkASquawkAmongManyFlights(b *testing.B) {
	for _, size := range []struct{ aircraft, flights int }{{10, 10}, {10, 100}, {10, 400}, {1000, 100}} {
		b.Run(fmt.Sprintf("%d aircraft, %d flights each", size.aircraft, size.flights), func(b *testing.B) {
			f := newManyFlights(b, size.aircraft, size.flights)
			n := 0
			for b.Loop() {
				aircraft := f.aircraft[n%len(f.aircraft)]
				n++
				var filed hangar.FiledSquawk
				if _, err := f.service.FileSquawk(b.Context(), f.who, hangar.SquawkReport{
					Aircraft: aircraft, Kind: "condition", Item: "tire", Words: "Flat.",
				}, nil, keep(&filed)); err != nil || len(filed.Changes) != size.flights {
					b.Fatal(len(filed.Changes), err)
				}
				b.StopTimer()
				if err := f.service.CarryOver(b.Context(), f.who, hangar.CarriedOver{Squawk: filed.Squawk.ID, Step: techlog.StepClose, Words: "Changed."}); err != nil {
					b.Fatal(err)
				}
				b.StartTimer()
			}
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(b.N*size.flights), "µs/flight")
		})
	}
}

// BenchmarkAlternatives judges 1,000 other aircraft for a flight: when nothing is known of them yet, and when their plans are compiled.
func BenchmarkAlternatives(b *testing.B) {
	f := newManyFlights(b, 1001, 3)
	flights, err := f.service.Flights(b.Context(), f.who, hangar.FlightFilter{}, hangar.Page{Limit: 1})
	if err != nil {
		b.Fatal(err)
	}
	look := func(b *testing.B, service *hangar.Service) {
		b.Helper()
		found, err := service.Alternatives(b.Context(), f.who, flights[0].ID)
		if err != nil || len(found.Aircraft) != 1000 || found.Permits != 1000 {
			b.Fatal(len(found.Aircraft), found.Permits, err)
		}
	}
	b.Run("new", func(b *testing.B) {
		for b.Loop() {
			look(b, scheduler(b, f.store))
		}
	})
	b.Run("known", func(b *testing.B) {
		for b.Loop() {
			look(b, f.service)
		}
	})
}

// manyFlights is a fleet with its flights to come.
type manyFlights struct {
	store    *postgres.Store
	service  *hangar.Service
	who      techlog.Principal
	aircraft []techlog.ID
}

func newManyFlights(b *testing.B, aircraft, flights int) *manyFlights {
	b.Helper()
	store, err := postgres.Open(b.Context(), postgres.Config{URL: pgtest.New(b)})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(store.Close)
	f := &manyFlights{store: store, service: scheduler(b, store), who: techlog.Principal{Organization: newID(), Token: newID(), Name: "a program", Roles: techlog.As(techlog.Administrator)}}
	if err := store.AddOrganization(b.Context(), techlog.Organization{ID: f.who.Organization, Name: "Windsock Flyers"}); err != nil {
		b.Fatal(err)
	}
	written, err := demo.Aircraft("trainer")
	if err != nil {
		b.Fatal(err)
	}
	demo.Inspect(&written.Facts, noon)
	base := techlog.Base{ID: newID(), Code: "HOME", Name: "Home field", Lat: 41.2, Lon: -95.5, Zone: "America/Chicago", Version: 1}
	change := func(queue func(hangar.Tx)) {
		b.Helper()
		if _, err := store.Change(b.Context(), hangar.Scope{Organization: f.who.Organization, By: "a program", At: noon}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			queue(tx)
			return nil, nil
		}); err != nil {
			b.Fatal(err)
		}
	}
	change(func(tx hangar.Tx) { tx.AddBase(base) })
	spot := techlog.Spot{Base: base.ID, Ident: base.Code, Name: base.Name, Lat: base.Lat, Lon: base.Lon}
	for i := range aircraft {
		a := techlog.Aircraft{
			ID: newID(), Registration: fmt.Sprintf("N0%X", i), Type: "trainer", Base: base.ID, Facts: written.Facts, Configuration: written.Configuration,
			Revision: 1, Version: 1, PlanVersion: 1, StateVersion: 1,
		}
		f.aircraft = append(f.aircraft, a.ID)
		change(func(tx hangar.Tx) {
			tx.AddAircraft(a)
			tx.AddConfiguration(techlog.ConfigurationRevision{Aircraft: a.ID, Revision: 1, At: noon, By: "a program", Configuration: a.Configuration})
			for n := range flights {
				departs := noon.Add(time.Duration(n)*2*time.Hour + time.Hour)
				flight := techlog.Flight{
					ID: newID(), Aircraft: a.ID, Rules: "vfr", State: techlog.Planned, PlannedBy: "a program", Zone: base.Zone, Version: 1, Facts: casefile.FlightFacts{
						ForHire: new(false), OverWater: new(false), Controlled: new(false), InstructionProvidedAircraft: new(false), Occupants: new(2),
						Persons: new(2), RequiredCrew: new(1), AltitudeFt: new(3000.0), Airspace: &[]string{},
					},
					Hold: techlog.Hold{Verdict: "undetermined", Rules: "not judged", At: noon, Legs: []techlog.LegHold{{Verdict: "undetermined"}}},
				}
				flight.Over([]techlog.Leg{{From: spot, To: spot, Departs: departs, Arrives: departs.Add(time.Hour), Light: casefile.Light{
					Day: new(true), Night: new(false), SunsetToSunrise: new(false),
				}}})
				tx.AddFlight(flight)
			}
		})
		if err := f.service.Rejudge(b.Context(), f.who.Organization, a.ID); err != nil {
			b.Fatal(err)
		}
	}
	return f
}
