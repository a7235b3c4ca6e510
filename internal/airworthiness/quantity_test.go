package airworthiness_test

import (
	"fmt"
	"math"
	"testing"

	"tiedown/internal/airworthiness"
)

// units makes units of an item named a, b, c ..., each serving the places given; nil says nothing of its place.
func units(item string, serves ...[]int) []airworthiness.Unit {
	var all []airworthiness.Unit
	for i, places := range serves {
		u := airworthiness.Unit{ID: fmt.Sprintf("%c", 'a'+i), Item: item}
		for _, n := range places {
			u.Serves |= 1 << (n - 1)
		}
		all = append(all, u)
	}
	return all
}

// failing are squawks on units named by their letters, with everything done so that they may stay.
func failing(letters string) []airworthiness.Defect {
	var all []airworthiness.Defect
	for _, l := range letters {
		all = append(all, inoperative(string(l)))
	}
	return all
}

// TestEachPlace holds the rows that want one unit for each tank. 14 CFR 91.205(b)(9) is such a row.
func TestEachPlace(t *testing.T) {
	t.Parallel()
	r := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "each-tank"}))
	one, two, both, unsaid := []int{1}, []int{2}, []int{1, 2}, []int(nil)
	passed, unknown, breached := airworthiness.OutcomePassed, airworthiness.OutcomeUnknown, airworthiness.OutcomeBreached
	cases := []struct {
		name   string
		tanks  int // -1: not known
		serves [][]int
		fails  string
		want   airworthiness.Outcome
	}{
		{"each tank its gauge", 2, [][]int{one, two}, "", passed},
		{"one gauge out", 2, [][]int{one, two}, "b", breached},
		{"a gauge for both", 2, [][]int{both}, "", passed},
		{"a gauge for both out", 2, [][]int{both}, "a", breached},
		{"a spare for one tank", 2, [][]int{one, two, two}, "c", passed},
		{"the wrong one out", 2, [][]int{one, two, two}, "a", breached},
		{"both on one tank", 2, [][]int{one, one}, "", breached},
		{"not said which, all work", 2, [][]int{unsaid, unsaid}, "", passed},
		{"not said which, one out", 2, [][]int{unsaid, unsaid}, "a", breached},
		{"not said which, one out of three", 2, [][]int{unsaid, unsaid, unsaid}, "a", unknown},
		{"not said which, two out of three", 2, [][]int{unsaid, unsaid, unsaid}, "ab", breached},
		{"one said, the other its own", 2, [][]int{one, unsaid}, "", passed},
		{"one said and out", 2, [][]int{one, unsaid}, "a", breached},
		{"one said, the other out", 2, [][]int{one, unsaid}, "b", breached},
		{"one said, two not, one of them out", 2, [][]int{one, unsaid, unsaid}, "c", unknown},
		{"one said and out, two not", 2, [][]int{one, unsaid, unsaid}, "a", unknown},
		{"too few on a complete record", 2, [][]int{one}, "", breached},
		{"one tank, unsaid gauge", 1, [][]int{unsaid}, "", passed},
		{"one tank, its gauge out", 1, [][]int{unsaid}, "a", breached},
		{"tanks not known", -1, [][]int{one, two}, "", unknown},
		{"no tank", 0, nil, "", passed},
		{"more tanks than can be numbered", 65, [][]int{one}, "", unknown},
		{"tanks below nought", -2, [][]int{one}, "", unknown},
	}
	for _, c := range cases {
		a := known(units("gauge", c.serves...)...)
		if c.tanks != -1 {
			a.Tanks = airworthiness.Given(c.tanks)
		}
		got, verdict := outcome(t, r, world{aircraft: a, defects: failing(c.fails), flight: dated()}, "want")
		if got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
		if verdict.Permits() != (c.want == passed) {
			t.Errorf("%s: the verdict is %s", c.name, verdict)
		}
	}
}

