package people

import (
	"context"
	"crypto/subtle"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Elsewhere begins a trip to the other provider of identity: the address to send the person to, and what the browser
// must carry. Kind not-found if there is none.
func (p *People) Elsewhere(ctx context.Context) (Trip, string, error) {
	if p.provider == nil {
		return Trip{}, "", techlog.Errorf(techlog.KindNotFound, "this server knows no other provider of identity")
	}
	trip := Trip{State: hangar.NewSecret(), Nonce: hangar.NewSecret(), Verifier: hangar.NewSecret()}
	address, err := p.provider.Begin(ctx, trip)
	return trip, address, err
}

// Returned is what comes back from the other provider.
type Returned struct {
	Trip  Trip   // that this browser carried; zero: none
	State string // as the provider gives it back
	Code  string // empty: the provider let nobody in
}

// back redeems what comes back. Kind unauthorized if anything about it is wrong.
func (p *People) back(ctx context.Context, r Returned) (Identity, error) {
	if p.provider == nil {
		return Identity{}, techlog.Errorf(techlog.KindNotFound, "this server knows no other provider of identity")
	}
	if r.Trip.State == "" || subtle.ConstantTimeCompare([]byte(r.Trip.State), []byte(r.State)) != 1 {
		return Identity{}, techlog.Errorf(techlog.KindUnauthorized, "this browser did not begin to sign in by another provider, or it was too long ago")
	}
	if r.Code == "" {
		return Identity{}, techlog.Errorf(techlog.KindUnauthorized, "the other provider let nobody in")
	}
	identity, err := p.provider.Finish(ctx, r.Trip, r.Code)
	if techlog.KindOf(err) == techlog.KindUnproven {
		return Identity{}, &techlog.Error{Kind: techlog.KindUnauthorized, Says: "the other provider's answer does not hold", Cause: err}
	}
	return identity, err
}

// SignInFrom begins a session for whoever comes back from the other provider. A person is found by issuer and subject.
// Whoever comes for the first time is found by an e-mail address that the provider has seen to be the person's, unless a
// passkey guards that account: it is linked by its person alone, from within. Kind unauthorized.
func (p *People) SignInFrom(ctx context.Context, r Returned, from From) (Session, error) {
	identity, err := p.back(ctx, r)
	if err != nil {
		return Session{}, err
	}
	person, err := p.store.PersonOf(ctx, identityDigest(identity))
	if techlog.KindOf(err) == techlog.KindNotFound {
		return p.meet(ctx, identity, from)
	}
	if err != nil {
		return Session{}, err
	}
	held, err := p.store.CredentialsOf(ctx, person)
	if err != nil {
		return Session{}, err
	}
	return p.begin(ctx, held.Account, byProvider, from)
}

// meet links an identity that is new here.
func (p *People) meet(ctx context.Context, i Identity, from From) (Session, error) {
	stranger := techlog.Errorf(techlog.KindUnauthorized, "nobody here is linked to that identity: sign in with your password and link it, or ask an administrator to add you")
	if !i.Verified || i.Email == "" {
		return Session{}, stranger
	}
	held, err := p.held(ctx, i.Email.Digest())
	if err != nil {
		return Session{}, err
	}
	if held.Account.ID.IsZero() || len(held.Passkeys) > 0 {
		return Session{}, stranger
	}
	if err := p.link(ctx, held.Account, i, from); err != nil {
		return Session{}, err
	}
	return p.begin(ctx, held.Account, byProvider, from)
}

// LinkFrom links the identity that comes back to the person who is signed in. Kinds unauthorized, conflict.
func (p *People) LinkFrom(ctx context.Context, s Session, r Returned) error {
	identity, err := p.back(ctx, r)
	if err != nil {
		return err
	}
	return p.link(ctx, s.Account, identity, s.From)
}

func (p *People) link(ctx context.Context, a techlog.Account, i Identity, from From) error {
	e := p.event(techlog.IdentityLinked, a.ID, a.Name, from)
	e.About = i.Issuer
	return p.store.LinkIdentity(ctx, a.ID, identityDigest(i), i, p.now(), e)
}
