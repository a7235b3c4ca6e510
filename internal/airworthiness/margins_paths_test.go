package airworthiness_test

import (
	"slices"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
)

// at lists the findings of one step, on every squawk.
func (a *answer) at(step airworthiness.Step) []airworthiness.Finding {
	var found []airworthiness.Finding
	for _, f := range a.Findings {
		if f.Step == step {
			found = append(found, f)
		}
	}
	return found
}

// TestWhatIsAskedOfAConditionUnderAPermit: of a condition that a permit covers it is asked besides what the permit does
// not lift (14 CFR 39.23: a directive may bar it); of any other nothing beyond the finding that it is a condition.
func TestWhatIsAskedOfAConditionUnderAPermit(t *testing.T) {
	t.Parallel()
	r := rules(t)
	tire := airworthiness.Defect{ID: "tire", Kind: airworthiness.KindCondition, Item: "tire"}
	repaired := tire
	repaired.Found = &airworthiness.Found{
		Result: airworthiness.FoundRepaired, Rated: airworthiness.Yes, Data: airworthiness.Yes, Approved: airworthiness.Yes,
	}
	nobodyKnows := tire
	nobodyKnows.Item = ""
	nobodyKnows.Kind = airworthiness.KindUnstated
	cases := []struct {
		name      string
		defect    airworthiness.Defect
		permit    *airworthiness.Permit
		reviewed  airworthiness.Truth
		directive int // findings about directives
		verdict   airworthiness.Verdict
	}{
		{"covered, directives reviewed", tire, plainPermit("tire"), airworthiness.Yes, 1, airworthiness.Limited},
		{"covered, directives not reviewed", tire, plainPermit("tire"), airworthiness.Unknown, 1, airworthiness.Undetermined},
		{"no permit", tire, nil, airworthiness.Unknown, 0, airworthiness.Grounded},
		{"a permit for another squawk", tire, plainPermit("spar"), airworthiness.Unknown, 0, airworthiness.Grounded},
		{"repaired, though a permit covers it", repaired, plainPermit("tire"), airworthiness.Unknown, 0, airworthiness.Clear},
		{"covered, but nobody knows what it is", nobodyKnows, plainPermit("tire"), airworthiness.Yes, 0, airworthiness.Undetermined},
	}
	for _, c := range cases {
		w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{c.defect}}
		w.flight.Permit, w.aircraft.Directives.OnRecord = c.permit, c.reviewed
		a := judge(t, r, w)
		if n := len(a.at(airworthiness.StepDirective)); n != c.directive || a.Verdict != c.verdict {
			t.Errorf("%s: %d findings about directives, %s; want %d, %s:%s", c.name, n, a.Verdict, c.directive, c.verdict, tell(a.tell(w.defects)))
		}
	}
}

// TestASquawkOnAUnitThatIsNotInstalled: nobody knows what it is about, whatever else it says.
func TestASquawkOnAUnitThatIsNotInstalled(t *testing.T) {
	t.Parallel()
	d := inoperative("a unit of another aircraft")
	for _, item := range []string{"", "intercom"} {
		d.Item = item
		w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{d}}
		a := judge(t, rules(t), w)
		if nature := a.at(airworthiness.StepNature); len(nature) != 1 || nature[0].Outcome != open || a.Verdict != airworthiness.Undetermined {
			t.Errorf("item %q: %+v, %s", item, nature, a.Verdict)
		}
		if a.at(airworthiness.StepPath) != nil {
			t.Errorf("item %q: the path is asked about", item)
		}
	}
}

// TestDecidingTellsWhatStandsInTheWay: what is left out when only a decision is wanted is what has passed, nothing else.
func TestDecidingTellsWhatStandsInTheWay(t *testing.T) {
	t.Parallel()
	r := rules(t)
	tire := airworthiness.Defect{ID: "tire", Kind: airworthiness.KindCondition, Item: "tire"}
	w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{tire}}
	a := judge(t, r, w)
	flight := r.Prepare(w.flight)
	var standing airworthiness.Standing
	var d airworthiness.Determination
	a.plan.Stand(&standing, w.defects)
	a.plan.Decide(&d, &standing, &flight)
	if d.Verdict != airworthiness.Grounded || len(d.Findings) != 1 || d.Findings[0].Step != airworthiness.StepNature {
		t.Errorf("%s with %+v", d.Verdict, d.Findings)
	}
}

