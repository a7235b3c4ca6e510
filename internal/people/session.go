package people

import (
	"context"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// Session is a person's stay in the pages. It acts in one organization at a time.
type Session struct {
	ID           techlog.ID
	Digest       [32]byte // of its secret
	Account      techlog.Account
	Organization techlog.ID // zero: none is chosen
	Member       *techlog.Member
	Began        time.Time
	Seen         time.Time
	Until        time.Time
	Factor       string // how the person signed in
	From         From

	Secret string // only when it has just been made
}

// How a person signed in.
const (
	byPassword = "password"
	byPasskey  = "password and passkey"
	byRecovery = "password and recovery code"
	byProvider = "another provider"
)

// Principal is who a session acts as. Its organization is zero while none is chosen, or after the membership has ended.
func (s *Session) Principal() techlog.Principal {
	who := techlog.Principal{Person: s.Account.ID, Token: s.Account.ID, Name: s.Account.Name, Until: s.ends()}
	if s.Member != nil {
		who.Organization, who.Name, who.Roles = s.Organization, s.Member.Name, s.Member.Roles
	}
	return who
}

// ends is when a session that nobody uses from now on is over.
func (s *Session) ends() time.Time {
	if idle := s.Seen.Add(sessionIdle); idle.Before(s.Until) {
		return idle
	}
	return s.Until
}

// Resume finds the session of a secret, which is used thereby: kind unauthorized if there is none, or it is over.
func (p *People) Resume(ctx context.Context, secret string) (Session, error) {
	s, err := p.Look(ctx, secret)
	if err != nil {
		return Session{}, err
	}
	if now := p.now(); now.Sub(s.Seen) >= sessionTouch {
		if err := p.store.TouchSession(ctx, s.Account.ID, s.ID, now); err != nil {
			return Session{}, err
		}
		s.Seen = now
	}
	return s, nil
}

// Look finds the session of a secret and does not use it: it is over when it would be without.
func (p *People) Look(ctx context.Context, secret string) (Session, error) {
	digest, ok := hangar.SecretDigest(secret)
	if !ok {
		return Session{}, errNoSession()
	}
	s, err := p.store.Session(ctx, digest)
	if err != nil {
		return Session{}, err
	}
	if !p.now().Before(s.ends()) {
		return Session{}, errNoSession()
	}
	return s, nil
}

func errNoSession() error {
	return techlog.Errorf(techlog.KindUnauthorized, "the session is over: sign in again")
}

// begin makes a session for somebody who has proved who it is. It acts in the first of the person's organizations.
func (p *People) begin(ctx context.Context, a techlog.Account, factor string, from From) (Session, error) {
	memberships, err := p.store.Memberships(ctx, a.ID)
	if err != nil {
		return Session{}, err
	}
	s := p.fresh(Session{Account: a, Factor: factor, From: from})
	if len(memberships) > 0 {
		s.in(memberships[0])
	}
	return s, p.store.AddSession(ctx, s, p.event(techlog.SignedIn, a.ID, a.Name, from))
}

// fresh gives a session a secret of its own, and a new life.
func (p *People) fresh(s Session) Session {
	s.ID, s.Secret = p.newID(), hangar.NewSecret()
	s.Digest, _ = hangar.SecretDigest(s.Secret)
	s.Began = p.now()
	s.Seen, s.Until = s.Began, s.Began.Add(sessionLife)
	if len(s.From.Agent) > maxAgent {
		s.From.Agent = s.From.Agent[:maxAgent]
	}
	return s
}

func (s *Session) in(m techlog.Membership) {
	s.Organization = m.Organization.ID
	s.Member = &techlog.Member{Person: s.Account.ID, Name: m.Name, Roles: m.Roles}
}

// Choose lets a session act in another of the person's organizations. What it may do changes with that: so it gets a
// new secret, and the old one ends. Kind not-found if the person is not in that organization.
func (p *People) Choose(ctx context.Context, s Session, organization techlog.ID) (Session, error) {
	memberships, err := p.store.Memberships(ctx, s.Account.ID)
	if err != nil {
		return Session{}, err
	}
	for _, m := range memberships {
		if m.Organization.ID == organization {
			next := p.fresh(s)
			next.Until = s.Until
			next.in(m)
			return next, p.store.ReplaceSession(ctx, s.ID, next)
		}
	}
	return Session{}, techlog.Errorf(techlog.KindNotFound, "you are in no such organization")
}

// SignOut ends a session.
func (p *People) SignOut(ctx context.Context, s Session) error {
	return p.EndSession(ctx, s.Account, s.ID, s.From)
}

// EndSession ends one of the person's own sessions. Kind not-found.
func (p *People) EndSession(ctx context.Context, a techlog.Account, id techlog.ID, from From) error {
	return p.store.EndSession(ctx, a.ID, id, p.now(), p.event(techlog.SessionEnded, a.ID, a.Name, from))
}

// Sessions lists the person's own sessions that are not over.
func (p *People) Sessions(ctx context.Context, person techlog.ID) ([]Session, error) {
	all, err := p.store.Sessions(ctx, person, p.now())
	if err != nil {
		return nil, err
	}
	var live []Session
	for _, s := range all {
		if p.now().Before(s.ends()) {
			live = append(live, s)
		}
	}
	return live, nil
}

// Me is what a person is told about himself or herself.
func (p *People) Me(ctx context.Context, person techlog.ID) (Person, error) {
	held, err := p.store.CredentialsOf(ctx, person)
	if err != nil {
		return Person{}, err
	}
	memberships, err := p.store.Memberships(ctx, person)
	if err != nil {
		return Person{}, err
	}
	identities, err := p.store.Identities(ctx, person)
	return Person{held.Account, memberships, identities, len(held.Passkeys)}, err
}

// SecurityEvents lists what happened to the person's account, newest first.
func (p *People) SecurityEvents(ctx context.Context, person techlog.ID, limit int, before techlog.ID) ([]techlog.SecurityEvent, error) {
	return p.store.SecurityEvents(ctx, person, limit, before)
}
