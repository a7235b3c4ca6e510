package live_test

import (
	"context"
	"errors"
	"sync"
	"testing"
	"time"

	"tiedown/internal/notice/live"
	"tiedown/internal/techlog"
)

// source is a store whose events a test makes.
type source struct {
	lock   sync.Mutex
	places map[techlog.ID]int64
	broken bool
	told   chan func(org techlog.ID)
}

func newSource() *source {
	return &source{places: map[techlog.ID]int64{}, told: make(chan func(techlog.ID), 1)}
}

func (s *source) LastEvent(_ context.Context, org techlog.ID) (int64, error) {
	s.lock.Lock()
	defer s.lock.Unlock()
	if s.broken {
		return 0, errors.New("the database does not answer")
	}
	return s.places[org], nil
}

func (s *source) Heed(ctx context.Context, told func(org techlog.ID)) {
	s.told <- told
	<-ctx.Done()
}

func (s *source) happen(org techlog.ID) {
	s.lock.Lock()
	defer s.lock.Unlock()
	s.places[org]++
}

const patience = time.Minute

// woken holds that somebody is woken, sooner or later.
func woken(t *testing.T, bell <-chan struct{}) {
	t.Helper()
	select {
	case <-bell:
	case <-time.After(patience):
		t.Fatal("nobody is woken")
	}
}

func quiet(t *testing.T, bells ...<-chan struct{}) {
	t.Helper()
	for i, bell := range bells {
		select {
		case <-bell:
			t.Errorf("number %d is woken for nothing", i)
		default:
		}
	}
}

// TestANoteWakesWhomItConcerns holds that a note wakes everybody who follows its organization and nobody else, and that one
// which may have been missed wakes all.
func TestANoteWakesWhomItConcerns(t *testing.T) {
	t.Parallel()
	s := newSource()
	w := live.NewWatch(s, time.Hour)
	ctx, cancel := context.WithCancel(t.Context())
	var running sync.WaitGroup
	running.Go(func() { w.Run(ctx) })
	told := <-s.told
	mine, theirs := techlog.ID{1}, techlog.ID{2}
	one, stopOne := w.Follow(mine)
	two, stopTwo := w.Follow(mine)
	other, stopOther := w.Follow(theirs)
	defer stopTwo()
	defer stopOther()
	told(mine)
	told(mine) // who has not looked yet is woken once
	woken(t, one)
	woken(t, two)
	quiet(t, one, two, other)
	told(techlog.ID{})
	woken(t, one)
	woken(t, two)
	woken(t, other)
	stopOne()
	told(mine)
	woken(t, two)
	quiet(t, one, other)
	told(techlog.ID{3}) // whom nobody follows
	quiet(t, two, other)
	select {
	case <-w.Ended():
		t.Error("it has ended")
	default:
	}
	cancel()
	running.Wait()
	<-w.Ended()
}

// TestALostNoteIsNobodysLoss holds that what nobody tells of is found all the same, and once the database answers again.
func TestALostNoteIsNobodysLoss(t *testing.T) {
	t.Parallel()
	s := newSource()
	w := live.NewWatch(s, time.Millisecond)
	ctx, cancel := context.WithCancel(t.Context())
	var running sync.WaitGroup
	running.Go(func() { w.Run(ctx) })
	defer running.Wait()
	defer cancel()
	org := techlog.ID{1}
	bell, stop := w.Follow(org)
	for range 3 {
		s.happen(org)
		woken(t, bell)
	}
	s.lock.Lock()
	s.broken = true
	s.places[org]++
	s.lock.Unlock()
	time.Sleep(20 * time.Millisecond)
	quiet(t, bell)
	s.lock.Lock()
	s.broken = false
	s.lock.Unlock()
	woken(t, bell)
	stop()
	again, stopAgain := w.Follow(org) // whoever comes later is woken for what there is
	defer stopAgain()
	woken(t, again)
}
