package storetest

import (
	"context"
	"crypto/sha256"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// testCalendarFeeds holds whom a calendar's secret leads where, from its making to its end.
func testCalendarFeeds(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	c.addMember(t, techlog.Administrator)
	maker, leaver := c.addMember(t, techlog.Pilot), c.addMember(t, techlog.Mechanic)
	a := c.addAircraft(t)
	add := func(name string, aircraft techlog.ID, by techlog.Member) techlog.CalendarFeed {
		t.Helper()
		f := techlog.CalendarFeed{ID: newID(), Name: name, Aircraft: aircraft, Maker: by.Person, MadeAt: noon}
		c.must(t, func(tx hangar.Tx) { tx.AddCalendarFeed(f, sha256.Sum256([]byte(name))) })
		return f
	}
	fleet, one, left := add("the fleet", techlog.ID{}, maker), add("one", a.ID, maker), add("of one who leaves", a.ID, leaver)
	page := hangar.Page{Limit: 9}
	list := get[[]techlog.CalendarFeed](t)
	same(t, "all", list(c.store.CalendarFeeds(ctx, c.org, techlog.ID{}, page)), []techlog.CalendarFeed{fleet, one, left})
	same(t, "the maker's", list(c.store.CalendarFeeds(ctx, c.org, maker.Person, page)), []techlog.CalendarFeed{fleet, one})
	same(t, "the second page", list(c.store.CalendarFeeds(ctx, c.org, techlog.ID{}, hangar.Page{Limit: 1, After: fleet.ID})), []techlog.CalendarFeed{one})
	same(t, "another organization's", len(list(c.store.CalendarFeeds(ctx, other.org, techlog.ID{}, page))), 0)

	leadsTo := func(name string, want techlog.CalendarFeed) {
		t.Helper()
		org, f, err := c.store.CalendarFeed(ctx, sha256.Sum256([]byte(name)))
		if err != nil || org != c.org {
			t.Errorf("%s leads to %s, %v", name, org, err)
		}
		same(t, name, f, want)
	}
	leadsNowhere := func(what, name string) {
		t.Helper()
		org, _, err := c.store.CalendarFeed(ctx, sha256.Sum256([]byte(name)))
		wantKind(t, what, err, techlog.KindNotFound)
		if !org.IsZero() {
			t.Errorf("%s leads to %s", what, org)
		}
	}
	leadsTo("the fleet", fleet)
	leadsTo("one", one)
	leadsTo("of one who leaves", left)
	leadsNowhere("a secret that is none", "another")

	wantKind(t, "taken back by another", other.change(t, func(tx hangar.Tx) { tx.RevokeCalendarFeed(one.ID, noon) }), techlog.KindNotFound)
	wantKind(t, "of another's aircraft", other.change(t, func(tx hangar.Tx) {
		tx.AddCalendarFeed(techlog.CalendarFeed{ID: newID(), Name: "spy", Aircraft: a.ID, Maker: maker.Person, MadeAt: noon}, [32]byte{1})
	}), techlog.KindNotFound)
	c.must(t, func(tx hangar.Tx) { tx.RevokeCalendarFeed(one.ID, noon) })
	leadsNowhere("what was taken back", "one")
	wantKind(t, "taken back again", c.change(t, func(tx hangar.Tx) { tx.RevokeCalendarFeed(one.ID, noon) }), techlog.KindConflict)
	one.Revoked = noon
	same(t, "as it is listed", list(c.store.CalendarFeeds(ctx, c.org, maker.Person, page)), []techlog.CalendarFeed{fleet, one})
	leaver.Until, leaver.Version = noon, 2
	if err := c.updateMember(t, leaver); err != nil {
		t.Fatal(err)
	}
	leadsNowhere("what somebody made who has left", "of one who leaves")
	leadsTo("the fleet", fleet)
}

// testFlightsBetween holds which flights fall into a time, to the instant, planned and called off.
func testFlightsBetween(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	flight := func(aircraft techlog.ID, departs time.Duration, state techlog.FlightState) techlog.Flight {
		f := newFlight(c, aircraft)
		f.Departs, f.Arrives, f.State = noon.Add(departs), noon.Add(departs+time.Hour), state
		return c.addFlight(t, f)
	}
	late := flight(a.ID, 3*time.Hour, techlog.Planned)
	off := flight(a.ID, 2*time.Hour, techlog.Cancelled)
	early := flight(a.ID, time.Hour, techlog.Planned)
	others := flight(b.ID, 2*time.Hour+time.Minute, techlog.Planned)
	for _, q := range []struct {
		what        string
		aircraft    techlog.ID
		from, until time.Duration
		limit       int
		want        []techlog.Flight
	}{
		{"all", techlog.ID{}, 0, 9 * time.Hour, 9, []techlog.Flight{early, off, others, late}},
		{"of one aircraft", a.ID, 0, 9 * time.Hour, 9, []techlog.Flight{early, off, late}},
		{"the first two", techlog.ID{}, 0, 9 * time.Hour, 2, []techlog.Flight{early, off}},
		{"that end later than one ends", a.ID, 2 * time.Hour, 9 * time.Hour, 9, []techlog.Flight{off, late}},
		{"that depart before one departs", a.ID, 0, 3 * time.Hour, 9, []techlog.Flight{early, off}},
		{"none", a.ID, 4 * time.Hour, 9 * time.Hour, 9, []techlog.Flight{}},
	} {
		got := get[[]techlog.Flight](t)(c.store.FlightsBetween(t.Context(), c.org, q.aircraft, noon.Add(q.from), noon.Add(q.until), q.limit))
		same(t, q.what, got, q.want)
	}
	same(t, "another's", len(get[[]techlog.Flight](t)(c.store.FlightsBetween(t.Context(), c.neighbor(t).org, techlog.ID{}, noon, noon.AddDate(1, 0, 0), 9))), 0)
}

// testTouched holds that what a change wrote is found by its instant and its aircraft, and nothing else is.
func testTouched(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	reported, later := noon.Add(time.Hour), noon.Add(3*time.Hour) // when the history of a new squawk begins here
	early, moves, others := c.addFlight(t, newFlight(c, a.ID)), c.addFlight(t, newFlight(c, a.ID)), c.addFlight(t, newFlight(c, b.ID))
	first, second := c.addSquawk(t, newSquawk(a.ID, 1)), c.addSquawk(t, newSquawk(b.ID, 1))
	scope := hangar.Scope{Organization: c.org, By: "S. Cheduler", At: later}
	moves.Aircraft, moves.Version, moves.Sequence, moves.ChangedAt = b.ID, 2, 2, later
	_, err := c.store.Change(t.Context(), scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		tx.UpdateFlight(moves)
		return nil, nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range []struct {
		what    string
		t       hangar.Touch
		filter  hangar.FlightFilter
		flights []techlog.Flight
		squawks []techlog.Squawk
	}{
		{"at first, of one", hangar.Touch{Moments: []time.Time{noon, reported}, Aircraft: []techlog.ID{a.ID}}, hangar.FlightFilter{}, []techlog.Flight{early}, []techlog.Squawk{first}},
		{"at first, of both", hangar.Touch{Moments: []time.Time{noon, reported}, Aircraft: []techlog.ID{a.ID, b.ID}}, hangar.FlightFilter{}, []techlog.Flight{early, others}, []techlog.Squawk{first, second}},
		{"later", hangar.Touch{Moments: []time.Time{later}, Aircraft: []techlog.ID{a.ID, b.ID}}, hangar.FlightFilter{}, []techlog.Flight{moves}, []techlog.Squawk{}},
		{"ever", hangar.Touch{Moments: []time.Time{noon, reported, later}, Aircraft: []techlog.ID{b.ID}}, hangar.FlightFilter{}, []techlog.Flight{others, moves}, []techlog.Squawk{second}},
		{"that are picked", hangar.Touch{Moments: []time.Time{noon, reported, later}, Aircraft: []techlog.ID{b.ID}}, hangar.FlightFilter{State: techlog.Cancelled}, []techlog.Flight{}, []techlog.Squawk{second}},
		{"of nothing", hangar.Touch{Moments: []time.Time{noon, reported}}, hangar.FlightFilter{}, []techlog.Flight{}, []techlog.Squawk{}},
		{"at no time", hangar.Touch{Aircraft: []techlog.ID{a.ID}}, hangar.FlightFilter{}, []techlog.Flight{}, []techlog.Squawk{}},
	} {
		same(t, q.what, get[[]techlog.Flight](t)(c.store.FlightsTouched(t.Context(), c.org, q.filter, q.t)), q.flights)
		same(t, q.what, get[[]techlog.Squawk](t)(c.store.SquawksTouched(t.Context(), c.org, hangar.SquawkFilter{}, q.t)), q.squawks)
	}
	ever := hangar.Touch{Moments: []time.Time{noon, reported, later}, Aircraft: []techlog.ID{a.ID, b.ID}}
	other := c.neighbor(t)
	same(t, "a neighbor's", len(get[[]techlog.Flight](t)(c.store.FlightsTouched(t.Context(), other.org, hangar.FlightFilter{}, ever))), 0)
	same(t, "a neighbor's", len(get[[]techlog.Squawk](t)(c.store.SquawksTouched(t.Context(), other.org, hangar.SquawkFilter{}, ever))), 0)
}
