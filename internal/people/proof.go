package people

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Asked is a challenge on its way to a passkey.
type Asked struct {
	Challenge techlog.ID
	Options   json.RawMessage // for the browser
	Until     time.Time
}

// BeginProof asks the person's passkeys to prove who signs exactly this digest. Kinds: forbidden if the one that asks is
// no person, conflict if the person has no passkey.
func (p *People) BeginProof(ctx context.Context, who techlog.Principal, digest [32]byte) (Asked, error) {
	held, err := p.signer(ctx, who)
	if err != nil {
		return Asked{}, err
	}
	if len(held.Passkeys) == 0 {
		return Asked{}, techlog.Errorf(techlog.KindConflict, "you have no passkey: prove it with your password")
	}
	options, state, err := p.keys.Ask(held.Account.ID, records(held.Passkeys), digest[:])
	if err != nil {
		return Asked{}, err
	}
	c := p.challenge(held.Account.ID, toProve, state)
	c.About = digest[:]
	return Asked{c.ID, options, c.Until}, p.store.AddChallenge(ctx, c)
}

// Prove implements hangar.Prover. A wrong proof counts like a wrong password.
func (p *People) Prove(ctx context.Context, who techlog.Principal, proof hangar.Proof, digest [32]byte) (hangar.Proven, error) {
	held, err := p.signer(ctx, who)
	if err != nil {
		return "", err
	}
	return p.prove(ctx, held, proof, digest)
}

func (p *People) signer(ctx context.Context, who techlog.Principal) (Credentials, error) {
	if who.Person.IsZero() {
		return Credentials{}, techlog.Errorf(techlog.KindForbidden, "a program signs nothing: a person must")
	}
	return p.store.CredentialsOf(ctx, who.Person)
}

func (p *People) prove(ctx context.Context, held Credentials, proof hangar.Proof, digest [32]byte) (hangar.Proven, error) {
	tried, err := p.attempt(ctx, held.Account.Email.Digest(), From{})
	if err != nil {
		return "", err
	}
	how, fits, err := p.fits(ctx, held, proof, digest)
	if err != nil {
		return "", err
	}
	if !fits {
		if err := p.store.Note(ctx, p.event(failure(techlog.ProofFailed, tried), held.Account.ID, held.Account.Name, From{})); err != nil {
			return "", err
		}
		return "", techlog.Errorf(techlog.KindUnproven, "the proof is wrong, spent, too late or for something else")
	}
	return how, p.forgive(ctx, held.Account, From{})
}

// fits tells whether a proof is one, and by what.
func (p *People) fits(ctx context.Context, held Credentials, proof hangar.Proof, digest [32]byte) (hangar.Proven, bool, error) {
	if proof.Passkey == nil {
		fits, err := p.check(ctx, held, proof.Password)
		return hangar.ByPassword, fits, err
	}
	if proof.Password != "" {
		return "", false, nil
	}
	c, err := p.store.TakeChallenge(ctx, held.Account.ID, proof.Passkey.Challenge, p.now())
	switch {
	case techlog.KindOf(err) == techlog.KindNotFound:
		return "", false, nil
	case err != nil:
		return "", false, err
	case c.Purpose != toProve || string(c.About) != string(digest[:]):
		return "", false, nil
	}
	err = p.answered(ctx, held, c.State, proof.Passkey.Response)
	if techlog.KindOf(err) == techlog.KindUnproven {
		return "", false, nil
	}
	return hangar.ByPasskey, err == nil, err
}

// tooMany says that no attempt is taken for a while.
func tooMany(wait time.Duration) error {
	seconds := int(math.Ceil(wait.Seconds()))
	return &techlog.Error{
		Kind: techlog.KindRateLimited, Says: fmt.Sprintf("too many attempts: none is taken for %d s", seconds),
		After: time.Duration(seconds) * time.Second,
	}
}