// TestTheOtherPlaces holds that engines, seats and front seats are counted by their own facts.
func TestTheOtherPlaces(t *testing.T) {
	t.Parallel()
	set := map[string]func(*airworthiness.Aircraft){
		"each-engine":     func(a *airworthiness.Aircraft) { a.Engines = airworthiness.Given(2) },
		"each-seat":       func(a *airworthiness.Aircraft) { a.Seats = airworthiness.Given(2) },
		"each-front-seat": func(a *airworthiness.Aircraft) { a.FrontSeats = airworthiness.Given(2) },
	}
	for quantity, give := range set {
		r := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: quantity}))
		a := known(units("gauge", []int{1}, []int{2}, []int{3})...)
		if got, _ := outcome(t, r, world{aircraft: a, flight: dated()}, "want"); got != airworthiness.OutcomeUnknown {
			t.Errorf("%s of an aircraft whose number is not known: %s", quantity, got)
		}
		give(&a)
		for fails, want := range map[string]airworthiness.Outcome{
			"": airworthiness.OutcomePassed, "c": airworthiness.OutcomePassed, "b": airworthiness.OutcomeBreached,
		} {
			if got, _ := outcome(t, r, world{aircraft: a, defects: failing(fails), flight: dated()}, "want"); got != want {
				t.Errorf("%s without %q: %s, want %s", quantity, fails, got, want)
			}
		}
	}
}

// TestAFrontSeatWantsItsOwn holds that a harness at the back is none at the front (14 CFR 91.205(b)(14)).
func TestAFrontSeatWantsItsOwn(t *testing.T) {
	t.Parallel()
	r := compiled(t, wanting(airworthiness.RequirementRow{Item: "belt", Quantity: "each-front-seat"}))
	a := known(units("belt", []int{1}, []int{2})...)
	a.FrontSeats = airworthiness.Given(1)
	if got, _ := outcome(t, r, world{aircraft: a, defects: failing("a"), flight: dated()}, "want"); got != airworthiness.OutcomeBreached {
		t.Errorf("the front harness out, the rear one working: %s", got)
	}
}

