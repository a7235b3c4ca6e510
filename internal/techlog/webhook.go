package techlog

import "time"

// WebhookState says whether events are sent to an address.
type WebhookState string

// The states. What happens while an address is not on is not queued for it; it can be sent from a place on later.
const (
	WebhookOn     WebhookState = "on"
	WebhookOff    WebhookState = "off"
	WebhookBroken WebhookState = "broken" // the receiver has said that it is gone; a person turns it on again
	WebhookEnded  WebhookState = "ended"  // for good
)

// WebhookStates lists every state.
func WebhookStates() []WebhookState {
	return []WebhookState{WebhookOn, WebhookOff, WebhookBroken, WebhookEnded}
}

// Webhook is an address to which an organization has events sent.
type Webhook struct {
	ID       ID
	URL      string
	Kinds    []string // of events, whole such as squawk.filed or what they begin with such as squawk; none: all
	Aircraft ID       // zero: all, and what is about none
	State    WebhookState
	By       string
	At       time.Time
	Version  int

	OldSecretsUntil time.Time // until when deliveries are signed with older secrets as well; zero: there has been one alone
}

// WebhookSecret is what deliveries are signed with, sealed under a key of the installation.
type WebhookSecret struct {
	ID     ID
	Sealed []byte
	At     time.Time
	Until  time.Time // after which nothing is signed with it; zero: it is the newest
}

// PingKind is the kind of event that tests one webhook, and goes to that one alone.
const PingKind = "webhook.pinged"

// DeliveryState says what has become of a delivery.
type DeliveryState string

// The states.
const (
	DeliveryPending   DeliveryState = "pending"
	DeliveryDelivered DeliveryState = "delivered"
	DeliveryDead      DeliveryState = "dead" // given up; a person may have it sent again
)

// DeliveryStates lists every state.
func DeliveryStates() []DeliveryState {
	return []DeliveryState{DeliveryPending, DeliveryDelivered, DeliveryDead}
}

// Delivery is one event on its way to one webhook.
type Delivery struct {
	Place    int64 // of the event
	Event    ID
	Kind     string
	Aircraft ID // zero: it is about none
	State    DeliveryState
	Attempts int       // since it was queued
	Queued   time.Time // at first, or to be sent again
	Tried    time.Time // the last time; zero: never
	Next     time.Time // when it is tried again; zero: when its turn has come, or never
	Status   int       // HTTP status of the last answer; zero: there was none
	Answer   string    // how the last answer began, or why there was none
}