// tale is the steps of the findings on squawks, with how each came out, in their order.
func (a *answer) tale() string {
	var lines []string
	for _, f := range a.Findings {
		if f.Defect >= 0 {
			lines = append(lines, f.Step.String()+" "+f.Outcome.String())
		}
	}
	return strings.Join(lines, ", ")
}

// TestEachStepIsToldOnce holds what is told of a squawk: each step of 14 CFR 91.213(d), either as passed or with each row
// that stands in the way or is relieved (an ELT falls under two: 91.205(b)(15) and 91.207(a)).
func TestEachStepIsToldOnce(t *testing.T) {
	t.Parallel()
	r := rules(t)
	const asked = "nature passed, path passed, type-certification passed, equipment-list passed, regulation passed, directive passed, "
	undone := airworthiness.Defect{ID: "a", Kind: airworthiness.KindInoperative, Unit: "intercom"}
	unknownHazard := inoperative("intercom")
	unknownHazard.Deferral.HazardDetermined = airworthiness.No
	lapsed := inoperative("intercom")
	lapsed.Deferral.Until = airworthiness.Given(plainFlight().Ends.Add(-1))
	cases := []struct {
		name   string
		defect airworthiness.Defect
		change func(*world)
		want   string
	}{
		{"deferred", inoperative("intercom"), nil, asked + "disposition passed, hazard passed, lapse passed"},
		{"nothing done", undone, nil, asked + "disposition undone, disposition undone, disposition undone, hazard undone, lapse passed"},
		{"nobody has determined the hazard", unknownHazard, nil, asked + "hazard undone, disposition passed, lapse passed"},
		{"run out", lapsed, nil, asked + "lapse undone, disposition passed, hazard passed"},
		{
			"a requirement that is relieved has been told", removed("elt"), nil,
			"nature passed, path passed, regulation relieved, regulation relieved, type-certification passed, equipment-list passed, directive passed, " +
				"disposition passed, hazard passed, lapse passed",
		},
		{
			"a requirement of a list that nobody has confirmed has been told", inoperative("alternator"),
			func(w *world) { w.aircraft.EquipmentList.OnRecord = airworthiness.Unknown },
			"nature passed, path passed, equipment-list breached, type-certification passed, regulation passed, directive passed, " +
				"disposition passed, hazard passed, lapse passed",
		},
		{
			"of two rows that one unit falls under, one is relieved", removed("elt"),
			func(w *world) {
				w.aircraft.Directives.OnRecord = airworthiness.Unknown
				w.aircraft.Directives.Rows = []airworthiness.OwnRow{{Item: "elt", Document: "invented directive"}}
			},
			"nature passed, path passed, regulation relieved, regulation relieved, directive breached, type-certification passed, equipment-list passed, " +
				"disposition passed, hazard passed, lapse passed",
		},
	}
	for _, c := range cases {
		w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{c.defect}}
		if c.change != nil {
			c.change(&w)
		}
		a := judge(t, r, w)
		if got := a.tale(); got != c.want {
			t.Errorf("%s:\n%s, want\n%s", c.name, got, c.want)
		}
	}
}

// TestTheSetIsCounted: what a hazard determination leaves out of view is told as a number.
func TestTheSetIsCounted(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	all := []string{"intercom", "hour-meter", "dome-light", "cabin-heater"}
	for _, unit := range all {
		w.defects = append(w.defects, inoperative(unit))
		w.defects[len(w.defects)-1].Deferral.HazardConsidered = all
	}
	w.defects[0].Deferral.HazardConsidered = []string{"dome-light"}
	a := judge(t, r, w)
	says := strings.Join(a.tell(w.defects), "\n")
	if a.Verdict != airworthiness.DeferFirst || strings.Count(says, "other open squawks that are") != 1 ||
		!strings.Contains(says, "It considers 1 of the 3 other open squawks") {
		t.Errorf("%s:\n%s", a.Verdict, says)
	}
}

