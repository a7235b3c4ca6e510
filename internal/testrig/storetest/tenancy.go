package storetest

import (
	"context"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// testTenancy gives two organizations the same kinds of records and asks for each with the other's authority.
func testTenancy(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	aircraft := c.addAircraft(t)
	squawk := c.addSquawk(t, newSquawk(aircraft.ID, 1))
	flight := c.addFlight(t, newFlight(c, aircraft.ID))
	page := hangar.Page{Limit: 99}

	for what, read := range map[string]func() error{
		"base":          func() error { _, err := c.store.Base(ctx, other.org, c.base.ID); return err },
		"aircraft":      func() error { _, err := c.store.Aircraft(ctx, other.org, aircraft.ID); return err },
		"squawk":        func() error { _, err := c.store.Squawk(ctx, other.org, squawk.ID); return err },
		"flight":        func() error { _, err := c.store.Flight(ctx, other.org, flight.ID); return err },
		"state version": func() error { _, err := c.store.StateVersion(ctx, other.org, aircraft.ID); return err },
		"snapshot": func() error {
			_, err := c.store.Snapshot(ctx, other.org, hangar.Want{Aircraft: aircraft.ID})
			return err
		},
		"lock": func() error { return other.change(t, func(hangar.Tx) {}, hangar.Want{Aircraft: aircraft.ID}) },
		"base within a change": func() error {
			return other.within(ctx, func(ctx context.Context, tx hangar.Tx) error { _, err := tx.Base(ctx, c.base.ID); return err })
		},
		"squawk within a change": func() error {
			return other.within(ctx, func(ctx context.Context, tx hangar.Tx) error { _, err := tx.Squawk(ctx, squawk.ID); return err })
		},
		"flight within a change": func() error {
			return other.within(ctx, func(ctx context.Context, tx hangar.Tx) error { _, err := tx.Flight(ctx, flight.ID); return err })
		},
	} {
		wantKind(t, "the other's "+what, read(), techlog.KindNotFound)
	}

	for what, n := range map[string]int{
		"aircraft":       len(get[[]techlog.Aircraft](t)(c.store.Fleet(ctx, other.org, page))),
		"squawks":        len(get[[]techlog.Squawk](t)(c.store.Squawks(ctx, other.org, hangar.SquawkFilter{}, page))),
		"squawks of it":  len(get[[]techlog.Squawk](t)(c.store.Squawks(ctx, other.org, hangar.SquawkFilter{Aircraft: aircraft.ID}, page))),
		"flights":        len(get[[]techlog.Flight](t)(c.store.Flights(ctx, other.org, hangar.FlightFilter{}, page))),
		"entries":        len(get[[]techlog.HistoryEntry](t)(c.store.History(ctx, other.org, squawk.ID))),
		"configurations": len(get[[]techlog.ConfigurationRevision](t)(c.store.Configurations(ctx, other.org, aircraft.ID, page))),
		"stale aircraft": len(get[[]techlog.ID](t)(c.store.StaleAircraft(ctx, other.org, "another book", noon))),
		"bases":          len(get[[]techlog.Base](t)(c.store.Bases(ctx, other.org, page))) - 2, // it has two of its own
	} {
		if n != 0 {
			t.Errorf("it sees %d of the other's %s", n, what)
		}
	}
	same(t, "its own bases", get[[]techlog.Base](t)(c.store.Bases(ctx, other.org, page)), []techlog.Base{other.base, other.other})

	// The same identifiers, codes and registrations in both: neither learns from a conflict what the other has.
	other.must(t, func(tx hangar.Tx) {
		base := c.base
		base.Code, base.Name = "N00Z", "Elsewhere"
		tx.AddBase(base)
		twin := aircraft
		twin.Type = "Heron 4"
		queueAircraft(tx, twin)
		s := squawk
		s.Words = "of another club"
		queueSquawk(tx, s)
		f := flight
		f.From, f.To, f.Purpose = other.base.ID, c.base.ID, "of another club"
		tx.AddFlight(f)
	})
	same(t, "the first's aircraft", get[techlog.Aircraft](t)(c.store.Aircraft(ctx, c.org, aircraft.ID)), aircraft)
	same(t, "the first's squawk", get[techlog.Squawk](t)(c.store.Squawk(ctx, c.org, squawk.ID)), squawk)
	same(t, "the first's flight", get[techlog.Flight](t)(c.store.Flight(ctx, c.org, flight.ID)), flight)

	// An update with the other's authority touches the other's record alone.
	closed := moved(squawk, techlog.Closed)
	closed.Words = "of another club"
	other.must(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(closed)
		tx.AddHistory(entryOf(closed, techlog.StepClose))
		tx.Touch(aircraft.ID)
	})
	same(t, "the first's squawk", get[techlog.Squawk](t)(c.store.Squawk(ctx, c.org, squawk.ID)), squawk)
	if n := get[int](t)(c.store.StateVersion(ctx, c.org, aircraft.ID)); n != aircraft.StateVersion {
		t.Errorf("the other's touch took the state version from %d to %d", aircraft.StateVersion, n)
	}

	// References do not reach over either.
	lone := c.neighbor(t)
	err := lone.change(t, func(tx hangar.Tx) { queueAircraft(tx, newAircraft(c.base.ID)) })
	wantKind(t, "an aircraft at the other's base", err, techlog.KindInvalid)
	err = lone.change(t, func(tx hangar.Tx) { queueSquawk(tx, newSquawk(aircraft.ID, 2)) })
	wantKind(t, "a squawk on the other's aircraft", err, techlog.KindNotFound)
	err = lone.change(t, func(tx hangar.Tx) { tx.AddHistory(entryOf(closed, techlog.StepNote)) })
	wantKind(t, "an entry on the other's squawk", err, techlog.KindNotFound)
}
