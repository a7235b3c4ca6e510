// Package live wakes whoever follows an organization's events when there may be a new one.
//
// It owns who is woken when. It does not own the events, who may see them, HTTP or the database: it asks a source for no more
// than the place of the newest event.
package live

import (
	"context"
	"sync"
	"time"

	"tiedown/internal/techlog"
)

// Source tells of new events. The store is one.
type Source interface {
	// LastEvent is the place of an organization's newest event: 0 if there is none.
	LastEvent(ctx context.Context, org techlog.ID) (int64, error)
	// Heed calls back with an organization soon after it has new events, and with the zero identifier whenever some may have
	// been missed, until the context ends.
	Heed(ctx context.Context, told func(org techlog.ID))
}

// Watch wakes those who follow an organization's events. There is one in a server, whoever has made the change: it listens to
// the database, and looks by itself as well, as a note may be lost. It is safe for concurrent use.
type Watch struct {
	source Source
	every  time.Duration

	lock      sync.Mutex
	followers map[techlog.ID]map[chan struct{}]struct{}
	known     map[techlog.ID]int64 // place of the newest event, of organizations that somebody follows
	ended     chan struct{}
	end       sync.Once
}

// NewWatch makes a watch that looks by itself every so often.
func NewWatch(source Source, every time.Duration) *Watch {
	return &Watch{
		source: source, every: every, followers: map[techlog.ID]map[chan struct{}]struct{}{}, known: map[techlog.ID]int64{},
		ended: make(chan struct{}),
	}
}

// Run watches until the context ends. Then everybody who follows is told so by Ended.
func (w *Watch) Run(ctx context.Context) {
	defer w.end.Do(func() { close(w.ended) })
	var listening sync.WaitGroup
	listening.Go(func() { w.source.Heed(ctx, w.wake) })
	defer listening.Wait()
	ticks := time.NewTicker(w.every)
	defer ticks.Stop()
	for {
		select {
		case <-ticks.C:
			w.look(ctx)
		case <-ctx.Done():
			w.end.Do(func() { close(w.ended) })
			return
		}
	}
}

// Ended is closed when nobody is woken any more.
func (w *Watch) Ended() <-chan struct{} { return w.ended }

// Follow gives what something is put in whenever an organization may have new events since it was last empty, until stop is
// called. Whoever follows looks once after having begun.
func (w *Watch) Follow(org techlog.ID) (woken <-chan struct{}, stop func()) {
	bell := make(chan struct{}, 1)
	w.lock.Lock()
	defer w.lock.Unlock()
	if w.followers[org] == nil {
		w.followers[org] = map[chan struct{}]struct{}{}
	}
	w.followers[org][bell] = struct{}{}
	return bell, func() {
		w.lock.Lock()
		defer w.lock.Unlock()
		delete(w.followers[org], bell)
		if len(w.followers[org]) == 0 {
			delete(w.followers, org)
			delete(w.known, org)
		}
	}
}

// wake wakes who follows an organization, or everybody for the zero identifier.
func (w *Watch) wake(org techlog.ID) {
	w.lock.Lock()
	defer w.lock.Unlock()
	if !org.IsZero() {
		ring(w.followers[org])
		return
	}
	for _, bells := range w.followers {
		ring(bells)
	}
}

// ring puts something in each that is empty. Who has not looked yet since the last time is woken already.
func ring(bells map[chan struct{}]struct{}) {
	for bell := range bells {
		select {
		case bell <- struct{}{}:
		default:
		}
	}
}

// look asks for the newest event of every organization that somebody follows. What cannot be asked for now is asked for again.
func (w *Watch) look(ctx context.Context) {
	for _, org := range w.followed() {
		last, err := w.source.LastEvent(ctx, org)
		if err != nil {
			return
		}
		w.lock.Lock()
		fresh := w.followers[org] != nil && last > w.known[org]
		if fresh {
			w.known[org] = last
		}
		w.lock.Unlock()
		if fresh {
			w.wake(org)
		}
	}
}

func (w *Watch) followed() []techlog.ID {
	w.lock.Lock()
	defer w.lock.Unlock()
	all := make([]techlog.ID, 0, len(w.followers))
	for org := range w.followers {
		all = append(all, org)
	}
	return all
}
