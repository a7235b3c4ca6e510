package storetest

import (
	"context"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// history gives an aircraft squawks in every state and flights around an instant. It returns those that a snapshot
// with flights from that instant has to hold.
func (c *club) history(t *testing.T, aircraft techlog.ID, from time.Time) ([]techlog.Squawk, []techlog.Flight) {
	t.Helper()
	reported := c.addSquawk(t, newSquawk(aircraft, 1))
	held := c.addSquawk(t, newSquawk(aircraft, 2))
	closed := c.addSquawk(t, newSquawk(aircraft, 3))
	held, closed = deferred(held, newDeferral()), moved(closed, techlog.Closed)
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(held)
		tx.AddHistory(entryOf(held, techlog.StepDefer))
		tx.UpdateSquawk(closed)
		tx.AddHistory(entryOf(closed, techlog.StepClose))
	})
	var flights []techlog.Flight
	for _, end := range []time.Duration{-time.Hour, 0, time.Microsecond, time.Hour} {
		f := over(c, newFlight(c, aircraft), from.Add(end-2*time.Hour), from.Add(end))
		if c.addFlight(t, f); end > 0 {
			flights = append(flights, f)
		}
	}
	cancelled := newFlight(c, aircraft)
	cancelled.State = techlog.Cancelled
	c.addFlight(t, cancelled)
	return []techlog.Squawk{reported, held}, flights
}

// testSnapshot reads the same aircraft outside and inside a change.
func testSnapshot(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	squawks, flights := c.history(t, a.ID, noon)
	c.history(t, b.ID, noon)
	want := hangar.Want{Aircraft: a.ID, FlightsFrom: noon}

	check := func(what string, snap hangar.Snapshot, flights []techlog.Flight) {
		t.Helper()
		same(t, what+": aircraft", snap.Aircraft, a)
		same(t, what+": squawks", snap.Squawks, squawks)
		if len(flights)+len(snap.Flights) > 0 {
			same(t, what+": flights", snap.Flights, flights)
		}
		if snap.PlanKnown || snap.Squawked != 3 {
			t.Errorf("%s: plan known %v, %d squawks ever; want false, 3", what, snap.PlanKnown, snap.Squawked)
		}
	}
	check("read", get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, want)), flights)
	check("read without flights", get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, hangar.Want{Aircraft: a.ID})), nil)
	c.must(t, func(tx hangar.Tx) { check("locked", *tx.Snapshot(0), flights) }, want)
	c.must(t, func(tx hangar.Tx) { check("locked without flights", *tx.Snapshot(0), nil) }, hangar.Want{Aircraft: a.ID})
}

// testSnapshotOfKnownPlan leaves out facts and configuration if, and only if, they are what the caller has.
func testSnapshotOfKnownPlan(t *testing.T, c *club) {
	a := c.addAircraft(t)
	for _, known := range []int{0, a.PlanVersion - 1, a.PlanVersion, a.PlanVersion + 1} {
		want := hangar.Want{Aircraft: a.ID, KnownPlan: known}
		expected := a
		if known == a.PlanVersion {
			expected.Facts, expected.Configuration = casefile.Facts{}, casefile.Configuration{}
		}
		check := func(how string, snap hangar.Snapshot) {
			t.Helper()
			same(t, how, snap.Aircraft, expected)
			if snap.PlanKnown != (known == a.PlanVersion) {
				t.Errorf("%s: plan %d of %d is known: %v", how, known, a.PlanVersion, snap.PlanKnown)
			}
		}
		check("read", get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, want)))
		c.must(t, func(tx hangar.Tx) { check("locked", *tx.Snapshot(0)) }, want)
	}
}

// testLockedSnapshot asks for several aircraft, in neither order of their identifiers.
func testLockedSnapshot(t *testing.T, c *club) {
	a, b, d := c.addAircraft(t), c.addAircraft(t), c.addAircraft(t)
	asked := []techlog.Aircraft{b, d, a, b}
	var wants []hangar.Want
	for _, aircraft := range asked {
		wants = append(wants, hangar.Want{Aircraft: aircraft.ID})
	}
	c.must(t, func(tx hangar.Tx) {
		for i := range asked {
			same(t, "in the order of the scope", tx.Snapshot(i).Aircraft, asked[i])
		}
	}, wants...)

	// What f does to a snapshot is its own affair.
	c.must(t, func(tx hangar.Tx) {
		tx.Snapshot(0).Aircraft.Type = "scribbled on"
		if tx.Snapshot(0).Aircraft.Type != "scribbled on" {
			t.Error("the snapshot is another one each time")
		}
	}, wants[0])
	same(t, "as stored", get[techlog.Aircraft](t)(c.store.Aircraft(t.Context(), c.org, b.ID)), b)
}

func testStaleAircraft(t *testing.T, c *club) {
	plan := func(change func(f *techlog.Flight)) techlog.ID {
		a := c.addAircraft(t)
		for range 2 { // an aircraft is named once
			f := newFlight(c, a.ID)
			f = over(c, f, noon.Add(-time.Hour), noon.Add(time.Hour))
			f.Hold.Rules = "old book"
			change(&f)
			c.addFlight(t, f)
		}
		return a.ID
	}
	first := plan(func(*techlog.Flight) {})
	plan(func(f *techlog.Flight) { f.Hold.Rules = "new book" })
	plan(func(f *techlog.Flight) { *f = over(c, *f, noon.Add(-time.Hour), noon) })
	plan(func(f *techlog.Flight) { f.State = techlog.Cancelled })
	second := plan(func(f *techlog.Flight) { f.Hold.Rules = "older book" })
	same(t, "aircraft judged by another book", get[[]techlog.ID](t)(c.store.StaleAircraft(t.Context(), c.org, "new book", noon)), []techlog.ID{first, second})
}

func testFlightsAt(t *testing.T, c *club) {
	a := c.addAircraft(t)
	third := newBase("N00C")
	c.must(t, func(tx hangar.Tx) { tx.AddBase(third) })
	plan := func(from, to techlog.Base, arrives time.Duration, state techlog.FlightState) techlog.Flight {
		f := between(over(c, newFlight(c, a.ID), noon.Add(arrives-time.Hour), noon.Add(arrives)), from, to)
		f.State = state
		return c.addFlight(t, f)
	}
	outbound := plan(third, c.base, time.Hour, techlog.Planned)
	inbound := plan(c.base, third, time.Microsecond, techlog.Planned)
	local := plan(third, third, time.Hour, techlog.Planned)
	through := c.addFlight(t, withReturn(c, between(newFlight(c, a.ID), c.base, third)))
	plan(third, third, 0, techlog.Planned)
	plan(third, third, time.Hour, techlog.Cancelled)
	plan(c.base, c.other, time.Hour, techlog.Planned)
	err := c.within(t.Context(), func(ctx context.Context, tx hangar.Tx) error {
		same(t, "flights at the base", get[[]techlog.Flight](t)(tx.FlightsAt(ctx, third.ID, noon)), []techlog.Flight{outbound, inbound, local, through})
		if n := len(get[[]techlog.Flight](t)(tx.FlightsAt(ctx, newID(), noon))); n > 0 {
			t.Errorf("%d flights at a base that is not there", n)
		}
		return nil
	})
	if err != nil {
		t.Error(err)
	}
}
