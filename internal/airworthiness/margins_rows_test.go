package airworthiness_test

import (
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
)

// explained is the finding of one row in words; a row that asks nothing fails the test.
func explained(t *testing.T, r *airworthiness.Ruleset, w world, row string) airworthiness.Explanation {
	t.Helper()
	a := judge(t, r, w)
	for i := range a.Findings {
		if a.plan.RowID(&a.Findings[i]) == row {
			return a.plan.Explain(&a.Findings[i])
		}
	}
	t.Fatalf("the row %s is not told:%s", row, tell(a.tell(w.defects)))
	return airworthiness.Explanation{}
}

func facts(missing []airworthiness.MissingFact) string {
	var names []string
	for _, m := range missing {
		names = append(names, m.Fact)
	}
	return strings.Join(names, " ")
}

// TestOnlyWhatIsUnknownIsAskedFor: a condition that is known not to hold is not asked for beside the one that decides
// whether it must; one that may hold is, whichever it is.
func TestOnlyWhatIsUnknownIsAskedFor(t *testing.T) {
	t.Parallel()
	must := func(condition, when string) *airworthiness.Ruleset {
		return compiled(t, wanting(airworthiness.RequirementRow{Must: condition, When: when}))
	}
	w := world{aircraft: known(), flight: dated()}
	w.aircraft.AnnualInspected = airworthiness.Given(day("2020-01-01"))
	if asks := facts(explained(t, must("annual-within:12", "for-hire"), w, "want").Missing); asks != "flight.for_hire" {
		t.Errorf("the annual has run out, and asked for is %q", asks)
	}
	w.aircraft.AnnualInspected = airworthiness.Fact[airworthiness.Date]{}
	if asks := facts(explained(t, must("annual-within:12", ""), w, "want").Missing); asks != "aircraft.facts.annual_inspected" {
		t.Errorf("nobody knows of the annual, and asked for is %q", asks)
	}
	// The first condition of every ruleset is this one.
	if asks := facts(explained(t, must("kind:day-vfr", ""), w, "want").Missing); asks != "flight.rules" {
		t.Errorf("nobody knows the rules of the flight, and asked for is %q", asks)
	}
}

// TestAReliefSettlesTheMatter: what is relieved is neither limited besides nor asks for more.
func TestAReliefSettlesTheMatter(t *testing.T) {
	t.Parallel()
	tables := wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "1", When: "for-hire"})
	ease := func(id, when, limitation string) airworthiness.ReliefRow {
		return airworthiness.ReliefRow{
			Origin:   airworthiness.Origin{ID: id, Citation: "rule " + id, Words: "words of " + id, Status: "verified"},
			Relieves: []string{"want"}, When: when, Limitation: limitation,
		}
	}
	tables.Reliefs = []airworthiness.ReliefRow{ease("by-aircraft", "pressurized", "")}
	r := compiled(t, tables)
	w := world{aircraft: known(), flight: dated()}
	w.aircraft.Pressurized, w.flight.Envelope = airworthiness.Yes, true
	if e := explained(t, r, w, "want"); e.Outcome != relieved || e.Verdict != airworthiness.Clear || e.Relief != "by-aircraft" || e.Missing != nil {
		t.Errorf("relieved by the aircraft it is %+v", e)
	}

	tables.Requirements[0].When = ""
	tables.Reliefs = []airworthiness.ReliefRow{ease("by-flight", "night", "only at night"), ease("by-both", "pressurized night", "")}
	tables.Reliefs[1].Limitation = "pressurized, at night"
	r = compiled(t, tables)
	w.aircraft.Pressurized = airworthiness.Unknown
	if e := explained(t, r, w, "want"); e.Outcome != airworthiness.OutcomeLimited || e.Relief != "by-flight" {
		t.Errorf("one relief hangs on the flight alone, and one does not: %+v", e)
	}
	w.flight.Envelope = false
	if e := explained(t, r, w, "want"); e.Outcome != open || facts(e.Missing) != "flight.light aircraft.facts.pressurized" {
		t.Errorf("of one flight it is %s, and asked for is %q", e.Verdict, facts(e.Missing))
	}
}

