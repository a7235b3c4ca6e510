package storetest

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// testEvents holds that events are written with their change or not at all, and read in the order of their places.
func testEvents(t *testing.T, c *club) {
	ctx := t.Context()
	other := c.neighbor(t)
	if last := get[int64](t)(c.store.LastEvent(ctx, c.org)); last != 0 {
		t.Errorf("before any there is one at %d", last)
	}
	events := []techlog.Event{
		{
			ID: newID(), Place: 1, Kind: "squawk.filed", Aircraft: newID(), Subject: newID(), By: "P. Lot", At: noon,
			Changes: []techlog.HoldChange{{Flight: newID(), Was: "clear", Is: "grounded"}, {Flight: newID(), Is: "limited"}},
		},
		{ID: newID(), Place: 2, Kind: "base.added", Subject: newID(), By: "P. Lot", At: noon.Add(time.Microsecond)},
		{ID: newID(), Place: 3, Kind: "base.changed", Subject: newID(), By: "P. Lot", At: noon},
	}
	emit := func(end error, events ...techlog.Event) error {
		_, err := c.store.Change(ctx, hangar.Scope{Organization: c.org, By: "P. Lot", At: noon}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			for _, e := range events {
				tx.Emit(e)
			}
			return nil, end
		})
		return err
	}
	if err := emit(errors.New("second thoughts"), events...); err == nil {
		t.Fatal("the change did not fail")
	}
	for _, part := range [][]techlog.Event{events[:2], events[2:]} {
		if err := emit(nil, part...); err != nil {
			t.Fatal(err)
		}
	}
	same(t, "all of them", get[[]techlog.Event](t)(c.store.Events(ctx, c.org, 0, 99)), events)
	same(t, "the first two", get[[]techlog.Event](t)(c.store.Events(ctx, c.org, 0, 2)), events[:2])
	same(t, "after the second", get[[]techlog.Event](t)(c.store.Events(ctx, c.org, 2, 99)), events[2:])
	if last := get[int64](t)(c.store.LastEvent(ctx, c.org)); last != 3 {
		t.Errorf("the last one is at %d", last)
	}
	if seen := get[[]techlog.Event](t)(c.store.Events(ctx, other.org, 0, 99)); len(seen) != 0 {
		t.Errorf("a neighbor sees %v", seen)
	}
}

// testEventsAtOnce has many tell at once, while somebody follows: whoever asks for what came after the last one seen
// misses nothing, since nothing comes up behind it.
func testEventsAtOnce(t *testing.T, c *club) {
	const writers, each = 8, 12
	ctx := t.Context()
	var writing sync.WaitGroup
	for w := range writers {
		writing.Go(func() {
			for i := range each {
				e := techlog.Event{ID: newID(), Kind: fmt.Sprintf("writer.%d", w), Subject: newID(), At: noon}
				err := c.within(ctx, func(_ context.Context, tx hangar.Tx) error {
					if i%2 == 0 {
						tx.AddBase(newBase(fmt.Sprintf("N%d%02d", w, i))) // a record: the log's head is locked before
					}
					tx.Emit(e)
					return nil
				})
				if err != nil {
					t.Error(err)
				}
			}
		})
	}
	done := make(chan struct{})
	go func() { writing.Wait(); close(done) }()
	var followed []techlog.Event
	follow := func() {
		var after int64
		if n := len(followed); n > 0 {
			after = followed[n-1].Place
		}
		next, err := c.store.Events(ctx, c.org, after, 7)
		if err != nil {
			t.Error(err)
		}
		followed = append(followed, next...)
	}
	for open := true; open; {
		select {
		case <-done:
			open = false
		default:
		}
		follow()
	}
	for len(followed) < writers*each {
		before := len(followed)
		if follow(); len(followed) == before {
			break
		}
	}
	if len(followed) != writers*each {
		t.Fatalf("followed %d events of %d", len(followed), writers*each)
	}
	for i, e := range followed {
		if e.Place != int64(i+1) {
			t.Fatalf("event %d is at place %d", i, e.Place)
		}
	}
}

// testHeed holds that whoever listens is told of the organization that has something new, and of no other.
func testHeed(t *testing.T, c *club) {
	other := c.neighbor(t)
	ctx, cancel := context.WithCancel(t.Context())
	told := make(chan techlog.ID, 100)
	var listening sync.WaitGroup
	listening.Go(func() { c.keeper.Heed(ctx, func(org techlog.ID) { told <- org }) })
	next := func() techlog.ID {
		t.Helper()
		select {
		case org := <-told:
			return org
		case <-time.After(20 * time.Second):
			t.Fatal("nothing was told")
			return techlog.ID{}
		}
	}
	if org := next(); !org.IsZero() {
		t.Errorf("at first it tells of %s, not that something may have been missed", org)
	}
	emit := func(c *club, end error) {
		err := c.within(ctx, func(_ context.Context, tx hangar.Tx) error {
			tx.Emit(techlog.Event{ID: newID(), Kind: "base.added", Subject: newID(), At: noon})
			return end
		})
		if !errors.Is(err, end) {
			t.Error(err)
		}
	}
	emit(c, nil)
	emit(other, errSecondThoughts)
	if org := next(); org != c.org {
		t.Errorf("told of %s, want %s", org, c.org)
	}
	emit(other, nil)
	if org := next(); org != other.org {
		t.Errorf("told of %s, want %s", org, other.org)
	}
	cancel()
	listening.Wait()
	if n := len(told); n != 0 {
		t.Errorf("told %d times more", n)
	}
}

var errSecondThoughts = errors.New("second thoughts")
