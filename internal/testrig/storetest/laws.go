package storetest

import (
	"errors"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// wantFault fails unless the error is a fault of a field.
func wantFault(t *testing.T, what string, err error, field string) {
	t.Helper()
	var faults casefile.Faults
	if !errors.As(err, &faults) || len(faults) != 1 || faults[0].Field != field {
		t.Errorf("%s: %v, want a fault of %s", what, err, field)
		return
	}
	if f := faults[0]; f.Rule == "" || f.Says == "" || f.Remedy == "" {
		t.Errorf("%s: the fault %+v lacks its rule, words or remedy", what, f)
	}
}

// testStale updates every kind of record as of another version than the stored one.
func testStale(t *testing.T, c *club) {
	a := c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	f := c.addFlight(t, newFlight(c, a.ID))
	for _, version := range []int{1, 3, 9} {
		base, aircraft, squawk, flight := c.base, a, s, f
		base.Name, base.Version = "Elsewhere", version
		aircraft.Type, aircraft.Version = "Heron 4", version
		squawk = moved(squawk, techlog.Closed)
		squawk.Version = version
		flight.Purpose, flight.Version = "elsewhere", version
		for what, update := range map[string]func(hangar.Tx){
			"base":     func(tx hangar.Tx) { tx.UpdateBase(base) },
			"aircraft": func(tx hangar.Tx) { tx.UpdateAircraft(aircraft) },
			"squawk":   func(tx hangar.Tx) { tx.UpdateSquawk(squawk) },
			"flight":   func(tx hangar.Tx) { tx.UpdateFlight(flight) },
		} {
			// What else the change does is not done either.
			err := c.change(t, func(tx hangar.Tx) {
				tx.Touch(a.ID)
				update(tx)
			})
			wantKind(t, what, err, techlog.KindStale)
		}
	}
	unknown := f
	unknown.ID, unknown.Version = newID(), 2
	wantKind(t, "a flight that is not there", c.change(t, func(tx hangar.Tx) { tx.UpdateFlight(unknown) }), techlog.KindStale)

	same(t, "base", get[techlog.Base](t)(c.store.Base(t.Context(), c.org, c.base.ID)), c.base)
	same(t, "aircraft", get[techlog.Aircraft](t)(c.store.Aircraft(t.Context(), c.org, a.ID)), a)
	same(t, "squawk", get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, s.ID)), s)
	same(t, "flight", get[techlog.Flight](t)(c.store.Flight(t.Context(), c.org, f.ID)), f)
}

func testTaken(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	bearer := techlog.Principal{Organization: c.org, Token: newID(), Name: "P. Lot", Roles: techlog.As(techlog.Pilot)}
	if err := c.keeper.AddToken(t.Context(), bearer, [32]byte{1}); err != nil {
		t.Fatal(err)
	}
	for what, change := range map[string]func(hangar.Tx){
		"code of a new base": func(tx hangar.Tx) { tx.AddBase(newBase(c.base.Code)) },
		"code of a changed base": func(tx hangar.Tx) {
			base := c.base
			base.Code, base.Version = c.other.Code, 2
			tx.UpdateBase(base)
		},
		"registration of new aircraft": func(tx hangar.Tx) {
			d := newAircraft(c.base.ID)
			d.Registration = a.Registration
			queueAircraft(tx, d)
		},
		"registration of changed aircraft": func(tx hangar.Tx) {
			d := b
			d.Registration, d.Version = a.Registration, 2
			tx.UpdateAircraft(d)
		},
		"number of a squawk": func(tx hangar.Tx) { queueSquawk(tx, newSquawk(a.ID, 1)) },
		"identifier":         func(tx hangar.Tx) { tx.AddBase(c.base) },
		"entry of a squawk":  func(tx hangar.Tx) { tx.AddHistory(entryOf(s, techlog.StepNote)) },
	} {
		wantKind(t, what, c.change(t, change), techlog.KindConflict)
	}
	again := bearer
	again.Token = newID()
	wantKind(t, "token", c.keeper.AddToken(t.Context(), again, [32]byte{1}), techlog.KindConflict)
	wantKind(t, "token of another organization", c.keeper.AddToken(t.Context(), techlog.Principal{
		Organization: c.neighbor(t).org, Token: newID(), Name: "P. Lot", Roles: techlog.As(techlog.Pilot),
	}, [32]byte{1}), techlog.KindConflict)
	wantKind(t, "organization", c.keeper.AddOrganization(t.Context(), techlog.Organization{ID: c.org, Name: "Beacon School"}), techlog.KindConflict)
}

