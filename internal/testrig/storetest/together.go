package storetest

import (
	"context"
	"fmt"
	"slices"
	"sync"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// patience bounds the wait of a test for what must not wait at all, so that a store that hangs fails.
const patience = time.Minute

// together runs f n times at once.
func together(n int, f func(i int)) {
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() { f(i) })
	}
	all.Wait()
}

func testNothingWantedNothingHeld(t *testing.T, c *club) {
	a := c.addAircraft(t)
	ctx, cancel := context.WithTimeout(t.Context(), patience)
	defer cancel()
	c.must(t, func(hangar.Tx) {
		// The outer change holds the aircraft meanwhile.
		_, err := c.store.Change(ctx, hangar.Scope{Organization: c.org, At: noon}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			tx.AddBase(newBase("N00X"))
			return nil, nil
		})
		if err != nil {
			t.Errorf("a change that wants no aircraft: %v", err)
		}
		if _, err := c.store.Snapshot(ctx, c.org, hangar.Want{Aircraft: a.ID, FlightsFrom: noon}); err != nil {
			t.Errorf("a snapshot: %v", err)
		}
		// Neither does it keep anybody from planning a flight with no lock of its own.
		_, err = c.store.Change(ctx, hangar.Scope{Organization: c.org, At: noon}, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			tx.AddFlight(newFlight(c, a.ID))
			return nil, nil
		})
		if err != nil {
			t.Errorf("a record that refers to the aircraft: %v", err)
		}
	}, hangar.Want{Aircraft: a.ID})
}

// testLockOrder takes the same two locks in both orders at once.
func testLockOrder(t *testing.T, c *club) {
	a, b := c.addAircraft(t), c.addAircraft(t)
	const rounds = 8
	together(4, func(i int) {
		wants := []hangar.Want{{Aircraft: a.ID}, {Aircraft: b.ID}}
		if i%2 == 1 {
			slices.Reverse(wants)
		}
		for range rounds {
			if err := c.change(t, func(tx hangar.Tx) { tx.Touch(a.ID); tx.Touch(b.ID) }, wants...); err != nil {
				t.Error(err)
			}
		}
	})
	for _, aircraft := range []techlog.Aircraft{a, b} {
		if n := get[int](t)(c.store.StateVersion(t.Context(), c.org, aircraft.ID)) - aircraft.StateVersion; n != 4*rounds {
			t.Errorf("%d of %d touches are counted", n, 4*rounds)
		}
	}
}

// testConsecutiveNumbers files squawks on one aircraft from many sides at once.
func testConsecutiveNumbers(t *testing.T, c *club) {
	a := c.addAircraft(t)
	const filers, each = 16, 3
	together(filers, func(int) {
		for range each {
			err := c.change(t, func(hangar.Tx) {}) // somebody else's change in between
			if err != nil {
				t.Error(err)
			}
			scope := hangar.Scope{Organization: c.org, At: noon, Lock: []hangar.Want{{Aircraft: a.ID, FlightsFrom: noon}}}
			_, err = c.store.Change(t.Context(), scope, func(_ context.Context, tx hangar.Tx) ([]byte, error) {
				snap := tx.Snapshot(0)
				if len(snap.Squawks) != snap.Squawked {
					t.Errorf("%d squawks are open, and %d were filed", len(snap.Squawks), snap.Squawked)
				}
				queueSquawk(tx, newSquawk(a.ID, snap.Squawked+1))
				tx.Touch(a.ID)
				return nil, nil
			})
			if err != nil {
				t.Error(err)
			}
		}
	})
	squawks := get[[]techlog.Squawk](t)(c.store.Squawks(t.Context(), c.org, hangar.SquawkFilter{Aircraft: a.ID}, hangar.Page{Limit: 99}))
	var numbers, want []int
	for i := range squawks {
		numbers = append(numbers, squawks[i].Number)
		want = append(want, i+1)
	}
	slices.Sort(numbers)
	if len(numbers) != filers*each || !slices.Equal(numbers, want) {
		t.Errorf("the numbers are %v", numbers)
	}
	if n := get[int](t)(c.store.StateVersion(t.Context(), c.org, a.ID)) - a.StateVersion; n != filers*each {
		t.Errorf("%d touches, %d counted", filers*each, n)
	}
}

