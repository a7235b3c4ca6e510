package webhook_test

import (
	"context"
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/notice/webhook"
	"tiedown/internal/postgres"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/pgtest"
)

// newStory is a world with one webhook that asks for everything, and one aircraft.
func newStory(t *testing.T) (*world, webhook.Lane) {
	t.Helper()
	store, err := postgres.Open(t.Context(), postgres.Config{URL: pgtest.New(t)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(store.Close)
	var w *world
	receiver := httptest.NewServer(nil)
	t.Cleanup(receiver.Close)
	w = newWorld(t, store, receiver.URL, nil)
	receiver.Config.Handler = w
	return w, webhook.Lane{Organization: w.org, Webhook: w.hooks[0].ID, Aircraft: w.craft[1]}
}

// deliver has a courier come, and reports whether, and after what time, somebody has to come again.
func (w *world) deliver(t *testing.T, lane webhook.Lane) (bool, time.Duration) {
	t.Helper()
	again, after, err := w.courier.Deliver(context.Background(), lane)
	if err != nil {
		t.Fatal(err)
	}
	return again, after
}

func (w *world) answer(status int) {
	w.mu.Lock()
	defer w.mu.Unlock()
	w.status[w.hooks[0].ID] = status
}

// states are the states of what went to the webhook, oldest first.
func (w *world) states(t *testing.T) []techlog.DeliveryState {
	t.Helper()
	list, err := w.store.Deliveries(t.Context(), w.org, w.hooks[0].ID, hangar.DeliveryFilter{Limit: 100})
	if err != nil {
		t.Fatal(err)
	}
	slices.Reverse(list)
	var states []techlog.DeliveryState
	for _, d := range list {
		states = append(states, d.State)
	}
	return states
}

func (w *world) came(t *testing.T) int {
	t.Helper()
	w.mu.Lock()
	defer w.mu.Unlock()
	return len(w.seen[w.hooks[0].ID])
}

const (
	pending   = techlog.DeliveryPending
	delivered = techlog.DeliveryDelivered
	dead      = techlog.DeliveryDead
)

func (w *world) wantStates(t *testing.T, want ...techlog.DeliveryState) {
	t.Helper()
	if got := w.states(t); !slices.Equal(got, want) {
		t.Fatalf("the deliveries are %v, want %v", got, want)
	}
}

// TestWhatIsGivenUpHoldsUpNothing: a receiver that fails for a day loses the first event, and the others that have piled up
// after one attempt each; then it is well, and has them sent again.
func TestWhatIsGivenUpHoldsUpNothing(t *testing.T) {
	t.Parallel()
	w, lane := newStory(t)
	w.answer(500)
	for range 3 {
		w.emit(t, "squawk.filed", lane.Aircraft)
	}
	w.emit(t, "squawk.filed", w.craft[2])
	w.relay(t)
	attempts := 0
	var spent time.Duration
	for again, after := w.deliver(t, lane); again && w.states(t)[0] == pending; again, after = w.deliver(t, lane) {
		attempts++
		w.wantStates(t, pending, pending, pending, pending)
		if again, _ := w.deliver(t, lane); again && after > 2*time.Second {
			t.Fatalf("a courier came before it was due, after attempt %d", attempts)
		}
		w.advance(after)
		spent += after
	}
	if attempts != 10 || spent < 18*time.Hour || spent > 29*time.Hour || w.came(t) < 12 || w.came(t) > 13+10 {
		t.Errorf("%d waits of %s in all, %d attempts at the receiver", attempts, spent, w.came(t))
	}
	if states := w.states(t); states[0] != dead || states[3] != pending {
		t.Fatalf("%v", states)
	}
	w.advance(24 * time.Hour)
	w.deliver(t, lane)
	w.wantStates(t, dead, dead, dead, pending) // another aircraft's is not touched
	w.answer(200)
	before := w.came(t)
	var n int
	w.change(t, func(tx hangar.Tx) {
		var err error
		if n, err = tx.Requeue(t.Context(), w.hooks[0].ID, hangar.Replay{Dead: true}); err != nil {
			t.Error(err)
		}
	})
	if n != 3 {
		t.Errorf("%d sent again", n)
	}
	w.settle(t)
	w.wantStates(t, delivered, delivered, delivered, delivered)
	if got := w.came(t) - before; got != 4 {
		t.Errorf("%d came after that, want 4", got)
	}
}

// TestGoneTurnsItOff: the answer 410 stops deliveries of every lane until a person turns the webhook on again; nothing is lost.
func TestGoneTurnsItOff(t *testing.T) {
	t.Parallel()
	w, lane := newStory(t)
	w.answer(410)
	w.emit(t, "squawk.filed", lane.Aircraft)
	w.emit(t, "squawk.filed", lane.Aircraft)
	w.relay(t)
	if again, _ := w.deliver(t, lane); again {
		t.Error("somebody is to come again")
	}
	hook, err := w.store.Webhook(t.Context(), w.org, lane.Webhook)
	if err != nil || hook.State != techlog.WebhookBroken {
		t.Fatalf("%+v %v", hook, err)
	}
	w.answer(200)
	w.advance(time.Hour)
	if again, _ := w.deliver(t, lane); again || w.came(t) != 1 {
		t.Errorf("%d came, want the one that was answered 410", w.came(t))
	}
	w.emit(t, "squawk.filed", lane.Aircraft) // while it is broken: not queued
	w.relay(t)
	w.wantStates(t, pending, pending)
	w.turn(t, lane.Webhook, techlog.WebhookOn)
	if err := w.store.Remind(t.Context(), w.now()); err != nil {
		t.Fatal(err)
	}
	w.deliver(t, lane)
	w.wantStates(t, delivered, delivered)
	w.change(t, func(tx hangar.Tx) {
		if n, err := tx.Requeue(t.Context(), lane.Webhook, hangar.Replay{From: 3}); n != 1 || err != nil {
			t.Errorf("%d from place 3 on, %v", n, err)
		}
	})
	w.advance(time.Minute)
	w.deliver(t, lane)
	w.wantStates(t, delivered, delivered, delivered)
	w.check(t, nil)
}

// TestALaneHasOneHolder: who comes while somebody is at work does nothing; whoever was killed is followed once the lease is over,
// and keeps nothing any more.
func TestALaneHasOneHolder(t *testing.T) {
	t.Parallel()
	w, lane := newStory(t)
	w.emit(t, "squawk.filed", lane.Aircraft)
	w.relay(t)
	dead, at := newID(), w.now()
	load, err := w.store.Take(t.Context(), lane, dead, at, at.Add(15*time.Second))
	if err != nil || !load.Held || len(load.Parcels) != 1 {
		t.Fatalf("%+v %v", load, err)
	}
	if again, _ := w.deliver(t, lane); again || w.came(t) != 0 {
		t.Error("two are at work")
	}
	w.advance(16 * time.Second)
	if err := w.store.Remind(t.Context(), w.now()); err != nil {
		t.Fatal(err)
	}
	w.deliver(t, lane)
	w.wantStates(t, delivered)
	late := load.Parcels[0].Delivery
	late.State, late.Attempts = techlog.DeliveryDead, 11
	if version, err := w.store.Tell(t.Context(), lane, dead, late, true, at); version != 0 || err != nil {
		t.Errorf("version %d, %v: it is no longer the holder", version, err)
	}
	w.wantStates(t, delivered)
	if err := w.store.GiveBack(t.Context(), lane, dead, at); err != nil {
		t.Error(err)
	}
}

// TestStoppingGivesLanesBack: a courier that is stopped ends after the attempt that is under way, and the next goes on at once.
func TestStoppingGivesLanesBack(t *testing.T) {
	t.Parallel()
	w, lane := newStory(t)
	for range 3 {
		w.emit(t, "squawk.filed", lane.Aircraft)
	}
	w.relay(t)
	w.courier.Stop()
	if again, after := w.deliver(t, lane); !again || after != 0 || w.came(t) != 0 {
		t.Errorf("again %v after %s, %d came", again, after, w.came(t))
	}
	load, err := w.store.Take(t.Context(), lane, newID(), w.now(), w.now().Add(time.Second))
	if err != nil || !load.Held || len(load.Parcels) != 3 {
		t.Errorf("%+v %v", load, err)
	}
}

// TestEveryEventBecomesADeliveryOnce has several servers relay at once while events happen.
func TestEveryEventBecomesADeliveryOnce(t *testing.T) {
	t.Parallel()
	w, _ := newStory(t)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for range 60 {
			w.emit(t, "squawk.filed", w.craft[1])
		}
	}()
	ended := make(chan error, 3)
	for range cap(ended) {
		go func() {
			for {
				if _, err := w.store.Relay(context.Background(), w.org, w.now()); err != nil {
					ended <- err
					return
				}
				select {
				case <-done:
					ended <- nil
					return
				default:
				}
			}
		}()
	}
	for range cap(ended) {
		if err := <-ended; err != nil {
			t.Error(err)
		}
	}
	behind, err := w.store.Behind(t.Context())
	if err != nil || len(behind) > 1 {
		t.Errorf("%v %v", behind, err)
	}
	w.relay(t)
	if behind, err = w.store.Behind(t.Context()); err != nil || len(behind) != 0 {
		t.Errorf("still behind: %v %v", behind, err)
	}
	if n := len(w.states(t)); n != 60 {
		t.Errorf("%d deliveries of 60 events", n)
	}
}
