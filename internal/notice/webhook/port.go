package webhook

import (
	"context"
	"time"

	"tiedown/internal/techlog"
)

// Lane is what goes to one webhook about one aircraft.
type Lane struct {
	Organization, Webhook techlog.ID
	Aircraft              techlog.ID // zero: what is about none
}

// Parcel is one delivery with what it brings.
type Parcel struct {
	Delivery techlog.Delivery
	Event    techlog.Event
}

// Load is what a courier finds in a lane.
type Load struct {
	Held    bool                    // it is the courier's now
	Due     time.Time               // of a lane that nobody holds and that is not due: when it will be; zero otherwise
	Webhook techlog.Webhook         // as it is now
	Secrets []techlog.WebhookSecret // newest first
	Parcels []Parcel                // the oldest that are pending, in order; none: the lane has been given back
}

// Outbox keeps what is on its way. An error is of kind unavailable when the database does not answer.
type Outbox interface {
	// Behind lists the organizations with webhooks that have events which are no deliveries yet.
	Behind(ctx context.Context) ([]techlog.ID, error)
	// Relay turns an organization's next events into deliveries, and knocks for each lane in which nothing had waited. It
	// reports whether there may be more. While another server is at it, it does nothing.
	Relay(ctx context.Context, organization techlog.ID, at time.Time) (more bool, err error)
	// Remind knocks again for lanes whose holder has been killed, or for which nobody came.
	Remind(ctx context.Context, at time.Time) error

	// Take makes a lane the holder's until an instant, or keeps it so, unless it is another's or not due; and gives the lane
	// back if nothing waits in it.
	Take(ctx context.Context, lane Lane, holder techlog.ID, at, until time.Time) (Load, error)
	// Tell keeps what came of an attempt. The lane stays the holder's until an instant, or is given back and due then. It
	// gives the version of the webhook; 0 if the lane is no longer the holder's, and nothing was kept.
	Tell(ctx context.Context, lane Lane, holder techlog.ID, tried techlog.Delivery, keep bool, due time.Time) (version int, err error)
	// GiveBack leaves a lane that the holder has for whoever comes next.
	GiveBack(ctx context.Context, lane Lane, holder techlog.ID, at time.Time) error
	// Park gives a lane back until its webhook is on again; it does nothing if the webhook is on.
	Park(ctx context.Context, lane Lane, holder techlog.ID) error
}