// TestAWholeSystem holds the rows that want all of a system, as position lights are wanted (14 CFR 91.205(c)(2)).
func TestAWholeSystem(t *testing.T) {
	t.Parallel()
	lamps := units("lamp", nil, nil, nil)
	passed, unknown, breached := airworthiness.OutcomePassed, airworthiness.OutcomeUnknown, airworthiness.OutcomeBreached
	cases := []struct {
		name     string
		row      airworthiness.RequirementRow
		units    []airworthiness.Unit
		defects  []airworthiness.Defect
		complete airworthiness.Truth
		want     airworthiness.Outcome
	}{
		{"all work", airworthiness.RequirementRow{Quantity: "all"}, lamps, nil, airworthiness.Yes, passed},
		{"one out", airworthiness.RequirementRow{Quantity: "all"}, lamps, failing("b"), airworthiness.Yes, breached},
		{"one taken out", airworthiness.RequirementRow{Quantity: "all"}, lamps, []airworthiness.Defect{removed("b")}, airworthiness.Yes, breached},
		{"none on a complete record", airworthiness.RequirementRow{Quantity: "all"}, nil, nil, airworthiness.Yes, breached},
		{"none on an incomplete record", airworthiness.RequirementRow{Quantity: "all"}, nil, nil, airworthiness.Unknown, unknown},
		{"equipped, one taken out", equipped, lamps, []airworthiness.Defect{removed("b")}, airworthiness.Yes, passed},
		{"equipped, one taken out, one out", equipped, lamps, append(failing("a"), removed("b")), airworthiness.Yes, breached},
		{"equipped, all taken out", equipped, lamps, []airworthiness.Defect{removed("a"), removed("b"), removed("c")}, airworthiness.Yes, passed},
		{"equipped, one out", equipped, lamps, failing("a"), airworthiness.Yes, breached},
		{"not equipped", equipped, nil, nil, airworthiness.Yes, passed},
		{"not known to be equipped", equipped, nil, nil, airworthiness.Unknown, unknown},
	}
	for _, c := range cases {
		c.row.Item = "lamp"
		r := compiled(t, wanting(c.row))
		a := known(c.units...)
		a.UnitsComplete = c.complete
		if got, _ := outcome(t, r, world{aircraft: a, defects: c.defects, flight: dated()}, "want"); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// equipped binds an aircraft that has the system at all, as 14 CFR 91.209(b) does.
var equipped = airworthiness.RequirementRow{Quantity: "all-installed", When: "installed:lamp"}

// TestPersons holds the rows that want as much as there are persons, as belts are wanted (14 CFR 91.205(b)(13)).
func TestPersons(t *testing.T) {
	t.Parallel()
	open := airworthiness.Fact[int]{}
	number := airworthiness.Given[int]
	passed, unknown, breached := airworthiness.OutcomePassed, airworthiness.OutcomeUnknown, airworthiness.OutcomeBreached
	each := [][]int{{1}, {2}, {3}, {4}}
	cases := []struct {
		name          string
		quantity      string
		serves        [][]int
		fails         string
		seats, aboard airworthiness.Fact[int]
		want          airworthiness.Outcome
	}{
		{"a belt for each", "each-occupant", each, "", number(4), number(4), passed},
		{"an empty seat without a belt", "each-occupant", each, "d", number(4), number(3), passed},
		{"a person without a belt", "each-occupant", each, "d", number(4), number(4), breached},
		{"nobody has said how many, every seat has one", "each-occupant", each, "", number(4), open, passed},
		{"nobody has said how many, one seat has none", "each-occupant", each, "d", number(4), open, unknown},
		{"nobody has said how many seats", "each-occupant", each, "", open, open, unknown},
		{"a set for four seats", "each-occupant", [][]int{{1, 2, 3, 4}}, "", number(4), number(4), passed},
		{"two at one seat serve one", "each-occupant", [][]int{{1}, {1}}, "", number(2), number(2), breached},
		{"not said which seat", "each-occupant", [][]int{nil, nil}, "", number(2), number(2), passed},
		{"fewer than nobody", "each-occupant", each, "d", number(4), number(-3), unknown},
		{"more than can be counted", "each-occupant", each, "", number(4), number(math.MaxInt32 + 2), breached},
		{"a seat count below nought", "each-occupant", each, "", number(-1), open, unknown},
		{"infants need no seat", "each-person", each, "", number(4), open, unknown},
		{"infants count", "each-person", each, "", number(4), number(5), breached},
		{"required crew", "each-required-crew", each, "bcd", number(4), number(1), passed},
		{"required crew without", "each-required-crew", each, "bcd", number(4), number(2), breached},
	}
	for _, c := range cases {
		r := compiled(t, wanting(airworthiness.RequirementRow{Item: "belt", Quantity: c.quantity}))
		a := known(units("belt", c.serves...)...)
		a.Seats = c.seats
		f := dated()
		switch c.quantity {
		case "each-occupant":
			f.Occupants = c.aboard
		case "each-person":
			f.Persons = c.aboard
		default:
			f.RequiredCrew = c.aboard
		}
		if got, _ := outcome(t, r, world{aircraft: a, defects: failing(c.fails), flight: f}, "want"); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}

// TestACount holds plain numbers, items that do another's job, and chains of need.
func TestACount(t *testing.T) {
	t.Parallel()
	r := compiled(t, wanting(airworthiness.RequirementRow{Item: "gauge", Quantity: "2"}))
	gauge, display := airworthiness.Unit{ID: "a", Item: "gauge"}, airworthiness.Unit{ID: "b", Item: "display", Needs: []string{"c"}}
	lamp, belt := airworthiness.Unit{ID: "c", Item: "lamp", Needs: []string{"d"}}, airworthiness.Unit{ID: "d", Item: "belt", Also: []string{"gauge"}}
	passed, unknown, breached := airworthiness.OutcomePassed, airworthiness.OutcomeUnknown, airworthiness.OutcomeBreached
	cases := []struct {
		name     string
		units    []airworthiness.Unit
		fails    string
		complete airworthiness.Truth
		want     airworthiness.Outcome
	}{
		{"a display does a gauge's job", []airworthiness.Unit{gauge, display, lamp, belt}, "", airworthiness.Yes, passed},
		{"three for two", []airworthiness.Unit{gauge, display, lamp, belt}, "a", airworthiness.Yes, passed},
		{"the display lacks what it needs", []airworthiness.Unit{gauge, display, lamp, belt}, "ac", airworthiness.Yes, breached},
		{"down the line", []airworthiness.Unit{gauge, display, lamp, belt}, "d", airworthiness.Yes, breached},
		{"one on a complete record", []airworthiness.Unit{gauge}, "", airworthiness.Yes, breached},
		{"one on an incomplete record", []airworthiness.Unit{gauge}, "", airworthiness.Unknown, unknown},
		{"one on a record said to be incomplete", []airworthiness.Unit{gauge}, "", airworthiness.No, unknown},
		{"two on an incomplete record, one out", []airworthiness.Unit{gauge, {ID: "b", Item: "gauge"}}, "a", airworthiness.Unknown, breached},
	}
	for _, c := range cases {
		a := known(c.units...)
		a.UnitsComplete = c.complete
		if got, _ := outcome(t, r, world{aircraft: a, defects: failing(c.fails), flight: dated()}, "want"); got != c.want {
			t.Errorf("%s: %s, want %s", c.name, got, c.want)
		}
	}
}
