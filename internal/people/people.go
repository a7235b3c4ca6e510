// Package people holds the use cases about persons: signing in and out, passwords, passkeys, recovery codes, and proving
// at the moment of signing who signs.
//
// It owns how often somebody may try, how long a session lasts, what a proof is good for, and that whoever does not
// exist is answered like whoever does. It does not own the ways of hashing, of passkeys or of another provider of
// identity, nor SQL or HTTP, nor what a person may do in an organization.
package people

import (
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// How long things last.
const (
	sessionLife  = 30 * 24 * time.Hour // whatever happens
	sessionIdle  = 12 * time.Hour      // without a request
	sessionTouch = time.Minute         // requests within it count as one
	answerLife   = 5 * time.Minute     // for a challenge to a passkey
)

// People is the use cases. It is safe for concurrent use.
type People struct {
	store    Store
	hasher   Hasher
	keys     Keys
	provider Provider
	now      func() time.Time
	newID    func() techlog.ID
}

var _ hangar.Prover = (*People)(nil)

// Settings are what the use cases are made of.
type Settings struct {
	Store    Store
	Hasher   Hasher
	Keys     Keys
	Provider Provider          // nil: nobody signs in by way of another provider
	Now      func() time.Time  // the clock
	NewID    func() techlog.ID // gives identifiers in the order of time
}

// New makes the use cases.
func New(s Settings) *People {
	return &People{store: s.Store, hasher: s.Hasher, keys: s.Keys, provider: s.Provider, now: s.Now, newID: s.NewID}
}

// From is where a request comes from.
type From struct {
	Address string // network address, without the port
	Agent   string // what the browser calls itself
}

// maxAgent bounds what is kept of a browser's name for itself, in bytes.
const maxAgent = 200

// event begins a record of what happened to a person.
func (p *People) event(kind techlog.SecurityEventKind, person techlog.ID, by string, from From) techlog.SecurityEvent {
	return techlog.SecurityEvent{ID: p.newID(), Person: person, Kind: kind, By: by, Address: from.Address, At: p.now()}
}

// Person is what a person is told about himself or herself.
type Person struct {
	Account     techlog.Account
	Memberships []techlog.Membership
	Identities  []Identity
	Passkeys    int
}
