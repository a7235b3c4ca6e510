package storetest

import (
	"context"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func testBases(t *testing.T, c *club) {
	full(t, c.base)
	same(t, "as added", get[techlog.Base](t)(c.store.Base(t.Context(), c.org, c.base.ID)), c.base)

	b := c.base
	b.Code, b.Name, b.Lat, b.Lon, b.Zone, b.Version = "N00C", "South Field", -12.5, 130, "Australia/Darwin", 2
	c.must(t, func(tx hangar.Tx) { tx.UpdateBase(b) })
	same(t, "as changed", get[techlog.Base](t)(c.store.Base(t.Context(), c.org, b.ID)), b)
	same(t, "another base", get[techlog.Base](t)(c.store.Base(t.Context(), c.org, c.other.ID)), c.other)

	_, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon}, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
		same(t, "within a change", get[techlog.Base](t)(tx.Base(ctx, b.ID)), b)
		return nil, nil
	})
	if err != nil {
		t.Error(err)
	}
}

func testAircraft(t *testing.T, c *club) {
	a := c.addAircraft(t)
	full(t, a)
	same(t, "as added", get[techlog.Aircraft](t)(c.store.Aircraft(t.Context(), c.org, a.ID)), a)
	same(t, "in the fleet", get[[]techlog.Aircraft](t)(c.store.Fleet(t.Context(), c.org, hangar.Page{Limit: 9})), []techlog.Aircraft{a})

	bare := newAircraft(c.base.ID)
	bare.Facts, bare.Configuration = casefile.Facts{}, casefile.Configuration{}
	c.must(t, func(tx hangar.Tx) { queueAircraft(tx, bare) })
	same(t, "of which nothing is known", get[techlog.Aircraft](t)(c.store.Aircraft(t.Context(), c.org, bare.ID)), bare)

	was := a
	a.Registration, a.Type, a.Base, a.Version, a.PlanVersion, a.Revision = "N0NEW", "Tern 3", c.other.ID, 2, 4, 2
	a.Facts.Seats, a.Facts.Cooling = new(6), ""
	a.Configuration.Units = a.Configuration.Units[:1]
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateAircraft(a)
		tx.AddConfiguration(revisionOf(a))
	})
	same(t, "as changed", get[techlog.Aircraft](t)(c.store.Aircraft(t.Context(), c.org, a.ID)), a)
	if n := get[int](t)(c.store.StateVersion(t.Context(), c.org, a.ID)); n != was.StateVersion {
		t.Errorf("an update without a touch took the state version from %d to %d", was.StateVersion, n)
	}
}

func testConfigurations(t *testing.T, c *club) {
	a := c.addAircraft(t)
	full(t, revisionOf(a))
	revisions := []techlog.ConfigurationRevision{revisionOf(a)}
	for range 3 {
		a.Version++
		a.Revision++
		a.PlanVersion++
		a.Configuration.Units = append(a.Configuration.Units, casefile.Unit{ID: a.Registration + string(rune('a'+a.Revision)), Item: "ammeter"})
		c.must(t, func(tx hangar.Tx) {
			tx.UpdateAircraft(a)
			tx.AddConfiguration(revisionOf(a))
		})
		revisions = append([]techlog.ConfigurationRevision{revisionOf(a)}, revisions...)
	}
	pages := func(p hangar.Page) []techlog.ConfigurationRevision {
		return get[[]techlog.ConfigurationRevision](t)(c.store.Configurations(t.Context(), c.org, a.ID, p))
	}
	same(t, "newest first", pages(hangar.Page{Limit: 9}), revisions)
	same(t, "first page", pages(hangar.Page{Limit: 3}), revisions[:3])
	same(t, "second page", pages(hangar.Page{Limit: 3, AfterRevision: revisions[2].Revision}), revisions[3:])

	// The aircraft has to have the configuration that it says it has.
	a.Version++
	a.Revision++
	err := c.change(t, func(tx hangar.Tx) { tx.UpdateAircraft(a) })
	wantKind(t, "a revision that is not there", err, techlog.KindConflict)
	err = c.change(t, func(tx hangar.Tx) { tx.AddConfiguration(revisions[1]) })
	wantKind(t, "a revision that is there already", err, techlog.KindConflict)
}

