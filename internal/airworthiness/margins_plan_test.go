package airworthiness_test

import (
	"slices"
	"testing"

	"tiedown/internal/airworthiness"
)

// TestAListThatIsNotThereIsAskedForFirst: every type has a VFR-day list, so that "there is none" is no answer; who has
// confirmed it is asked once it is there.
func TestAListThatIsNotThereIsAskedForFirst(t *testing.T) {
	t.Parallel()
	r := rules(t)
	const list = "aircraft.configuration.type_certification."
	for _, c := range []struct {
		onRecord, confirmed airworthiness.Truth
		asks                string
	}{
		{airworthiness.Unknown, airworthiness.Unknown, list + "on_record"},
		{airworthiness.No, airworthiness.Unknown, list + "on_record"},
		{airworthiness.No, airworthiness.Yes, list + "on_record"},
		{airworthiness.Yes, airworthiness.Unknown, list + "confirmed"},
		{airworthiness.Yes, airworthiness.No, list + "confirmed"},
	} {
		w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{inoperative("hour-meter")}}
		w.aircraft.TypeCertification.OnRecord, w.aircraft.TypeCertification.Confirmed = c.onRecord, c.confirmed
		if e := explained(t, r, w, "type-certification"); e.Outcome != open || facts(e.Missing) != c.asks {
			t.Errorf("on record %s, confirmed %s: %s, asked for is %q", c.onRecord, c.confirmed, e.Outcome, facts(e.Missing))
		}
	}
}

// TestAnOwnRowAsksForTheRecordAlone: equipment that is not on an incomplete record is asked for, and nothing of the flight.
func TestAnOwnRowAsksForTheRecordAlone(t *testing.T) {
	t.Parallel()
	w := world{aircraft: plainAircraft(), flight: plainFlight()}
	w.aircraft.UnitsComplete = airworthiness.Unknown
	w.aircraft.EquipmentList.Rows = []airworthiness.OwnRow{{Item: "dme", Document: "page 6-3"}}
	if e := explained(t, rules(t), w, "own:equipment-list"); e.Outcome != open || facts(e.Missing) != "aircraft.configuration.units_complete" {
		t.Errorf("%s, asked for is %q", e.Outcome, facts(e.Missing))
	}
}

// TestOneOpenClassOfAircraft: one class of 14 CFR 91.213(d)(1) that holds is enough, whatever is open of the others.
func TestOneOpenClassOfAircraft(t *testing.T) {
	t.Parallel()
	tables := small()
	first := tables.Eligibility[0]
	first.ID, first.When = "pressurized", "pressurized"
	tables.Eligibility = append([]airworthiness.EligibilityRow{first}, tables.Eligibility...)
	w := world{aircraft: known(airworthiness.Unit{ID: "lamp", Item: "lamp"}, airworthiness.Unit{ID: "gauge", Item: "gauge"}), flight: dated()}
	w.aircraft.Pressurized, w.defects = airworthiness.Unknown, []airworthiness.Defect{inoperative("lamp")}
	if e := explained(t, compiled(t, tables), w, "all"); e.Outcome != passed || e.Missing != nil || e.Limitation != "" {
		t.Errorf("%+v", e)
	}
	a := judge(t, compiled(t, tables), w)
	b := w
	b.aircraft.Pressurized = airworthiness.No
	without := judge(t, compiled(t, tables), b)
	if path := a.at(airworthiness.StepPath); len(path) != 1 || path[0] != without.at(airworthiness.StepPath)[0] {
		t.Error("what is open of one class marks another")
	}
}

// TestARowIsToldOnce: one that is short anyway, and that another unit might bring into play.
func TestARowIsToldOnce(t *testing.T) {
	t.Parallel()
	for when, want := range map[string][2]int{"works:lamp": {1, 1}, "!works:lamp": {0, 1}} {
		r := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "1", When: when}))
		w := world{aircraft: known(airworthiness.Unit{ID: "lamp", Item: "lamp"}), flight: dated()}
		for squawks := range 2 {
			a := judge(t, r, w)
			told := 0
			for i := range a.Findings {
				if a.plan.RowID(&a.Findings[i]) == "want" {
					told++
				}
			}
			if told != want[squawks] {
				t.Errorf("%s with %d squawks is told %d times, want %d", when, squawks, told, want[squawks])
			}
			w.defects = append(w.defects, inoperative("lamp"))
		}
	}
}

