package airworthiness_test

import (
	"slices"
	"testing"

	"tiedown/internal/airworthiness"
)

// eight squawks as they may stand open on one airplane: some deferred, one not, one no equipment, one with its redundancy.
func eightDefects() []airworthiness.Defect {
	notYet := inoperative("cabin-heater")
	notYet.Deferral = nil
	return []airworthiness.Defect{
		inoperative("landing-light"), inoperative("altimeter-2"), removed("marker-beacon-receiver"), inoperative("vacuum-pump"),
		notYet, inoperative("nav-com-radio-2"), inoperative("transponder"),
		{ID: "tire", Kind: airworthiness.KindCondition, Item: "tire"},
	}
}

// BenchmarkDetermination judges eight squawks on the plain airplane against the whole book. An operation of "kinds" is
// four determinations, one for each kind of operation; of "flight", one for a flight of which every fact is known.
func BenchmarkDetermination(b *testing.B) {
	r := rules(b)
	a := plainAircraft()
	plan, err := r.Plan(&a)
	if err != nil {
		b.Fatal(err)
	}
	defects := eightDefects()
	var d airworthiness.Determination
	b.Run("kinds", func(b *testing.B) {
		flights := r.KindsOfOperation(dated())
		b.ReportAllocs()
		for b.Loop() {
			for i := range flights {
				plan.Determine(&d, defects, &flights[i])
			}
		}
	})
	b.Run("flight", func(b *testing.B) {
		flight := r.Prepare(plainFlight())
		b.ReportAllocs()
		for b.Loop() {
			plan.Determine(&d, defects, &flight)
		}
	})
}

// BenchmarkPreparation is what is done once a flight, and once a configuration.
func BenchmarkPreparation(b *testing.B) {
	r := rules(b)
	a, f := plainAircraft(), plainFlight()
	b.Run("flight", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			r.Prepare(f)
		}
	})
	b.Run("plan", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := r.Plan(&a); err != nil {
				b.Fatal(err)
			}
		}
	})
}

// TestAReusedDeterminationDoesNotAllocate holds the hot path free of the heap, whatever the case. It is alone in its
// process while it counts, so it does not run in parallel.
func TestAReusedDeterminationDoesNotAllocate(t *testing.T) { //nolint:paralleltest // it counts allocations
	r := rules(t)
	a := plainAircraft()
	plan, err := r.Plan(&a)
	if err != nil {
		t.Fatal(err)
	}
	defects := eightDefects()
	for i := range defects { // a set, with rows on two of it: both radios, the gyros and the turn coordinator
		if d := defects[i].Deferral; d != nil {
			considered := *d
			for _, other := range defects[i/2:] {
				considered.HazardConsidered = append(considered.HazardConsidered, other.ID)
			}
			defects[i].Deferral = &considered
		}
	}
	defects = append(defects, inoperative("nav-com-radio-1"), inoperative("turn-coordinator"))
	flights := plainFlights()
	kinds := r.KindsOfOperation(dated())
	for i, f := range flights {
		for name, prepared := range map[string]airworthiness.PreparedFlight{"flight": r.Prepare(f), "kind": kinds[i]} {
			var d airworthiness.Determination
			plan.Determine(&d, defects, &prepared)
			if n := testing.AllocsPerRun(100, func() { plan.Determine(&d, defects, &prepared) }); n != 0 {
				t.Errorf("%s %s: %v allocations", airworthiness.KindNames()[i], name, n)
			}
		}
	}
}

// TestTheOtherPathsDoNotAllocate holds the same under an MEL, under a special flight permit and with a condition cleared.
func TestTheOtherPathsDoNotAllocate(t *testing.T) { //nolint:paralleltest // it counts allocations
	r := rules(t)
	a := plainAircraft()
	a.MELAuthorized, a.MEL = airworthiness.Yes, plainMEL()
	defects := eightDefects()
	defects[7].Found = &airworthiness.Found{
		Result: airworthiness.FoundRepaired, Rated: airworthiness.Yes, Data: airworthiness.Yes, Approved: airworthiness.Yes,
	}
	defects = append(defects, airworthiness.Defect{ID: "cowling", Kind: airworthiness.KindCondition, Item: "cowling"})
	plan, err := r.Plan(&a)
	if err != nil {
		t.Fatal(err)
	}
	f := plainFlight()
	f.Permit = plainPermit("cowling", "nav-com-radio-2", "vacuum-pump", "transponder")
	prepared := r.Prepare(f)
	var d airworthiness.Determination
	plan.Determine(&d, defects, &prepared)
	if d.Permit == nil || !slices.ContainsFunc(d.Findings, func(f airworthiness.Finding) bool { return f.Step == airworthiness.StepMEL }) {
		t.Fatal("the case goes neither way")
	}
	if n := testing.AllocsPerRun(100, func() { plan.Determine(&d, defects, &prepared) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