// TestAUsedDeterminationIsAsGoodAsNew: after a decision the next judgment tells everything again.
func TestAUsedDeterminationIsAsGoodAsNew(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{inoperative("intercom")}}
	fresh := judge(t, r, w)
	flight := r.Prepare(w.flight)
	var standing airworthiness.Standing
	var used airworthiness.Determination
	fresh.plan.Stand(&standing, w.defects)
	fresh.plan.Decide(&used, &standing, &flight)
	fresh.plan.Judge(&used, &standing, &flight)
	if !slices.Equal(used.Findings, fresh.Findings) {
		t.Errorf("%+v, want %+v", used.Findings, fresh.Findings)
	}
}

// TestWhatIsAboutTheAircraft holds of which findings no squawk is the cause: they say so alike.
func TestWhatIsAboutTheAircraft(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := world{aircraft: plainAircraft(), defects: []airworthiness.Defect{inoperative("intercom")}}
	w.aircraft.AnnualInspected = airworthiness.Given(day("2020-01-01"))
	w.aircraft.Units = slices.DeleteFunc(w.aircraft.Units, func(u airworthiness.Unit) bool { return u.ID == "elt" })
	w.flight = plainFlight()
	w.flight.On, w.flight.Permit = 0, plainPermit("intercom")
	w.flight.Permit.Issued = airworthiness.Given(day("2030-01-01"))
	a := judge(t, r, w)
	rows := map[string]airworthiness.Step{}
	for i := range a.Findings {
		f := &a.Findings[i]
		if f.Defect < -1 || int(f.Defect) >= len(a.Order) {
			t.Errorf("%s is about the squawk %d", a.plan.RowID(f), f.Defect)
		}
		if f.Defect == -1 {
			rows[a.plan.RowID(f)] = f.Step
		}
	}
	for row, step := range map[string]airworthiness.Step{
		"91.409-a": airworthiness.StepAircraft, "91.207-a": airworthiness.StepRegulation, "pilot": airworthiness.StepPilot,
	} {
		if got, ok := rows[row]; !ok || got != step {
			t.Errorf("%s is told at the step %s, %t; want %s: %v", row, got, ok, step, rows)
		}
	}
	if n := len(a.at(airworthiness.StepAircraft)); n < 2 || a.plan.Explain(&a.Findings[0]).Row != "date" || a.Findings[0].Step != airworthiness.StepAircraft || a.Findings[0].Defect != -1 {
		t.Errorf("the missing date is not told first: %s", tell(a.tell(w.defects)))
	}
}

// TestAnotherSquawkDoesNotUndoARemoval: an ELT taken out serves its 90 days whatever else is out (91.207(f)(10)).
func TestAnotherSquawkDoesNotUndoARemoval(t *testing.T) {
	t.Parallel()
	w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{removed("elt"), inoperative("intercom")}}
	for i := range w.defects {
		w.defects[i].Deferral.HazardConsidered = []string{"elt", "intercom"}
	}
	w.defects[1].Deferral.Placarded = airworthiness.No
	if got, verdict := outcome(t, rules(t), w, "91.207-a"); got != relieved || verdict != airworthiness.DeferFirst {
		t.Errorf("%s, %s", got, verdict)
	}
}

// TestARepairedConditionDoesNotUndoARemoval: nor does a condition of the same unit that has been cleared, and that has no
// deferral of its own.
func TestARepairedConditionDoesNotUndoARemoval(t *testing.T) {
	t.Parallel()
	yes := airworthiness.Yes
	w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{removed("elt"), {
		ID: "dent", Kind: airworthiness.KindCondition, Unit: "elt",
		Found: &airworthiness.Found{Result: airworthiness.FoundRepaired, Rated: yes, Data: yes, Approved: yes},
	}}}
	if got, verdict := outcome(t, rules(t), w, "91.207-a"); got != relieved || verdict != airworthiness.Limited {
		t.Errorf("%s, %s", got, verdict)
	}
}

