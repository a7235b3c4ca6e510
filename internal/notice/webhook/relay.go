package webhook

import (
	"context"
	"errors"
	"sync"
	"time"

	"tiedown/internal/techlog"
)

// Bell tells which organizations have new events; the zero one when any may have. hangar.Store is one.
type Bell interface {
	Heed(ctx context.Context, told func(organization techlog.ID))
}

// lookEvery is how often events are looked for that nobody has rung for, and lanes that nobody came for.
const lookEvery = time.Second

// Relay turns events into deliveries until the context ends: at once when the bell rings, and by looking, as a server that is
// killed after a commit rings no more.
func (c *Courier) Relay(ctx context.Context, bell Bell) {
	rung := newRung()
	var done sync.WaitGroup
	done.Go(func() { bell.Heed(ctx, rung.add) })
	defer done.Wait()
	ticks := time.NewTicker(lookEvery)
	defer ticks.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-rung.more:
			for _, organization := range rung.take() {
				c.relay(ctx, organization)
			}
		case <-ticks.C:
			c.look(ctx)
		}
	}
}

// look finds what nobody has rung or knocked for.
func (c *Courier) look(ctx context.Context) {
	behind, err := c.Outbox.Behind(ctx)
	for _, organization := range behind {
		c.relay(ctx, organization)
	}
	if err = errors.Join(err, c.Outbox.Remind(ctx, c.Now())); err != nil && ctx.Err() == nil {
		c.Log.Error("look for events to deliver", "error", err)
	}
}

func (c *Courier) relay(ctx context.Context, organization techlog.ID) {
	for more := true; more && ctx.Err() == nil; {
		var err error
		if more, err = c.Outbox.Relay(ctx, organization, c.Now()); err != nil {
			if ctx.Err() == nil {
				c.Log.Error("turn events into deliveries", "organization", organization, "error", err)
			}
			return // it is looked for again in a second
		}
	}
}

// rung collects for whom the bell rang, each once.
type rung struct {
	mu            sync.Mutex
	organizations map[techlog.ID]bool
	more          chan struct{}
}

func newRung() *rung {
	return &rung{organizations: map[techlog.ID]bool{}, more: make(chan struct{}, 1)}
}

func (r *rung) add(organization techlog.ID) {
	if organization.IsZero() {
		return // what may have been missed is looked for within a second
	}
	r.mu.Lock()
	defer r.mu.Unlock()
	r.organizations[organization] = true
	select {
	case r.more <- struct{}{}:
	default:
	}
}

func (r *rung) take() []techlog.ID {
	r.mu.Lock()
	defer r.mu.Unlock()
	list := make([]techlog.ID, 0, len(r.organizations))
	for organization := range r.organizations {
		list = append(list, organization)
	}
	clear(r.organizations)
	return list
}
