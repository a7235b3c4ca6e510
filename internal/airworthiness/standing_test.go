package airworthiness_test

import (
	"slices"
	"testing"

	"pgregory.net/rapid"

	"tiedown/internal/airworthiness"
)

// TestOneStandingServesManyFlights holds that counting once for several flights is the same as counting for each.
func TestOneStandingServesManyFlights(t *testing.T) {
	t.Parallel()
	r := rules(t)
	rapid.Check(t, func(t *rapid.T) {
		w := drawWorld(t, r)
		plan, err := r.Plan(&w.aircraft)
		if err != nil {
			t.Fatal(err)
		}
		var standing airworthiness.Standing
		plan.Stand(&standing, drawWorld(t, r).defects) // one that has been used is as good as a new one
		plan.Stand(&standing, w.defects)
		got, want := answer{plan: plan}, answer{plan: plan}
		for _, f := range []airworthiness.Flight{w.flight, drawWorld(t, r).flight, w.flight} {
			flight := r.Prepare(f)
			plan.Judge(&got.Determination, &standing, &flight)
			plan.Determine(&want.Determination, w.defects, &flight)
			if got.Verdict != want.Verdict || !slices.Equal(got.Findings, want.Findings) || !slices.Equal(got.Order, want.Order) {
				t.Fatalf("counted once:\n%v\ncounted for the flight:\n%v", got.tell(w.defects), want.tell(w.defects))
			}
		}
	})
}

// TestAStandingOfAnotherAircraftIsNoPermission holds that nothing is decided by what nobody has counted.
func TestAStandingOfAnotherAircraftIsNoPermission(t *testing.T) {
	t.Parallel()
	r := rules(t)
	a := plainAircraft()
	plan, err := r.Plan(&a)
	if err != nil {
		t.Fatal(err)
	}
	other, err := r.Plan(&a)
	if err != nil {
		t.Fatal(err)
	}
	var unmade, of airworthiness.Standing
	other.Stand(&of, nil)
	flight := r.Prepare(plainFlight())
	for name, standing := range map[string]*airworthiness.Standing{"unmade": &unmade, "of another": &of} {
		var d airworthiness.Determination
		plan.Determine(&d, nil, &flight)
		if !d.Verdict.Permits() {
			t.Fatalf("the plain flight is %s: the test would hold for want of a flight that may go", d.Verdict)
		}
		plan.Judge(&d, standing, &flight)
		if d.Verdict != airworthiness.Undetermined || len(d.Findings) != 0 {
			t.Errorf("%s: %s with %d findings, want undetermined without any", name, d.Verdict, len(d.Findings))
		}
	}
}