func testUnknownReferences(t *testing.T, c *club) {
	a := c.addAircraft(t)
	wantFault(t, "aircraft", c.change(t, func(tx hangar.Tx) { queueAircraft(tx, newAircraft(newID())) }), "base")
	for field, spoil := range map[string]func(*techlog.Flight){
		"from": func(f *techlog.Flight) { f.From = newID() },
		"to":   func(f *techlog.Flight) { f.To = newID() },
	} {
		f := newFlight(c, a.ID)
		spoil(&f)
		wantFault(t, "flight", c.change(t, func(tx hangar.Tx) { tx.AddFlight(f) }), field)
	}
	for what, change := range map[string]func(hangar.Tx){
		"flight":        func(tx hangar.Tx) { tx.AddFlight(newFlight(c, newID())) },
		"squawk":        func(tx hangar.Tx) { queueSquawk(tx, newSquawk(newID(), 1)) },
		"entry":         func(tx hangar.Tx) { tx.AddHistory(entryOf(newSquawk(a.ID, 1), techlog.StepReport)) },
		"configuration": func(tx hangar.Tx) { tx.AddConfiguration(revisionOf(newAircraft(c.base.ID))) },
	} {
		wantKind(t, what, c.change(t, change), techlog.KindNotFound)
	}
	bearer := techlog.Principal{Organization: newID(), Token: newID(), Name: "P. Lot", Roles: techlog.As(techlog.Pilot)}
	wantKind(t, "token", c.keeper.AddToken(t.Context(), bearer, [32]byte{1}), techlog.KindNotFound)
}

// testSquawkNeedsItsEntry: a squawk does not move without a trace.
func testSquawkNeedsItsEntry(t *testing.T, c *club) {
	a := c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	wantKind(t, "move", c.change(t, func(tx hangar.Tx) { tx.UpdateSquawk(moved(s, techlog.Closed)) }), techlog.KindConflict)
	same(t, "squawk", get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, s.ID)), s)
}

// testDeferralLaws leaves out what 14 CFR 91.213(d) asks for, one thing at a time.
func testDeferralLaws(t *testing.T, c *club) {
	a := c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	try := func(s techlog.Squawk) error {
		return c.change(t, func(tx hangar.Tx) {
			tx.UpdateSquawk(s)
			tx.AddHistory(entryOf(s, techlog.StepDefer))
		})
	}
	for field, spoils := range map[string][]func(*techlog.Deferral){
		"deferral.basis":         {func(d *techlog.Deferral) { d.Basis = "" }},
		"deferral.method":        {func(d *techlog.Deferral) { d.Method = "" }, func(d *techlog.Deferral) { d.Method = "ignored" }},
		"deferral.placard":       {func(d *techlog.Deferral) { d.Placard = "" }, func(d *techlog.Deferral) { d.Placard = " \n" }},
		"deferral.entry":         {func(d *techlog.Deferral) { d.Entry = "" }, func(d *techlog.Deferral) { d.Entry = "\t" }},
		"deferral.determined_by": {func(d *techlog.Deferral) { d.DeterminedBy = "" }, func(d *techlog.Deferral) { d.DeterminedBy = " " }},
		"deferral.determined_at": {func(d *techlog.Deferral) { d.DeterminedAt = time.Time{} }},
		"deferral.removed_on":    {func(d *techlog.Deferral) { d.RemovedOn = "yesterday" }, func(d *techlog.Deferral) { d.Method = "deactivated" }},
		"deferral.until":         {func(d *techlog.Deferral) { d.Until = time.Time{} }, func(d *techlog.Deferral) { d.Until = d.DeterminedAt }},
	} {
		for _, spoil := range spoils {
			d := newDeferral()
			spoil(d)
			wantFault(t, asJSON(t, d), try(deferred(s, d)), field)
		}
	}
	wantFault(t, "deferred without a deferral", try(deferred(s, nil)), "deferral")
	for _, state := range []techlog.SquawkState{techlog.Reported, techlog.Closed} {
		held := deferred(s, newDeferral())
		held.State = state
		wantFault(t, "a deferral, but "+string(state), try(held), "deferral")
	}
	same(t, "squawk", get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, s.ID)), s)

	nameless := newSquawk(a.ID, 2)
	nameless.Unit = ""
	c.addSquawk(t, nameless)
	wantFault(t, "nothing is named", try(deferred(nameless, newDeferral())), "deferral")
}