// once runs a change under a key and says whether it ran.
func (c *club) once(t *testing.T, once hangar.Once, answer string) (string, bool, error) {
	t.Helper()
	ran := false
	got, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon, Once: &once},
		func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			ran = true
			tx.AddBase(newBase(fmt.Sprint("X", newID())))
			return []byte(answer), nil
		})
	return string(got), ran, err
}

func (c *club) wantBases(t *testing.T, n int) {
	t.Helper()
	if got := len(get[[]techlog.Base](t)(c.store.Bases(t.Context(), c.org, hangar.Page{Limit: 99}))); got != n {
		t.Errorf("%d bases, want %d", got, n)
	}
}

func testReplay(t *testing.T, c *club) {
	key := hangar.Once{Token: c.token, Key: "key-1", Digest: [32]byte{1}}
	for i := range 3 {
		answer, ran, err := c.once(t, key, fmt.Sprintf("answer %d\x00", i))
		if err != nil || answer != "answer 0\x00" || ran != (i == 0) {
			t.Errorf("time %d: %q, ran %v, %v; want the first answer", i, answer, ran, err)
		}
	}
	c.wantBases(t, 3)

	key.Digest[31] = 9
	_, ran, err := c.once(t, key, "")
	wantKind(t, "another request under the same key", err, techlog.KindReused)
	if ran {
		t.Error("another request under the same key ran")
	}

	key.Key = "key-2"
	for i := range 2 {
		if answer, ran, err := c.once(t, key, ""); err != nil || answer != "" || ran != (i == 0) {
			t.Errorf("an empty answer: %q, ran %v, %v", answer, ran, err)
		}
	}
	c.wantBases(t, 4)
}

// testKeyScope: a key is one bearer's of one organization.
func testKeyScope(t *testing.T, c *club) {
	other := c.neighbor(t)
	key := hangar.Once{Token: c.token, Key: "key-1", Digest: [32]byte{1}}
	strangers := hangar.Once{Token: newID(), Key: "key-1", Digest: [32]byte{2}}
	for i, try := range []struct {
		club *club
		once hangar.Once
	}{{c, key}, {c, strangers}, {other, key}, {other, strangers}} {
		want := fmt.Sprint("answer ", i)
		if answer, ran, err := try.club.once(t, try.once, want); err != nil || !ran || answer != want {
			t.Errorf("scope %d: %q, ran %v, %v", i, answer, ran, err)
		}
	}
	c.wantBases(t, 4)
	other.wantBases(t, 4)
}

// testKeyOfAFailedRequest: what was not done may be tried again under its key.
func testKeyOfAFailedRequest(t *testing.T, c *club) {
	key := hangar.Once{Token: c.token, Key: "key-1", Digest: [32]byte{1}}
	_, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon, Once: &key},
		func(_ context.Context, tx hangar.Tx) ([]byte, error) {
			tx.AddBase(newBase(c.base.Code))
			return []byte("done"), nil
		})
	wantKind(t, "the first try", err, techlog.KindConflict)
	if answer, ran, err := c.once(t, key, "done now"); err != nil || !ran || answer != "done now" {
		t.Errorf("the second try: %q, ran %v, %v", answer, ran, err)
	}
	c.wantBases(t, 3)
}

// testTwins sends one request many times at once: with a lock in common, and without.
func testTwins(t *testing.T, c *club) {
	a := c.addAircraft(t)
	const twins = 8
	for i, lock := range [][]hangar.Want{nil, {{Aircraft: a.ID}}} {
		key := hangar.Once{Token: c.token, Key: fmt.Sprint("key-", i), Digest: [32]byte{1}}
		answers := make([]string, twins)
		together(twins, func(n int) {
			got, err := c.store.Change(t.Context(), hangar.Scope{Organization: c.org, At: noon, Once: &key, Lock: lock},
				func(_ context.Context, tx hangar.Tx) ([]byte, error) {
					base := newBase(fmt.Sprint("X", newID()))
					tx.AddBase(base)
					return []byte(base.Code), nil
				})
			if err != nil {
				t.Errorf("twin %d: %v", n, err)
			}
			answers[n] = string(got)
		})
		if answers[0] == "" || len(slices.Compact(answers)) != 1 {
			t.Errorf("the twins got different answers: %v", answers)
		}
		c.wantBases(t, 3+i)
	}
}
