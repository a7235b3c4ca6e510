package storetest

import (
	"context"
	"errors"
	"slices"
	"testing"
	"time"

	"tiedown/internal/airworthiness"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// testCounters: each touch counts, and squawks leave the number of the last.
func testCounters(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	c.must(t, func(tx hangar.Tx) {
		tx.Touch(a.ID)
		queueSquawk(tx, newSquawk(b.ID, 1))
		queueSquawk(tx, newSquawk(b.ID, 2))
		tx.Touch(a.ID)
	}, hangar.Want{Aircraft: a.ID}, hangar.Want{Aircraft: b.ID})
	c.must(t, func(tx hangar.Tx) { tx.Touch(b.ID) })
	for _, want := range []struct {
		aircraft         techlog.Aircraft
		touched, squawks int
	}{{a, 2, 0}, {b, 1, 2}} {
		snap := get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, hangar.Want{Aircraft: want.aircraft.ID}))
		if got := snap.Aircraft.StateVersion - want.aircraft.StateVersion; got != want.touched {
			t.Errorf("touched %d times, counted %d", want.touched, got)
		}
		if snap.Squawked != want.squawks {
			t.Errorf("%d squawks, counted %d", want.squawks, snap.Squawked)
		}
		if n := get[int](t)(c.store.StateVersion(t.Context(), c.org, want.aircraft.ID)); n != snap.Aircraft.StateVersion {
			t.Errorf("the state version is %d in one read and %d in the other", n, snap.Aircraft.StateVersion)
		}
		want.aircraft.StateVersion = snap.Aircraft.StateVersion
		same(t, "otherwise", snap.Aircraft, want.aircraft)
	}
}

