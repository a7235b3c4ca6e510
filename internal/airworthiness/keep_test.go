package airworthiness_test

import (
	"testing"

	"tiedown/internal/airworthiness"
)

// due is the plain airplane with something that comes due.
func due(items ...airworthiness.UpkeepItem) airworthiness.Aircraft {
	a := plainAircraft()
	a.Upkeep.Items = items
	return a
}

// TestOfNoPapersOnRecordNoneIsAboard holds that what is not known of papers and upkeep leaves every flight undetermined.
func TestOfNoPapersOnRecordNoneIsAboard(t *testing.T) {
	t.Parallel()
	r := rules(t)
	bare, unread := plainAircraft(), plainAircraft()
	bare.Papers, unread.Upkeep = airworthiness.Papers{}, airworthiness.Upkeep{}
	for name, a := range map[string]airworthiness.Aircraft{
		"papers": bare, "upkeep": unread,
		"an item without a record": due(airworthiness.UpkeepItem{ID: "a", Kind: "life-limit", What: "work"}),
	} {
		if have := judge(t, r, world{aircraft: a, flight: plainFlight()}); have.Verdict != airworthiness.Undetermined {
			t.Errorf("%s: %s", name, have.Verdict)
		}
	}
}

// TestAKindOfOperationIsLimitedToTheHoursThatAreLeft holds that what leaves some hours binds a kind of operation, as words
// and as data, and that what leaves none or is not known does not.
func TestAKindOfOperationIsLimitedToTheHoursThatAreLeft(t *testing.T) {
	t.Parallel()
	r := rules(t)
	for _, c := range []struct {
		left  airworthiness.Fact[float64]
		want  airworthiness.Outcome
		words string
	}{
		{airworthiness.Given(0.5), airworthiness.OutcomeLimited, "only within the 0.5 hours that are left for work"},
		{airworthiness.Given(0.0), airworthiness.OutcomeBreached, ""},
		{airworthiness.Given(-1.0), airworthiness.OutcomeBreached, ""},
		{airworthiness.Fact[float64]{}, airworthiness.OutcomeUnknown, ""},
	} {
		w := world{aircraft: due(airworthiness.UpkeepItem{ID: "a", Kind: "life-limit", What: "work", InHours: true, HoursLeft: c.left}), flight: plainFlight()}
		w.flight.Envelope = true
		w.flight.Hours, w.flight.WindowHours = airworthiness.Fact[float64]{}, airworthiness.Fact[float64]{}
		a := judge(t, r, w)
		found := false
		for i := range a.Findings {
			e := a.plan.Explain(&a.Findings[i])
			if e.Row != "91.403-c-due" {
				continue
			}
			found = true
			binding := a.plan.Binding(&a.Determination, &a.Findings[i])
			asData := len(binding.AnyOf) == 1 && binding.AnyOf[0].Fact == "flight.hours" && binding.AnyOf[0].Value == "0.5"
			if e.Outcome != c.want || e.Limitation != c.words || e.Item != "a" || asData != (c.words != "") {
				t.Errorf("%v left: %+v, %+v", c.left, e, binding)
			}
		}
		if !found {
			t.Errorf("%v left: nothing is said", c.left)
		}
	}
}

// TestWhatIsDueDoesNotAllocate holds that a determination that is used again allocates nothing for what is due either.
func TestWhatIsDueDoesNotAllocate(t *testing.T) { //nolint:paralleltest // it counts allocations
	r := rules(t)
	date := airworthiness.Given(day("2026-05-31"))
	a := due(
		airworthiness.UpkeepItem{ID: "a", Kind: "directive", What: "work", Citation: "directive", InDays: true, Through: date},
		airworthiness.UpkeepItem{ID: "b", Kind: "program", What: "work", InHours: true, HoursLeft: airworthiness.Given(1.0)},
		airworthiness.UpkeepItem{ID: "c", Kind: "own", What: "work", InHours: true, InCycles: true, Stops: []string{"ifr", "for-hire"}},
	)
	plan, err := r.Plan(&a)
	if err != nil {
		t.Fatal(err)
	}
	flight := r.Prepare(plainFlight())
	var d airworthiness.Determination
	plan.Determine(&d, nil, &flight)
	if n := testing.AllocsPerRun(100, func() { plan.Determine(&d, nil, &flight) }); n != 0 {
		t.Errorf("%v allocations", n)
	}
}