func testSquawks(t *testing.T, c *club) {
	a := c.addAircraft(t)
	s := newSquawk(a.ID, 1)
	s.Item, s.Unit = "landing-light", ""
	c.addSquawk(t, s)
	stored := func() techlog.Squawk { return get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, s.ID)) }
	same(t, "as reported", stored(), s)

	s.Unit, s.Item = "landing-light-1", ""
	s = deferred(s, newDeferral())
	filled := *s.Deferral
	filled.Signature = newID() // those that are signed have a test of their own
	full(t, filled)
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(s)
		tx.AddHistory(entryOf(s, techlog.StepDefer))
	})
	same(t, "as deferred", stored(), s)

	s.Version++ // a note changes nothing else
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(s)
		tx.AddHistory(entryOf(s, techlog.StepNote))
	})
	same(t, "as noted", stored(), s)

	s = moved(s, techlog.Reported)
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(s)
		tx.AddHistory(entryOf(s, techlog.StepReopen))
	})
	same(t, "as reopened", stored(), s)

	again := newDeferral()
	again.Method, again.RemovedOn = "deactivated", ""
	s = deferred(s, again)
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(s)
		tx.AddHistory(entryOf(s, techlog.StepDefer))
	})
	same(t, "as deferred again", stored(), s)

	s.Version++ // nor does it need a date of removal
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(s)
		tx.AddHistory(entryOf(s, techlog.StepNote))
	})
	same(t, "as noted again", stored(), s)

	s = moved(s, techlog.Closed)
	closing := entryOf(s, techlog.StepClose)
	entry := closing
	entry.Signature, entry.Expected = newID(), "2031-06-03" // testExpected has the latter
	full(t, entry)
	c.must(t, func(tx hangar.Tx) {
		tx.UpdateSquawk(s)
		tx.AddHistory(closing)
	})
	same(t, "as closed", stored(), s)

	history := get[[]techlog.HistoryEntry](t)(c.store.History(t.Context(), c.org, s.ID))
	if len(history) != s.Version {
		t.Fatalf("%d entries after %d versions", len(history), s.Version)
	}
	for i, e := range history {
		if e.Number != i+1 {
			t.Errorf("entry %d has the number %d", i+1, e.Number)
		}
	}
	same(t, "the last entry", history[len(history)-1], closing)

	_, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon}, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
		same(t, "within a change", get[techlog.Squawk](t)(tx.Squawk(ctx, s.ID)), s)
		return nil, nil
	})
	if err != nil {
		t.Error(err)
	}
}

func testFlights(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	f := c.addFlight(t, newFlight(c, a.ID))
	full(t, f)
	full(t, f.Hold)
	stored := func(id techlog.ID) techlog.Flight {
		return get[techlog.Flight](t)(c.store.Flight(t.Context(), c.org, id))
	}
	same(t, "as planned", stored(f.ID), f)

	bare := newFlight(c, a.ID)
	bare.Rules, bare.Facts, bare.Purpose, bare.Hold.Rows = "", casefile.FlightFacts{}, "", nil
	bare.Hold = heldBy(bare.Hold)
	leg := bare.Legs[0]
	leg.Light, leg.InAlaska = casefile.Light{}, nil
	bare.Over([]techlog.Leg{leg})
	c.addFlight(t, bare)
	same(t, "of which little is known", stored(bare.ID), bare)

	changed := newFlight(c, b.ID)
	changed.ID, changed.Series, changed.Version = f.ID, f.Series, 2
	out, back := f.Legs[0], f.Legs[0]
	out.From, out.To = out.To, techlog.Spot{Name: "a strip", Lat: 41.0625, Lon: -91.5}
	out.Departs, out.Arrives = f.Departs.AddDate(0, 1, 0), f.Arrives.AddDate(0, 1, 0)
	back.From, back.To, back.Departs, back.Arrives, back.Light.Day, back.InAlaska = out.To, out.From, out.Arrives, out.Arrives.AddDate(0, 0, 1), nil, new(true)
	changed.Over([]techlog.Leg{out, back})
	changed.Rules, changed.Purpose, changed.Zone, changed.PlannedBy = "ifr", "ferry", "Australia/Darwin", "A. Nother"
	changed.Facts = casefile.FlightFacts{Persons: new(3)}
	changed.Hold = techlog.Hold{
		Verdict: "grounded", Rows: []string{"91.209-a"}, Rules: "book-2", At: noon.AddDate(0, 0, 1),
		Legs: []techlog.LegHold{{Verdict: "clear"}, {Verdict: "grounded", Rows: []string{"91.209-a"}}},
	}
	changed.State, changed.Sequence = techlog.Cancelled, 2
	c.must(t, func(tx hangar.Tx) { tx.UpdateFlight(changed) })
	same(t, "as changed", stored(f.ID), changed)
	same(t, "another flight", stored(bare.ID), bare)

	_, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon}, func(ctx context.Context, tx hangar.Tx) ([]byte, error) {
		same(t, "within a change", get[techlog.Flight](t)(tx.Flight(ctx, f.ID)), changed)
		return nil, nil
	})
	if err != nil {
		t.Error(err)
	}
}

func testPeople(t *testing.T, c *club) {
	p := techlog.Principal{Organization: c.org, Token: newID(), Name: "A. Dministrator", Roles: techlog.As(techlog.Administrator)}
	if err := c.keeper.AddToken(t.Context(), p, [32]byte{1}); err != nil {
		t.Fatal(err)
	}
	for i, role := range techlog.Roles() {
		every := techlog.Principal{Organization: c.org, Token: newID(), Name: "somebody", Roles: techlog.As(role)}
		if err := c.keeper.AddToken(t.Context(), every, [32]byte{2, byte(i)}); err != nil {
			t.Errorf("role %s: %v", role, err)
		}
	}
	same(t, "the bearer", get[techlog.Principal](t)(c.store.Authenticate(t.Context(), [32]byte{1})), p)
	_, err := c.store.Authenticate(t.Context(), [32]byte{3})
	wantKind(t, "a token that nobody bears", err, techlog.KindUnauthorized)
	_, err = c.store.Authenticate(t.Context(), [32]byte{})
	wantKind(t, "no token", err, techlog.KindUnauthorized)

	o := techlog.Organization{ID: newID(), Name: "Beacon School"}
	full(t, o)
	if err := c.keeper.AddOrganization(t.Context(), o); err != nil {
		t.Fatal(err)
	}
	all := get[[]techlog.Organization](t)(c.keeper.Organizations(t.Context()))
	same(t, "every organization", all, []techlog.Organization{{ID: c.org, Name: "Windsock Flyers"}, o})
}