// testHolds stores holds of every verdict at once, with rows that are hard to write down.
func testHolds(t *testing.T, c *club) {
	a := c.addAircraft(t)
	rows := [][]string{nil, {"one"}, {"", " ", `"`, `\`, "NULL", "a,b", "{c}", "line\nline"}, {"é", "灯"}, {"x", "y", "z"}}
	var flights []techlog.Flight
	for range airworthiness.Verdicts() {
		flights = append(flights, c.addFlight(t, newFlight(c, a.ID)))
	}
	untouched := c.addFlight(t, newFlight(c, a.ID))
	several := c.addFlight(t, withReturn(c, newFlight(c, a.ID)))
	for i, verdict := range airworthiness.Verdicts() {
		flights[i].Hold = techlog.Hold{
			Verdict: verdict.String(), Rows: rows[i], Rules: "book-2", At: noon.Add(time.Duration(i) * time.Second),
		}
		flights[i].Hold = heldBy(flights[i].Hold)
	}
	several.Hold.Verdict, several.Hold.Rows = "grounded", rows[2]
	several.Hold.Legs = []techlog.LegHold{{Verdict: "limited"}, {Verdict: "grounded", Rows: rows[2]}}
	flights = append(flights, several)
	c.must(t, func(tx hangar.Tx) { tx.SetHolds(flights) })
	for i := range flights {
		flights[i].Sequence = 2 // a hold that changes counts, though no version does
	}
	flights = append(slices.Clone(flights[:len(flights)-1]), untouched, flights[len(flights)-1])
	got := get[[]techlog.Flight](t)(c.store.Flights(t.Context(), c.org, hangar.FlightFilter{}, hangar.Page{Limit: 99}))
	same(t, "flights, versions as they were", got, flights)

	flights[0].Hold.Verdict = "fine"
	wantFault(t, "an unknown verdict", c.change(t, func(tx hangar.Tx) { tx.SetHolds(flights[:1]) }), "hold.verdict")
	c.must(t, func(tx hangar.Tx) { tx.SetHolds(nil) })
}

// testHoldsOfAMovedFlight: a flight that was moved to other aircraft while a change was judging it keeps the hold that
// the move gave it, and the change is run again on what its aircraft has now.
func testHoldsOfAMovedFlight(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	f := c.addFlight(t, newFlight(c, a.ID))
	stays := c.addFlight(t, newFlight(c, a.ID))
	runs := 0
	scope := hangar.Scope{Organization: c.org, At: noon, Lock: []hangar.Want{{Aircraft: a.ID, FlightsFrom: noon}}}
	_, err := c.store.Change(t.Context(), scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		runs++
		flights := tx.Snapshot(0).Flights
		if runs == 1 {
			f.Aircraft, f.Version, f.Sequence, f.Hold.Verdict, f.Hold.Rules = b.ID, 2, 2, "clear", "of the move"
			f.Hold = heldBy(f.Hold)
			c.must(t, func(tx hangar.Tx) { tx.UpdateFlight(f) })
		}
		for i := range flights {
			flights[i].Hold.Rules = "of the change"
		}
		tx.SetHolds(flights)
		tx.Touch(a.ID)
		return nil, nil
	})
	if err != nil || runs != 2 {
		t.Fatalf("%d runs, %v; want 2", runs, err)
	}
	same(t, "the moved flight", get[techlog.Flight](t)(c.store.Flight(t.Context(), c.org, f.ID)), f)
	stays.Hold.Rules, stays.Sequence = "of the change", 2
	same(t, "the flight that stays", get[techlog.Flight](t)(c.store.Flight(t.Context(), c.org, stays.ID)), stays)
	if n := get[int](t)(c.store.StateVersion(t.Context(), c.org, a.ID)); n != a.StateVersion+1 {
		t.Errorf("the touch counted %d times", n-a.StateVersion)
	}
}

// trace is everything a change can write.
func (c *club) trace(tx hangar.Tx, a techlog.Aircraft) {
	base := newBase("N00X")
	tx.AddBase(base)
	queueAircraft(tx, newAircraft(base.ID))
	queueSquawk(tx, newSquawk(a.ID, 1))
	tx.AddFlight(newFlight(c, a.ID))
	tx.Touch(a.ID)
	tx.Emit(techlog.Event{
		ID: newID(), Kind: "squawk.filed", Aircraft: a.ID, Subject: newID(), At: noon,
		Changes: []techlog.HoldChange{{Flight: newID(), Was: "clear", Is: "grounded"}},
	})
	tx.Emit(techlog.Event{ID: newID(), Kind: "base.added", Subject: base.ID, At: noon})
}

// wantNoTrace fails unless the club has what newClub gave it, and one aircraft.
func (c *club) wantNoTrace(t *testing.T, a techlog.Aircraft) {
	t.Helper()
	page := hangar.Page{Limit: 99}
	same(t, "bases", get[[]techlog.Base](t)(c.store.Bases(t.Context(), c.org, page)), []techlog.Base{c.base, c.other})
	same(t, "fleet", get[[]techlog.Aircraft](t)(c.store.Fleet(t.Context(), c.org, page)), []techlog.Aircraft{a})
	same(t, "squawks", get[[]techlog.Squawk](t)(c.store.Squawks(t.Context(), c.org, hangar.SquawkFilter{}, page)), []techlog.Squawk{})
	same(t, "flights", get[[]techlog.Flight](t)(c.store.Flights(t.Context(), c.org, hangar.FlightFilter{}, page)), []techlog.Flight{})
	if n := get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, hangar.Want{Aircraft: a.ID})).Squawked; n != 0 {
		t.Errorf("%d squawks are counted", n)
	}
}

func testFailedChange(t *testing.T, c *club) {
	a := c.addAircraft(t)
	because := errors.New("second thoughts")
	_, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon, Lock: []hangar.Want{{Aircraft: a.ID}}},
		func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			c.trace(tx, a)
			return []byte("answer"), because
		})
	if !errors.Is(err, because) {
		t.Errorf("%v, want the change's own error", err)
	}
	c.wantNoTrace(t, a)
	c.must(t, func(tx hangar.Tx) { c.trace(tx, a) }, hangar.Want{Aircraft: a.ID}) // nothing is left locked
}

// testRefusedWrite lets the last of several writes fail.
func testRefusedWrite(t *testing.T, c *club) {
	a := c.addAircraft(t)
	err := c.change(t, func(tx hangar.Tx) {
		c.trace(tx, a)
		tx.AddBase(newBase(c.base.Code))
	})
	wantKind(t, "a change that ends in a conflict", err, techlog.KindConflict)
	c.wantNoTrace(t, a)
	c.must(t, func(tx hangar.Tx) { c.trace(tx, a) }, hangar.Want{Aircraft: a.ID})
}

func testPanickingChange(t *testing.T, c *club) {
	a := c.addAircraft(t)
	func() {
		defer func() {
			if p := recover(); p != "out of fuel" {
				t.Errorf("recovered %v, want the change's own panic", p)
			}
		}()
		_ = c.change(t, func(tx hangar.Tx) {
			c.trace(tx, a)
			panic("out of fuel")
		}, hangar.Want{Aircraft: a.ID})
	}()
	c.wantNoTrace(t, a)
	c.must(t, func(tx hangar.Tx) { c.trace(tx, a) }, hangar.Want{Aircraft: a.ID})
}

// testInterrupted: whoever goes away is told so, at any point, and leaves nothing.
func testInterrupted(t *testing.T, c *club) {
	a := c.addAircraft(t)
	gone, cancel := context.WithCancel(t.Context())
	scope := hangar.Scope{Organization: c.org, At: noon, Lock: []hangar.Want{{Aircraft: a.ID}}}
	_, err := c.store.Change(gone, scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		c.trace(tx, a)
		cancel()
		return nil, nil
	})
	if !errors.Is(err, context.Canceled) || techlog.KindOf(err) != "" {
		t.Errorf("interrupted while changing: %v", err)
	}
	_, err = c.store.Change(gone, scope, func(context.Context, hangar.Tx) ([]byte, error) { return nil, nil })
	if !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted before changing: %v", err)
	}
	_, err = c.store.Base(gone, c.org, c.base.ID)
	if !errors.Is(err, context.Canceled) {
		t.Errorf("interrupted while reading: %v", err)
	}
	c.wantNoTrace(t, a)
	c.must(t, func(tx hangar.Tx) { c.trace(tx, a) }, hangar.Want{Aircraft: a.ID})
}