// TestPlacesAndSeatsAtTheirEdges: with one engine it does not matter which number its tachometer has; with no seats on
// record the seats say nothing of who is aboard.
func TestPlacesAndSeatsAtTheirEdges(t *testing.T) {
	t.Parallel()
	gauge := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "each-engine"}))
	w := world{aircraft: known(units("gauge", []int{2})...), flight: dated()}
	w.aircraft.Engines = airworthiness.Given(1)
	if got, _ := outcome(t, gauge, w, "want"); got != passed {
		t.Errorf("one engine, its gauge numbered 2: %s", got)
	}
	belt := compiled(t, wanting(airworthiness.RequirementRow{Item: "belt", Quantity: "each-occupant"}))
	for _, c := range []struct {
		seats airworthiness.Fact[int]
		belts []airworthiness.Unit
		want  airworthiness.Outcome
	}{
		{airworthiness.Given(0), nil, open},
		{airworthiness.Given(1), units("belt", nil), passed},
		{airworthiness.Given(2), units("belt", nil), open},
		{airworthiness.Fact[int]{}, units("belt", nil), open},
	} {
		w := world{aircraft: known(c.belts...), flight: dated()}
		w.aircraft.Seats = c.seats
		if got, _ := outcome(t, belt, w, "want"); got != c.want {
			t.Errorf("seats %+v, %d belts: %s, want %s", c.seats, len(c.belts), got, c.want)
		}
	}
}

// TestTheOrderOfFilingNeverMatters holds it of squawks that bear one name, too: they are told by what they are about.
func TestTheOrderOfFilingNeverMatters(t *testing.T) {
	t.Parallel()
	r := rules(t)
	named := func(unit, item string) airworthiness.Defect {
		return airworthiness.Defect{ID: "one name", Kind: airworthiness.KindInoperative, Unit: unit, Item: item}
	}
	two := [][2]airworthiness.Defect{
		{named("dome-light", ""), named("intercom", "")}, {named("", "dome-light"), named("", "intercom")}, {named("intercom", ""), named("", "dome-light")},
	}
	for _, pair := range two {
		var first []string
		for i := range 2 {
			w := world{aircraft: plainAircraft(), flight: plainFlight(), defects: []airworthiness.Defect{pair[i], pair[1-i]}}
			a := judge(t, r, w)
			var order []string
			for _, at := range a.Order {
				order = append(order, w.defects[at].Unit+w.defects[at].Item)
			}
			if first == nil {
				first = order
			}
			if !slices.IsSorted(order) && pair[0].Unit+pair[1].Unit != "intercom" { // one that names a unit comes after one that names none
				t.Errorf("they are told as %v", order)
			}
			if !slices.Equal(order, first) {
				t.Errorf("filed otherwise they are told as %v, not %v", order, first)
			}
		}
	}
}

// TestADefectDoesNotHideWhatIsShortUnderAnMEL: an MEL lets a radio fail; that the equipment list wants one more than there
// are is told with or without that squawk.
func TestADefectDoesNotHideWhatIsShortUnderAnMEL(t *testing.T) {
	t.Parallel()
	r := rules(t)
	w := underMEL("letter")
	w.aircraft.EquipmentList.Rows = []airworthiness.OwnRow{{Item: "nav-com-radio", Quantity: 3, Document: "page 6-3"}}
	for range 2 {
		if got, verdict := outcome(t, r, w, "own:equipment-list"); got != breached || verdict != airworthiness.Grounded {
			t.Errorf("with %d squawks: %s, %s", len(w.defects), got, verdict)
		}
		w.defects = append(w.defects, inoperative("nav-com-radio-1"))
	}
}

// TestEquipmentThatIsNotOnAnIncompleteRecord may be there or not: a row that hangs on it is open.
func TestEquipmentThatIsNotOnAnIncompleteRecord(t *testing.T) {
	t.Parallel()
	for _, when := range []string{"works:lamp", "installed:lamp"} {
		r := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "1", When: when}))
		for complete, want := range map[airworthiness.Truth]airworthiness.Outcome{airworthiness.Unknown: open, airworthiness.Yes: passed} {
			w := world{aircraft: known(units("gauge", nil)...), defects: failing("a"), flight: dated()}
			w.aircraft.UnitsComplete = complete
			if got, _ := outcome(t, r, w, "want"); got != want {
				t.Errorf("%s, complete %s: %s, want %s", when, complete, got, want)
			}
		}
	}
}

