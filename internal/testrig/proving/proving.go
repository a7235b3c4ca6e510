// Package proving stands in for the keeper of people's secrets, in tests of what is signed.
//
// It owns which password is right, and that a passkey's answer is good once. It does not own accounts, sessions or any
// real secret.
package proving

import (
	"context"
	"sync"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Passwords of everybody: the right one, and one after which nobody may try again for a while.
const (
	Right   = "correct horse"
	TooMany = "once too often"
)

// Prover is a hangar.Prover. The zero value is ready for use, by many at once.
type Prover struct {
	mu    sync.Mutex
	spent map[techlog.ID]bool
	asked int
}

var _ hangar.Prover = (*Prover)(nil)

// Prove implements hangar.Prover.
func (p *Prover) Prove(_ context.Context, who techlog.Principal, proof hangar.Proof, _ [32]byte) (hangar.Proven, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	p.asked++
	switch {
	case who.Person.IsZero():
		return "", techlog.Errorf(techlog.KindForbidden, "a program proves nothing")
	case proof.Passkey != nil && p.spend(proof.Passkey.Challenge):
		return hangar.ByPasskey, nil
	case proof.Password == TooMany:
		return "", &techlog.Error{Kind: techlog.KindRateLimited, Says: "try again in a minute", After: time.Minute}
	case proof.Passkey == nil && proof.Password == Right:
		return hangar.ByPassword, nil
	}
	return "", techlog.Errorf(techlog.KindUnproven, "it is wrong, or has been used")
}

// spend uses a challenge up, once.
func (p *Prover) spend(challenge techlog.ID) bool {
	if p.spent[challenge] {
		return false
	}
	if p.spent == nil {
		p.spent = map[techlog.ID]bool{}
	}
	p.spent[challenge] = true
	return true
}

// Asked is how many proofs have been looked at.
func (p *Prover) Asked() int {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.asked
}
