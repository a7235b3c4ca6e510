package hangar_test

import (
	"encoding/json"
	"reflect"
	"slices"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestAskingSaysWhatPlanningWould holds that a flight which is only asked about gets the answer that it gets when it is
// planned, word by word, whatever is open, and that asking keeps nothing.
func TestAskingSaysWhatPlanningWould(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	plans := []hangar.FlightPlan{c.flightPlan(24), c.flightPlan(36), c.flightPlan(24)}
	plans[2].Rules = "ifr"
	out, home := plans[0], plans[1]
	plans = append(plans, hangar.FlightPlan{Aircraft: c.aircraft, Rules: "vfr", Facts: out.Facts, Legs: []hangar.LegPlan{
		{From: hangar.PlacePlan{Base: &c.base}, To: hangar.PlacePlan{Base: &c.base}, Departs: out.Departs, Arrives: out.Arrives},
		{From: hangar.PlacePlan{Base: &c.base}, To: hangar.PlacePlan{Base: &c.base}, Departs: home.Departs, Arrives: home.Arrives},
	}})
	agree := func() {
		t.Helper()
		for i, p := range plans {
			asked, err := c.service.Ask(t.Context(), c.who, p)
			if err != nil {
				t.Fatal(err)
			}
			before := len(c.flights())
			answer, err := c.service.PlanFlight(t.Context(), c.who, p, nil, func(f hangar.HeldFlight) ([]byte, error) { return json.Marshal(f.Answers) })
			if err != nil {
				t.Fatal(err)
			}
			var planned []casefile.Answer
			if err := json.Unmarshal(answer, &planned); err != nil {
				t.Fatal(err)
			}
			if again := throughJSON(t, asked.Answers); !reflect.DeepEqual(planned, again) || before+1 != len(c.flights()) {
				t.Errorf("plan %d: asked %s, planned %s", i, again[0].Summary, planned[0].Summary)
			}
		}
	}
	agree()
	c.squawk("inoperative", "position-left", "")
	agree()
	c.squawk("condition", "", "tire")
	agree()

	nowhere := plans[0]
	nowhere.From = newID()
	if _, err := c.service.Ask(t.Context(), c.who, nowhere); techlog.KindOf(err) != techlog.KindInvalid {
		t.Errorf("from nowhere: %v", err)
	}
	if _, err := c.service.Ask(t.Context(), c.join("The other club"), plans[0]); techlog.KindOf(err) != techlog.KindNotFound {
		t.Errorf("another organization: %v", err)
	}
}

func throughJSON(t *testing.T, a []casefile.Answer) []casefile.Answer {
	t.Helper()
	raw, err := json.Marshal(a)
	if err != nil {
		t.Fatal(err)
	}
	var again []casefile.Answer
	if err := json.Unmarshal(raw, &again); err != nil {
		t.Fatal(err)
	}
	return again
}

func (c *club) flights() []techlog.Flight {
	c.t.Helper()
	all, err := c.service.Flights(c.t.Context(), c.who, hangar.FlightFilter{State: techlog.Planned}, hangar.Page{Limit: 200})
	if err != nil {
		c.t.Fatal(err)
	}
	return all
}

// held are the planned flights that may not go.
func (c *club) held() []techlog.ID {
	var held []techlog.ID
	for _, f := range c.flights() {
		if f.Hold.Holds() {
			held = append(held, f.ID)
		}
	}
	return held
}

// TestARepairFreesWhatTheListSays closes each open squawk in turn, for real, and holds that exactly those flights go which
// the list of work says that it frees; and that the list is in the order of that.
func TestARepairFreesWhatTheListSays(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	for _, in := range []float64{20, 26, 32, 44, 50} { // by day and by night
		if _, err := c.service.PlanFlight(t.Context(), c.who, c.flightPlan(in), nil, func(hangar.HeldFlight) ([]byte, error) { return nil, nil }); err != nil {
			t.Fatal(err)
		}
	}
	_, err := c.service.BlockAircraft(t.Context(), c.who, c.aircraft, hangar.BlockPlan{
		From: c.clock().Add(25 * time.Hour), Until: c.clock().Add(27 * time.Hour), Kind: techlog.BlockedForMaintenance, Words: "Booked.",
	}, nil, func(hangar.BlockedAircraft) ([]byte, error) { return nil, nil })
	if err != nil {
		t.Fatal(err)
	}
	first := c.squawk("inoperative", "position-left", "").Squawk // at night required, by day to be deferred
	second := c.squawk("inoperative", "dome-light", "").Squawk   // to be deferred
	c.carryOver(second.ID, techlog.StepDefer, c.paper(first.Label()))
	third := c.squawk("condition", "", "tire").Squawk
	c.check(first, second, third)
	c.carryOver(third.ID, techlog.StepClose, nil)
	c.check(first, second)
	if works, err := c.service.WorkList(t.Context(), c.join("The other club"), techlog.ID{}); err != nil || len(works) != 0 {
		t.Errorf("another organization: %v, %v", works, err)
	}
}

func (c *club) check(open ...techlog.Squawk) {
	c.t.Helper()
	works, err := c.service.WorkList(c.t.Context(), c.who, techlog.ID{})
	if err != nil {
		c.t.Fatal(err)
	}
	if len(works) != len(open) {
		c.t.Fatalf("%d of %d open squawks are listed", len(works), len(open))
	}
	before := c.held()
	for i, w := range works {
		if i > 0 && len(w.Frees) > len(works[i-1].Frees) {
			c.t.Errorf("%s frees more than the one above", w.Squawk.Label())
		}
		paper := w.Squawk.Deferral
		c.carryOver(w.Squawk.ID, techlog.StepClose, nil)
		var freed []techlog.ID
		for _, f := range before {
			if !slices.Contains(c.held(), f) {
				freed = append(freed, f)
			}
		}
		var said []techlog.ID
		for _, f := range w.Frees {
			said = append(said, f.ID)
		}
		sortIDs(freed)
		sortIDs(said)
		if !slices.Equal(freed, said) {
			c.t.Errorf("%s: said to free %v, frees %v", w.Squawk.Label(), said, freed)
		}
		for _, f := range w.Holds {
			if !slices.Contains(before, f.ID) {
				c.t.Errorf("%s holds a flight that is not held", w.Squawk.Label())
			}
		}
		if len(w.Frees) > len(w.Holds) || w.FreeHours > w.HoldHours {
			c.t.Errorf("%s frees more than it holds", w.Squawk.Label())
		}
		c.carryOver(w.Squawk.ID, techlog.StepReopen, nil)
		if paper != nil {
			again := *paper
			c.carryOver(w.Squawk.ID, techlog.StepDefer, &again)
		}
	}
}

func sortIDs(ids []techlog.ID) {
	slices.SortFunc(ids, func(a, b techlog.ID) int { return slices.Compare(a[:], b[:]) })
}