func testOneOpenDeferral(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	squawk := func(aircraft techlog.ID, number int, unit, item string) techlog.Squawk {
		s := newSquawk(aircraft, number)
		s.Unit, s.Item = unit, item
		return c.addSquawk(t, s)
	}
	take := func(s techlog.Squawk, step techlog.SquawkStep) error {
		return c.change(t, func(tx hangar.Tx) {
			tx.UpdateSquawk(s)
			tx.AddHistory(entryOf(s, step))
		})
	}
	first := squawk(a.ID, 1, "landing-light-1", "")
	second := squawk(a.ID, 2, "landing-light-1", "")
	held := deferred(first, newDeferral())
	for what, s := range map[string]techlog.Squawk{
		"first":                  held,
		"another unit":           deferred(squawk(a.ID, 3, "landing-light-2", ""), newDeferral()),
		"an item":                deferred(squawk(a.ID, 4, "", "landing-light-1"), newDeferral()),
		"unit of other aircraft": deferred(squawk(b.ID, 1, "landing-light-1", ""), newDeferral()),
	} {
		if err := take(s, techlog.StepDefer); err != nil {
			t.Errorf("%s: %v", what, err)
		}
	}
	wantKind(t, "the same unit", take(deferred(second, newDeferral()), techlog.StepDefer), techlog.KindConflict)
	wantKind(t, "the same item", take(deferred(squawk(a.ID, 5, "", "landing-light-1"), newDeferral()), techlog.StepDefer), techlog.KindConflict)
	if err := take(moved(held, techlog.Closed), techlog.StepClose); err != nil {
		t.Fatal(err)
	}
	if err := take(deferred(second, newDeferral()), techlog.StepDefer); err != nil {
		t.Errorf("after the first has been closed: %v", err)
	}
}

// testDeferralIsNeverChanged: another placard is another deferral.
func testDeferralIsNeverChanged(t *testing.T, c *club) {
	a := c.addAircraft(t)
	s := c.addSquawk(t, newSquawk(a.ID, 1))
	other := c.addSquawk(t, newSquawk(a.ID, 2))
	take := func(s techlog.Squawk, step techlog.SquawkStep) error {
		return c.change(t, func(tx hangar.Tx) {
			tx.UpdateSquawk(s)
			tx.AddHistory(entryOf(s, step))
		})
	}
	held := deferred(s, newDeferral())
	if err := take(held, techlog.StepDefer); err != nil {
		t.Fatal(err)
	}
	for what, change := range map[string]func(*techlog.Deferral){
		"basis":         func(d *techlog.Deferral) { d.Basis += "." },
		"method":        func(d *techlog.Deferral) { d.Method, d.RemovedOn = "deactivated", "" },
		"placard":       func(d *techlog.Deferral) { d.Placard += "." },
		"entry":         func(d *techlog.Deferral) { d.Entry += "." },
		"determined by": func(d *techlog.Deferral) { d.DeterminedBy += "." },
		"determined at": func(d *techlog.Deferral) { d.DeterminedAt = d.DeterminedAt.Add(time.Microsecond) },
		"removed on":    func(d *techlog.Deferral) { d.RemovedOn = "" },
		"until":         func(d *techlog.Deferral) { d.Until = d.Until.Add(time.Microsecond) },
	} {
		d := *held.Deferral
		change(&d)
		wantKind(t, what, take(deferred(held, &d), techlog.StepNote), techlog.KindConflict)
	}
	wantKind(t, "the deferral of another squawk", take(deferred(other, held.Deferral), techlog.StepDefer), techlog.KindConflict)
	same(t, "squawk", get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, s.ID)), held)

	next := newDeferral()
	next.Placard = "LANDING LIGHT REMOVED"
	held = deferred(held, next)
	if err := take(held, techlog.StepNote); err != nil {
		t.Fatalf("a new deferral in place of the old: %v", err)
	}
	same(t, "squawk", get[techlog.Squawk](t)(c.store.Squawk(t.Context(), c.org, s.ID)), held)
}
