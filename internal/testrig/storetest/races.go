package storetest

import (
	"context"
	"sync"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// testMovedBase: a flight that is planned while its base is being moved is seen by whoever moves the base, however the
// two fall together.
func testMovedBase(t *testing.T, c *club) {
	a := c.addAircraft(t)
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	moving := make(chan struct{})
	seen := -1
	var mover sync.WaitGroup
	move := func() {
		err := c.within(ctx, func(ctx context.Context, tx hangar.Tx) error {
			if _, err := tx.Base(ctx, c.base.ID); err != nil {
				return err
			}
			close(moving)
			flights, err := tx.FlightsAt(ctx, c.base.ID, noon)
			seen = len(flights)
			return err
		})
		if err != nil {
			t.Error(err)
		}
	}
	err := c.within(ctx, func(ctx context.Context, tx hangar.Tx) error {
		if _, err := tx.Base(ctx, c.base.ID); err != nil {
			return err
		}
		mover.Go(move)
		<-moving
		tx.AddFlight(newFlight(c, a.ID))
		return nil
	})
	mover.Wait()
	if err != nil {
		t.Fatal(err)
	}
	if seen != 1 {
		t.Errorf("who moves the base sees %d flights, want 1", seen)
	}
}

// testDeadlock has two changes each wait for what the other holds: one of them is run again, and both are done.
func testDeadlock(t *testing.T, c *club) {
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	var both sync.WaitGroup
	both.Add(2)
	together(2, func(int) {
		runs := 0
		err := c.within(ctx, func(ctx context.Context, tx hangar.Tx) error {
			b, err := tx.Base(ctx, c.base.ID)
			if err != nil {
				return err
			}
			if runs++; runs == 1 {
				both.Done()
				both.Wait() // now both keep the base from being changed
			}
			if _, err := tx.FlightsAt(ctx, b.ID, noon); err != nil {
				return err
			}
			b.Version++
			tx.UpdateBase(b)
			return nil
		})
		if err != nil {
			t.Error(err)
		}
	})
	if got := get[techlog.Base](t)(c.store.Base(t.Context(), c.org, c.base.ID)); got.Version != 3 {
		t.Errorf("two changes made it version %d", got.Version)
	}
}

// testEndlessConflict lets every run of a change be overtaken: it ends, and says that nothing was written.
func testEndlessConflict(t *testing.T, c *club) {
	a := c.addAircraft(t)
	f := c.addFlight(t, newFlight(c, a.ID))
	runs := 0
	scope := hangar.Scope{Organization: c.org, At: noon, Lock: []hangar.Want{{Aircraft: a.ID, FlightsFrom: noon}}}
	_, err := c.store.Change(t.Context(), scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		if runs++; runs > 100 {
			t.Fatal("the change is run for ever")
		}
		f.Version++
		f.Sequence++
		c.must(t, func(tx hangar.Tx) { tx.UpdateFlight(f) })
		tx.SetHolds(tx.Snapshot(0).Flights)
		tx.Touch(a.ID)
		return nil, nil
	})
	wantKind(t, "a change that is always overtaken", err, techlog.KindUnavailable)
	same(t, "the flight", get[techlog.Flight](t)(c.store.Flight(t.Context(), c.org, f.ID)), f)
	if n := get[int](t)(c.store.StateVersion(t.Context(), c.org, a.ID)); n != a.StateVersion {
		t.Errorf("%d touches are counted", n-a.StateVersion)
	}
}

// testOneInstant reads snapshots while squawks are filed: each has as many squawks as touches.
func testOneInstant(t *testing.T, c *club) {
	a := c.addAircraft(t)
	const filed = 60
	done := make(chan struct{})
	go func() {
		defer close(done)
		for i := range filed {
			err := c.change(t, func(tx hangar.Tx) {
				queueSquawk(tx, newSquawk(a.ID, i+1))
				tx.AddFlight(newFlight(c, a.ID))
				tx.Touch(a.ID)
			}, hangar.Want{Aircraft: a.ID})
			if err != nil {
				t.Error(err)
				return
			}
		}
	}()
	defer func() { <-done }()
	for reading := true; reading; {
		select {
		case <-done:
			reading = false
		default:
		}
		snap := get[hangar.Snapshot](t)(c.store.Snapshot(t.Context(), c.org, hangar.Want{Aircraft: a.ID, FlightsFrom: noon}))
		touched := snap.Aircraft.StateVersion - a.StateVersion
		if snap.Squawked != touched || len(snap.Squawks) != touched || len(snap.Flights) != touched {
			t.Fatalf("after %d changes: %d squawks are counted, %d seen, %d flights", touched, snap.Squawked, len(snap.Squawks), len(snap.Flights))
		}
	}
}

// testLockedSnapshotIsFresh: a change that has waited for its aircraft finds what it was waiting for.
func testLockedSnapshotIsFresh(t *testing.T, c *club) {
	a := c.addAircraft(t)
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	want := hangar.Want{Aircraft: a.ID, KnownPlan: a.PlanVersion, FlightsFrom: noon}
	scope := hangar.Scope{Organization: c.org, At: noon, Lock: []hangar.Want{want}}
	s, f := newSquawk(a.ID, 1), newFlight(c, a.ID)
	changed := a
	changed.Version, changed.Revision, changed.PlanVersion = 2, 2, a.PlanVersion+1
	changed.Configuration.Units = nil
	changed.Facts.Seats = new(1)
	begun := make(chan struct{})
	var waited hangar.Snapshot
	var second sync.WaitGroup
	_, err := c.store.Change(ctx, scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
		second.Go(func() {
			close(begun)
			_, err := c.store.Change(ctx, scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
				waited = *tx.Snapshot(0)
				return nil, nil
			})
			if err != nil {
				t.Error(err)
			}
		})
		<-begun
		tx.UpdateAircraft(changed)
		tx.AddConfiguration(revisionOf(changed))
		queueSquawk(tx, s)
		tx.AddFlight(f)
		return nil, nil
	})
	second.Wait()
	if err != nil {
		t.Fatal(err)
	}
	same(t, "aircraft", waited.Aircraft, changed)
	same(t, "squawks", waited.Squawks, []techlog.Squawk{s})
	same(t, "flights", waited.Flights, []techlog.Flight{f})
}