// TestASquawkThatNamesNoUnit is not about a unit without a name.
func TestASquawkThatNamesNoUnit(t *testing.T) {
	t.Parallel()
	w := world{aircraft: known(airworthiness.Unit{Item: "lamp"}, airworthiness.Unit{ID: "gauge", Item: "gauge"}), flight: dated()}
	w.defects = []airworthiness.Defect{{ID: "a", Kind: airworthiness.KindInoperative, Item: "lamp"}}
	if a := judge(t, compiled(t, small()), w); a.Verdict != airworthiness.Undetermined {
		t.Errorf("it is %s:%s", a.Verdict, tell(a.tell(w.defects)))
	}
}

// TestAllOfAKindAreCounted: a row that wants every unit of a kind tells how many these are.
func TestAllOfAKindAreCounted(t *testing.T) {
	t.Parallel()
	for quantity, want := range map[string][2]int16{"all": {3, 2}, "all-installed": {3, 2}} {
		r := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: quantity}))
		a := judge(t, r, world{aircraft: known(units("gauge", nil, nil, nil)...), defects: failing("b"), flight: dated()})
		for i := range a.Findings {
			if f := &a.Findings[i]; a.plan.RowID(f) == "want" && (f.Need != want[0] || f.Have != want[1] || f.Outcome != breached) {
				t.Errorf("%s: %d of %d work, %s", quantity, f.Have, f.Need, f.Outcome)
			}
		}
		if _, verdict := outcome(t, r, world{aircraft: known(units("gauge", nil, nil, nil)...), defects: failing("b"), flight: dated()}, "want"); verdict != airworthiness.Grounded {
			t.Errorf("%s: %s", quantity, verdict)
		}
	}
}

// TestATaskHasItsDays: what is to be done follows the rows in force on the day of the flight.
func TestATaskHasItsDays(t *testing.T) {
	t.Parallel()
	tables := small()
	task := airworthiness.TaskRow{Origin: tables.Requirements[0].Origin, For: []string{"put-away"}, Outcome: "undone", Entry: "an entry"}
	task.ID, task.From = "enter", day("2026-06-01")
	tables.Tasks = []airworthiness.TaskRow{task}
	r := compiled(t, tables)
	w := world{aircraft: known(airworthiness.Unit{ID: "lamp", Item: "lamp"}, airworthiness.Unit{ID: "gauge", Item: "gauge"}), flight: dated()}
	w.defects = []airworthiness.Defect{{ID: "a", Kind: airworthiness.KindInoperative, Unit: "lamp"}}
	for date, want := range map[string]int{"2026-05-31": 0, "2026-06-01": 1} {
		w.flight.On = day(date)
		a := judge(t, r, w)
		tasks := 0
		for i := range a.Findings {
			tasks += len(a.plan.ToDo(&a.Determination, &a.Findings[i], w.defects))
		}
		if tasks != want {
			t.Errorf("%s: %d tasks, want %d", date, tasks, want)
		}
	}
}

// TestTheParagraphSaysWhichRatingCoversIt: whose rating covers preventive maintenance follows from its paragraph of 14 CFR
// part 43 appendix A(c), or from the item: (1) is about tires, (20) about spark plugs (65.85, 65.87).
func TestTheParagraphSaysWhichRatingCoversIt(t *testing.T) {
	t.Parallel()
	const no, yes = airworthiness.No, airworthiness.Yes
	r := rules(t)
	for _, c := range []struct {
		work airworthiness.Work
		want airworthiness.Truth
	}{
		{airworthiness.Work{Number: 20}, yes},
		{airworthiness.Work{Number: 1}, no},
		{airworthiness.Work{Item: "spark-plug"}, yes},
		{airworthiness.Work{Item: "tire"}, no},
	} {
		person := airworthiness.Person{Airframe: no, Powerplant: yes, Recent: yes, Understands: yes}
		aircraft := plainAircraft()
		asked := airworthiness.Occasion{
			Verb: "perform", Action: "preventive-maintenance", Person: &person, Aircraft: &aircraft, Work: c.work, On: day("2027-01-15"),
		}
		may := slices.ContainsFunc(r.May(asked).Rows, func(o airworthiness.Origin) bool { return o.ID == "mechanic-maintains" })
		if may != (c.want == yes) {
			t.Errorf("%+v: a powerplant mechanic may %t, want %s: %+v", c.work, may, c.want, r.May(asked))
		}
	}
}
