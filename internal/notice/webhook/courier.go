package webhook

import (
	"context"
	"log/slog"
	"sync"
	"time"

	"tiedown/internal/techlog"
)

// lease is for how long a lane is held at most without a word: longer than one attempt takes. A courier that was killed is
// followed then.
const lease = attemptLimit + 5*time.Second

// perWebhook bounds how many lanes of one webhook a server works on at once, so that one receiver that hangs does not keep
// every worker.
const perWebhook = 8

// whenFree is how long a lane waits when that many are worked on.
const whenFree = 200 * time.Millisecond

// early is by how much a knock may come before its lane is due, as clocks differ.
const early = 2 * time.Second

// Breaker takes a webhook out of use when its receiver has said that it is gone. hangar.Service is one.
type Breaker interface {
	BreakWebhook(ctx context.Context, organization, webhook techlog.ID) error
}

// Settings are what couriers are made of.
type Settings struct {
	Outbox  Outbox
	Sender  *Sender
	Breaker Breaker
	Log     *slog.Logger
	Now     func() time.Time
	NewID   func() techlog.ID
}

// Courier delivers what is in lanes. It is safe for concurrent use.
type Courier struct {
	Settings
	mu       sync.Mutex
	busy     map[techlog.ID]int // lanes that are worked on, by webhook
	stopping chan struct{}
	stop     sync.Once
}

// NewCourier makes a courier.
func NewCourier(s Settings) *Courier {
	return &Courier{Settings: s, busy: map[techlog.ID]int{}, stopping: make(chan struct{})}
}

// Stop has every lane given back after the attempt that is under way.
func (c *Courier) Stop() { c.stop.Do(func() { close(c.stopping) }) }

// Close ends the connections that are kept open.
func (c *Courier) Close() { c.Sender.close() }

// Deliver delivers what waits in a lane, oldest first, until nothing does or an attempt fails. If somebody has to come again
// it says after what time.
func (c *Courier) Deliver(ctx context.Context, lane Lane) (again bool, after time.Duration, err error) {
	if !c.enter(lane.Webhook) {
		return true, whenFree, nil
	}
	defer c.leave(lane.Webhook)
	holder := c.NewID()
	for {
		at := c.Now()
		load, err := c.Outbox.Take(ctx, lane, holder, at, at.Add(lease))
		switch {
		case err != nil:
			return false, 0, err
		case !load.Held && !load.Due.IsZero() && load.Due.Sub(at) < early:
			return true, max(load.Due.Sub(at), 0), nil
		case !load.Held, load.Webhook.State == techlog.WebhookOn && len(load.Parcels) == 0:
			return false, 0, nil
		case load.Webhook.State != techlog.WebhookOn:
			return false, 0, c.Outbox.Park(ctx, lane, holder)
		}
		for _, parcel := range load.Parcels {
			if c.isStopping() {
				return true, 0, c.Outbox.GiveBack(ctx, lane, holder, c.Now())
			}
			step, err := c.attempt(ctx, lane, holder, load, parcel)
			if err != nil || step.end {
				return step.again, step.after, err
			}
			if step.version != load.Webhook.Version {
				break // it has been changed: look again
			}
		}
	}
}

// step is where an attempt leaves a lane.
type step struct {
	version int // of the webhook
	end     bool
	again   bool
	after   time.Duration
}

// attempt makes one attempt, and keeps what came of it.
func (c *Courier) attempt(ctx context.Context, lane Lane, holder techlog.ID, load Load, p Parcel) (step, error) {
	a := c.Sender.send(ctx, lane, load.Webhook, load.Secrets, p.Event)
	if err := ctx.Err(); err != nil && !a.delivered() {
		return step{}, err // it was us who broke off
	}
	tried, at := p.Delivery, c.Now()
	tried.Attempts++
	tried.Tried, tried.Next, tried.Status, tried.Answer = at, time.Time{}, a.status, a.says
	keep, due, wait := true, at.Add(lease), time.Duration(0)
	switch d, more := delay(tried.Attempts, at.Sub(tried.Queued), chance()); {
	case a.delivered():
		tried.State = techlog.DeliveryDelivered
	case a.gone():
		if err := c.Breaker.BreakWebhook(ctx, lane.Organization, lane.Webhook); err != nil {
			return step{}, err
		}
	case !more:
		tried.State = techlog.DeliveryDead
		c.Log.Warn("a delivery was given up", "webhook", lane.Webhook, "place", tried.Place, "answer", a.says)
	default:
		wait = max(d, a.after)
		keep, due, tried.Next = false, at.Add(wait), at.Add(wait)
	}
	version, err := c.Outbox.Tell(ctx, lane, holder, tried, keep, due)
	switch {
	case err != nil:
		return step{}, err
	case version == 0: // somebody else has it
		return step{end: true}, nil
	case !keep:
		return step{end: true, again: true, after: wait}, nil
	}
	return step{version: version}, nil
}

func (c *Courier) isStopping() bool {
	select {
	case <-c.stopping:
		return true
	default:
		return false
	}
}

func (c *Courier) enter(webhook techlog.ID) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.busy[webhook] >= perWebhook {
		return false
	}
	c.busy[webhook]++
	return true
}

func (c *Courier) leave(webhook techlog.ID) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.busy[webhook]--; c.busy[webhook] == 0 {
		delete(c.busy, webhook)
	}
}