// TestTheAircraftPassesWhereNothingIsWrongWithIt: what is wrong without any squawk is told instead of the pass; a note is
// told beside it.
func TestTheAircraftPassesWhereNothingIsWrongWithIt(t *testing.T) {
	t.Parallel()
	r := rules(t)
	longAgo := airworthiness.Given(day("2010-01-01"))
	for name, c := range map[string]struct {
		change func(*world)
		passes int
	}{
		"nothing is wrong":           {func(*world) {}, 1},
		"the annual has run out":     {func(w *world) { w.aircraft.AnnualInspected = longAgo }, 0},
		"nobody knows of the annual": {func(w *world) { w.aircraft.AnnualInspected = airworthiness.Fact[airworthiness.Date]{} }, 0},
		"the annual has run out, and so has the transponder's test": {
			func(w *world) { w.aircraft.AnnualInspected, w.aircraft.TransponderTested = longAgo, longAgo }, 0,
		},
		"a permit does not serve": {func(w *world) {
			w.flight.Permit = plainPermit()
			w.flight.Permit.Issued = airworthiness.Given(day("2030-01-01"))
		}, 1},
		"the ELT's test has run out":         {func(w *world) { w.aircraft.ELTInspected = longAgo }, 0},
		"the kind is not approved":           {func(w *world) { w.aircraft.Approved = airworthiness.Given(airworthiness.NightIFR) }, 0},
		"a unit was never installed":         {func(w *world) { w.aircraft.Units = w.aircraft.Units[1:] }, 0},
		"the transponder's test has run out": {func(w *world) { w.aircraft.TransponderTested = longAgo }, 1},
	} {
		w := world{aircraft: plainAircraft(), flight: plainFlight()}
		c.change(&w)
		a := judge(t, r, w)
		passes := 0
		for _, f := range a.Findings {
			if f.Defect != -1 {
				t.Errorf("%s: the step %s is about the squawk %d, and there is none", name, f.Step, f.Defect)
			}
		}
		for _, f := range a.at(airworthiness.StepAircraft) {
			if f.Outcome == passed {
				passes++
			}
		}
		if passes != c.passes {
			t.Errorf("%s: the aircraft passes %d times, want %d:%s", name, passes, c.passes, tell(a.tell(nil)))
		}
	}
}

// TestAKindOfOperationIsLimitedByPersonsOnly: who is aboard is the flight's to choose, so that a kind of operation may be
// limited to as many as are served. What the aircraft leaves open binds nobody to anything.
func TestAKindOfOperationIsLimitedByPersonsOnly(t *testing.T) {
	t.Parallel()
	belts := compiled(t, wanting(airworthiness.RequirementRow{Item: "belt", Quantity: "each-occupant"}))
	gauges := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "each-tank"}))
	cases := []struct {
		name     string
		rules    *airworthiness.Ruleset
		units    []airworthiness.Unit
		failing  string
		persons  airworthiness.Fact[int]
		complete airworthiness.Truth
		kind     bool
		want     airworthiness.Verdict
	}{
		{"one belt, nobody knows for how many", belts, units("belt", nil), "", airworthiness.Fact[int]{}, airworthiness.Yes, true, airworthiness.Limited},
		{"the same of one flight", belts, units("belt", nil), "", airworthiness.Fact[int]{}, airworthiness.Yes, false, airworthiness.Undetermined},
		{"no belt", belts, nil, "", airworthiness.Fact[int]{}, airworthiness.Yes, true, airworthiness.Undetermined},
		{"one belt on record for two", belts, units("belt", nil), "", airworthiness.Given(2), airworthiness.Unknown, true, airworthiness.Undetermined},
		{"one belt for two", belts, units("belt", nil), "", airworthiness.Given(2), airworthiness.Yes, true, airworthiness.Grounded},
		{"nobody knows how many tanks", gauges, units("gauge", nil, nil), "a", airworthiness.Fact[int]{}, airworthiness.Yes, true, airworthiness.Undetermined},
	}
	for _, c := range cases {
		w := world{aircraft: known(c.units...), defects: failing(c.failing), flight: dated()}
		w.flight.Envelope, w.flight.Occupants, w.aircraft.UnitsComplete = c.kind, c.persons, c.complete
		a := judge(t, c.rules, w)
		row, _ := outcome(t, c.rules, w, "want")
		worst := airworthiness.Clear
		for i := range a.Findings {
			if a.plan.RowID(&a.Findings[i]) == "want" {
				worst = airworthiness.Worst(worst, a.Findings[i].Verdict)
			}
		}
		if worst != c.want {
			t.Errorf("%s: %s %s, want %s:%s", c.name, row, worst, c.want, tell(a.tell(w.defects)))
		}
	}
}
