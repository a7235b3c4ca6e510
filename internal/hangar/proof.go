package hangar

import (
	"context"
	"encoding/json"

	"tiedown/internal/techlog"
)

// Proof is what a person gives at the moment of signing, over and above the session or token that the request came
// with: the password, or a passkey's answer to a challenge. Exactly one of them.
type Proof struct {
	Password string
	Passkey  *PasskeyProof
}

// PasskeyProof is a passkey's answer.
type PasskeyProof struct {
	Challenge techlog.ID      // that Prover.Challenge gave out; good once, for a few minutes
	Response  json.RawMessage // the authenticator's assertion, as the browser gives it
}

// Proven is how a person proved to be the one who signs, as it is kept with the signature.
type Proven string

// The ways to prove it.
const (
	ByPassword Proven = "password"
	ByPasskey  Proven = "passkey"
)

// Prover tells whether it is the person who signs. It holds that person's secrets; nobody else sees them.
type Prover interface {
	// Prove checks a proof of the person that asks, for exactly this digest of what is signed. Kinds: unproven if
	// the proof is wrong, spent or another's, forbidden if the one that asks is no person, rate-limited after too many
	// wrong ones.
	Prove(ctx context.Context, who techlog.Principal, p Proof, digest [32]byte) (Proven, error)
}

// nobody is the prover of a service without accounts: it lets nobody sign.
type nobody struct{}

// Prove implements Prover.
func (nobody) Prove(context.Context, techlog.Principal, Proof, [32]byte) (Proven, error) {
	return "", techlog.Errorf(techlog.KindUnproven, "signing needs an account")
}
