package airworthiness_test

import (
	"slices"
	"strings"
	"testing"

	"tiedown/internal/airworthiness"
)

// TestTheHoursOfAFlight holds how the time in service of a flight is bounded: by what it says, and by its window.
func TestTheHoursOfAFlight(t *testing.T) {
	t.Parallel()
	r := compiled(t, wanting(airworthiness.RequirementRow{Must: "inspection-hours-within:100"}))
	unknown, given := airworthiness.Fact[float64]{}, airworthiness.Given[float64]
	for _, c := range []struct {
		name                string
		used, hours, window airworthiness.Fact[float64]
		want                airworthiness.Outcome
	}{
		{"two hours are left for two", given(98), given(2), unknown, passed},
		{"one hour is left for two", given(99), given(2), unknown, breached},
		{"one hour is left for two in a window of three", given(99), given(2), given(3), breached},
		{"a flight takes no longer than its window", given(98.5), given(5), given(1), passed},
		{"a window of one hour for the hour that is left", given(99), unknown, given(1), passed},
		{"a window of two hours for the hour that is left", given(99), unknown, given(2), open},
		{"nothing is left, however long it takes", given(100), unknown, unknown, breached},
		{"nothing is left for a flight that takes nothing", given(100), given(0), unknown, passed},
		{"nobody knows how long it takes", given(99), unknown, unknown, open},
		{"nobody knows how much is used", unknown, given(1), given(1), open},
	} {
		w := world{aircraft: known(), flight: dated()}
		w.aircraft.HoursSinceInspection, w.flight.Hours, w.flight.WindowHours = c.used, c.hours, c.window
		if got, _ := outcome(t, r, w, "want"); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// TestAnInspectionYetToComeLimitsNothing: a kind of operation is limited to the hours that are left, and not to a day.
func TestAnInspectionYetToComeLimitsNothing(t *testing.T) {
	t.Parallel()
	for must, want := range map[string]airworthiness.Verdict{
		"annual-within:12": airworthiness.Undetermined, "inspection-hours-within:100": airworthiness.Limited,
	} {
		w := world{aircraft: known(), flight: dated()}
		w.aircraft.AnnualInspected = airworthiness.Given(dated().On + 30)
		w.aircraft.HoursSinceInspection, w.flight.Envelope = airworthiness.Given(90.0), true
		if e := explained(t, compiled(t, wanting(airworthiness.RequirementRow{Must: must})), w, "want"); e.Verdict != want {
			t.Errorf("%s: %s, want %s", must, e.Verdict, want)
		}
	}
}

// TestRowsOnTwoAreRefused names the faults of rows on two squawks.
func TestRowsOnTwoAreRefused(t *testing.T) {
	t.Parallel()
	for says, change := range map[string]func(*airworthiness.InteractionRow){
		`two-lamps: condition "sunny" is not in the table`:                                      func(x *airworthiness.InteractionRow) { x.When = "sunny" },
		`two-lamps: condition "out-of-use" is neither of the aircraft`:                          func(x *airworthiness.InteractionRow) { x.When = "out-of-use" },
		`two-lamps: condition "works:lamp" is neither of the aircraft nor of the flight`:        func(x *airworthiness.InteractionRow) { x.When = "works:lamp" },
		`two-lamps: condition "hazard-considered" is neither of the aircraft nor of the flight`: func(x *airworthiness.InteractionRow) { x.When = "!hazard-considered" },
		`two-lamps: item "dial" is not in the catalog`:                                          func(x *airworthiness.InteractionRow) { x.Second = "lamp|dial" },
		`two-lamps: want an item on each side`:                                                  func(x *airworthiness.InteractionRow) { x.First = "" },
	} {
		tables := pairing("", "")
		change(&tables.Interactions[0])
		if _, err := airworthiness.Compile(tables); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("it says %v, want %q", err, says)
		}
	}
}

// TestTheFirstUnitIsOneLikeAnother holds that a row on two squawks is met by the unit that stands first on the record as
// by any other, by what it takes along, and by a squawk that names an item alone.
func TestTheFirstUnitIsOneLikeAnother(t *testing.T) {
	t.Parallel()
	r := compiled(t, pairing("", ""))
	a := known(
		airworthiness.Unit{ID: "source", Item: "belt"}, airworthiness.Unit{ID: "fed", Item: "lamp", Needs: []string{"source"}},
		airworthiness.Unit{ID: "lamp", Item: "lamp"}, airworthiness.Unit{ID: "gauge", Item: "gauge"})
	on := func(unit, item string) airworthiness.Defect {
		return airworthiness.Defect{ID: unit + item, Kind: airworthiness.KindInoperative, Unit: unit, Item: item, Deferral: done(airworthiness.Deactivated)}
	}
	for _, c := range []struct {
		name string
		two  []airworthiness.Defect
		want airworthiness.Outcome
	}{
		{"a lamp and the source that it needs are one lamp", []airworthiness.Defect{on("source", ""), on("fed", "")}, passed},
		{"a source takes a lamp along", []airworthiness.Defect{on("source", ""), on("lamp", "")}, undone},
		{"two lamps", []airworthiness.Defect{on("fed", ""), on("lamp", "")}, undone},
		{"a lamp of which nobody says which", []airworthiness.Defect{on("lamp", ""), on("", "lamp")}, undone},
		{"a belt of which nobody says which", []airworthiness.Defect{on("lamp", ""), on("", "belt")}, passed},
	} {
		for range 2 {
			c.two[0], c.two[1] = c.two[1], c.two[0]
			if got, _ := outcome(t, r, world{aircraft: a, defects: c.two, flight: dated()}, "two-lamps"); got != c.want {
				t.Errorf("%s: %s, want %s", c.name, got, c.want)
			}
		}
	}
}

// TestTheOtherSquawkIsNamed holds which squawk a row on two tells of beside the one that is judged: one that has not been
// considered where there is any, else the first.
func TestTheOtherSquawkIsNamed(t *testing.T) {
	t.Parallel()
	const notDone, bind, mind, fact = "was made without the other squawk", "may go only within", "Bear in mind", "A fact is missing"
	for _, c := range []struct {
		name             string
		when, limitation string
		considers        []string
		outcome          airworthiness.Outcome
		other            string
		says             string
		hazard           int // how often the step passes for the squawk
	}{
		{"none", "", "", nil, undone, "b", notDone, 0},
		{"one of two", "", "", []string{"b"}, undone, "c", notDone, 0},
		{"the other of two", "", "", []string{"c"}, undone, "b", notDone, 0},
		{"both, and it binds", "", "by day", []string{"b", "c"}, airworthiness.OutcomeLimited, "b", bind, 0},
		{"both, and it is told", "", "", []string{"b", "c"}, airworthiness.OutcomeNoted, "b", mind, 1},
		{"both, and nobody knows", "night", "by day", []string{"b", "c"}, open, "b", fact, 0},
	} {
		tables := pairing(c.when, c.limitation)
		first := tables.Interactions[0]
		first.ID, first.First, first.Second, first.When, first.Limitation = "a-belt", "lamp", "belt", "", ""
		last := first
		last.ID = "z-belt"
		tables.Interactions = append(append([]airworthiness.InteractionRow{first}, tables.Interactions...), last)
		r := compiled(t, tables)
		w := world{aircraft: known(append(units("lamp", nil, nil, nil), airworthiness.Unit{ID: "gauge", Item: "gauge"},
			airworthiness.Unit{ID: "aa", Item: "belt"})...), flight: dated()}
		for _, id := range []string{"c", "a", "b", "aa"} {
			d := airworthiness.Defect{ID: id, Kind: airworthiness.KindInoperative, Unit: id, Deferral: done(airworthiness.Deactivated)}
			d.Deferral.HazardConsidered = []string{"a", "aa", "b", "c"}
			if id == "a" {
				d.Deferral.HazardConsidered = append([]string{"aa"}, c.considers...)
			}
			w.defects = append(w.defects, d)
		}
		a := judge(t, r, w)
		passes, told := 0, 0
		for i := range a.Findings {
			f := &a.Findings[i]
			other, is := f.Other()
			if is && f.Step != airworthiness.StepHazard {
				t.Errorf("%s: the step %s tells of another squawk", c.name, f.Step)
			}
			if is && a.plan.RowID(f) != "two-lamps" {
				continue
			}
			if f.Defect == 2 && a.plan.RowID(f) == "two-lamps" && (!is || other != 0) {
				t.Errorf("%s: b is told of beside the squawk %d, %t; want a, which comes first", c.name, other, is)
			}
			if f.Defect != 0 || f.Step != airworthiness.StepHazard { // the squawk a
				continue
			}
			if !is {
				passes++
				continue
			}
			id, e := w.defects[a.Order[other]].ID, a.plan.Explain(f)
			if (f.Outcome == undone) == slices.Contains(c.considers, id) {
				t.Errorf("%s: %s beside %s", c.name, f.Outcome, id)
			}
			if f.Outcome == c.outcome && id == c.other && strings.Contains(e.Says, c.says) {
				told++
			}
		}
		if told != 1 || passes != c.hazard {
			t.Errorf("%s: told %d times, the step passes %d times, want 1 and %d:%s", c.name, told, passes, c.hazard, tell(a.tell(w.defects)))
		}
	}
}

// TestIntervalsAreRefused: no interval is shorter than a day, and that of category A is the list's to state.
func TestIntervalsAreRefused(t *testing.T) {
	t.Parallel()
	for _, row := range []airworthiness.IntervalRow{
		{Category: "B", Days: -1}, {Category: "B"}, {Category: "A", Days: 1},
	} {
		tables := small()
		row.ID = "interval"
		tables.Intervals = []airworthiness.IntervalRow{row}
		if _, err := airworthiness.Compile(tables); err == nil || !strings.Contains(err.Error(), "interval: want a number of days from 1") {
			t.Errorf("%+v: it says %v", row, err)
		}
	}
}
