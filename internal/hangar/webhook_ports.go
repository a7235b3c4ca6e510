package hangar

import (
	"context"
	"time"

	"tiedown/internal/techlog"
)

// WebhookStore reads what is kept of webhooks.
type WebhookStore interface {
	// Webhooks lists them in the order of their identifiers.
	Webhooks(ctx context.Context, org techlog.ID, page Page) ([]techlog.Webhook, error)
	Webhook(ctx context.Context, org, id techlog.ID) (techlog.Webhook, error)
	// Deliveries lists what was and is on its way to a webhook, the newest event first.
	Deliveries(ctx context.Context, org, webhook techlog.ID, filter DeliveryFilter) ([]techlog.Delivery, error)
}

// DeliveryFilter picks deliveries. Zero fields pick all.
type DeliveryFilter struct {
	State  techlog.DeliveryState
	Before int64 // place
	Limit  int
}

// WebhookTx is what a change does with webhooks.
type WebhookTx interface {
	// Webhook reads a webhook, and keeps every other change from it.
	Webhook(ctx context.Context, id techlog.ID) (techlog.Webhook, error)
	AddWebhook(w techlog.Webhook)
	// UpdateWebhook expects the stored version to be one less: kind stale otherwise. What waits for one that is turned on
	// goes out.
	UpdateWebhook(w techlog.Webhook)
	// WebhookSecrets lists those that deliveries are signed with now, newest first.
	WebhookSecrets(ctx context.Context, webhook techlog.ID) ([]techlog.WebhookSecret, error)
	// AddWebhookSecret adds the newest secret; the one before is good until an instant.
	AddWebhookSecret(webhook techlog.ID, s techlog.WebhookSecret, oldUntil time.Time)
	EndOldWebhookSecrets(webhook techlog.ID)
	// Requeue has deliveries made again, at once, in the order of their places, and gives their number.
	Requeue(ctx context.Context, webhook techlog.ID, which Replay) (int, error)
}

// Replay says which deliveries are made again: one, all from a place on that the webhook asks for now, or those that were given
// up. What is pending goes on as it is.
type Replay struct {
	Place int64
	From  int64
	Dead  bool
}

// Sealer makes the secrets that deliveries are signed with.
type Sealer interface {
	// NewSecret gives one as receivers take it, and sealed, as it is kept.
	NewSecret(organization, webhook, secret techlog.ID) (shown string, sealed []byte)
}

// Targets says to which addresses events may be sent.
type Targets interface {
	// Check refuses an address that no delivery would go to; field is what a fault names. Kind invalid.
	Check(ctx context.Context, field, url string) error
}