// TestALimitThatIsExceededIsNoWayOut: a kind of operation is limited to what keeps a row out of play, and not to a limit in
// hours which the flight is known to exceed.
func TestALimitThatIsExceededIsNoWayOut(t *testing.T) {
	t.Parallel()
	r := compiled(t, wanting(airworthiness.RequirementRow{Must: "inspection-hours-within:100", When: "for-hire"}))
	w := world{aircraft: known(), flight: dated()}
	w.aircraft.HoursSinceInspection, w.flight.Envelope, w.flight.Hours = airworthiness.Given(90.0), true, airworthiness.Given(20.0)
	if e := explained(t, r, w, "want"); e.Verdict != airworthiness.Limited || e.Limitation != "not for hire" {
		t.Errorf("%s, limited to %q", e.Verdict, e.Limitation)
	}
}

// TestTheKindsOfOperation holds what a kind of operation as such is taken to be: in some part dark or not at all, and
// everything that it does not say left open.
func TestTheKindsOfOperation(t *testing.T) {
	t.Parallel()
	const no, yes = airworthiness.No, airworthiness.Yes
	flights := rules(t).KindsOfOperation(dated())
	for i, want := range []struct{ ifr, night airworthiness.Truth }{{no, no}, {no, yes}, {yes, no}, {yes, yes}} {
		f := &flights[i]
		name := airworthiness.KindNames()[i]
		if f.IFR != want.ifr || f.Night != want.night || f.Day != want.night.Not() || f.Lights != want.night || f.Dark != want.night {
			t.Errorf("%s: IFR %s, night %s, day %s, lights %s, dark %s", name, f.IFR, f.Night, f.Day, f.Lights, f.Dark)
		}
		if !f.Envelope || f.InAlaska != no || !f.Operations.Known || len(f.Operations.Value) != 0 || f.ForHire != airworthiness.Unknown {
			t.Errorf("%s: %+v", name, f.Flight)
		}
		if f.On != dated().On || !f.Ends.Equal(dated().Ends) {
			t.Errorf("%s: it is on another day", name)
		}
	}
	declared := dated()
	declared.Operations = airworthiness.Given([]string{"nvg"})
	for i, f := range rules(t).KindsOfOperation(declared) {
		if len(f.Operations.Value) != 1 {
			t.Errorf("%s: the operation that is declared is forgotten", airworthiness.KindNames()[i])
		}
	}
}

// TestNobodyAboardNeedsNothing: none is a number like any other; fewer than none is none that anybody knows.
func TestNobodyAboardNeedsNothing(t *testing.T) {
	t.Parallel()
	r := compiled(t, wanting(airworthiness.RequirementRow{Item: "belt", Quantity: "each-occupant"}))
	for n, want := range map[int]airworthiness.Outcome{-1: open, 0: passed, 1: breached} {
		w := world{aircraft: known(), flight: dated()}
		w.flight.Occupants = airworthiness.Given(n)
		if got, _ := outcome(t, r, w, "want"); got != want {
			t.Errorf("%d aboard: %s, want %s", n, got, want)
		}
	}
}

// TestADecisionLeavesOutNotes: two squawks that have been considered together, and bind the flight to nothing.
func TestADecisionLeavesOutNotes(t *testing.T) {
	t.Parallel()
	r := compiled(t, pairing("", ""))
	w := world{aircraft: known(append(units("lamp", nil, nil), airworthiness.Unit{ID: "gauge", Item: "gauge"})...), flight: dated()}
	for _, id := range []string{"a", "b"} {
		w.defects = append(w.defects, airworthiness.Defect{ID: id, Kind: airworthiness.KindInoperative, Unit: id, Deferral: done(airworthiness.Deactivated)})
		w.defects[len(w.defects)-1].Deferral.HazardConsidered = []string{"a", "b"}
	}
	a := judge(t, r, w)
	flight := r.Prepare(w.flight)
	var standing airworthiness.Standing
	var d airworthiness.Determination
	a.plan.Stand(&standing, w.defects)
	a.plan.Decide(&d, &standing, &flight)
	if got, _ := outcome(t, r, w, "two-lamps"); got != airworthiness.OutcomeNoted || d.Verdict != airworthiness.Clear || len(d.Findings) != 0 {
		t.Errorf("%s, decided %s with %+v", got, d.Verdict, d.Findings)
	}
}
