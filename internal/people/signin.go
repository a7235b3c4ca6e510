package people

import (
	"context"
	"encoding/json"
	"time"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// SignedIn is what signing in has come to: a session, or a second step that is asked for.
type SignedIn struct {
	Session Session
	Second  *SecondStep
}

// SecondStep asks for a passkey, or for a recovery code in its place.
type SecondStep struct {
	Ticket  string
	Options json.RawMessage // for the browser
}

// maxPassword bounds what is hashed, in bytes.
const maxPassword = 1024

// SignIn begins a session for whoever knows the password of an address. Nobody learns from the answer, nor from the
// work that it takes, whether there is such an account: an attempt counts before anything is looked up, an address that
// nobody has is locked like any other, and its password is checked against a hash that nothing fits. Kinds
// unauthorized, rate-limited.
func (p *People) SignIn(ctx context.Context, email, password string, from From) (SignedIn, error) {
	presented := techlog.Email(email)
	tried, err := p.attempt(ctx, presented.Digest(), from)
	if err != nil {
		return SignedIn{}, err
	}
	held, err := p.held(ctx, presented.Digest())
	if err != nil {
		return SignedIn{}, err
	}
	fits, err := p.check(ctx, held, password)
	if err != nil {
		return SignedIn{}, err
	}
	if !fits {
		e := p.event(failure(techlog.SignInFailed, tried), held.Account.ID, "", from)
		e.Email = presented.Digest()
		if err := p.store.Note(ctx, e); err != nil {
			return SignedIn{}, err
		}
		return SignedIn{}, errWrongPassword()
	}
	return p.secondStep(ctx, held, from)
}

// failure is the kind of event of a failed attempt: the one that is one too many locks.
func failure(kind techlog.SecurityEventKind, tried Tried) techlog.SecurityEventKind {
	if tried.Failures >= byEmail.Free {
		return techlog.Locked
	}
	return kind
}

func errWrongPassword() error {
	return techlog.Errorf(techlog.KindUnauthorized, "the e-mail address and the password do not belong together")
}

// attempt counts an attempt before it is known what becomes of it, so that many at once count, too.
func (p *People) attempt(ctx context.Context, email [32]byte, from From) (Tried, error) {
	subjects := []Subject{{email, byEmail}}
	if from.Address != "" {
		subjects = append(subjects, Subject{addressDigest(from.Address), byAddress})
	}
	tried, err := p.store.Attempt(ctx, subjects, p.now())
	if err == nil && !tried.Locked.IsZero() {
		err = tooMany(tried.Locked.Sub(p.now()))
	}
	return tried, err
}

// How often somebody may try. Behind one network address there may be a whole school.
var (
	byEmail   = Limit{Free: 5, First: 30 * time.Second, Longest: 15 * time.Minute, Forgotten: 24 * time.Hour}
	byAddress = Limit{Free: 50, First: 30 * time.Second, Longest: 15 * time.Minute, Forgotten: 24 * time.Hour}
)

// held is nothing at all for an address that nobody has.
func (p *People) held(ctx context.Context, email [32]byte) (Credentials, error) {
	held, err := p.store.Credentials(ctx, email)
	if techlog.KindOf(err) == techlog.KindNotFound {
		return Credentials{}, nil
	}
	return held, err
}

// check holds a password against the hash, and makes a new hash where the old one is made as it no longer is.
func (p *People) check(ctx context.Context, held Credentials, password string) (bool, error) {
	hash := held.Hash
	if len(password) > maxPassword {
		password, hash = "", ""
	}
	fits, outdated, err := p.hasher.Check(ctx, hash, password)
	if err != nil || !fits || !outdated {
		return fits, err
	}
	renewed, err := p.hasher.Hash(ctx, password)
	if err != nil {
		return false, err
	}
	return true, p.store.Rehash(ctx, held.Account.ID, held.Hash, renewed)
}

// secondStep asks for a passkey if there is one, and begins the session otherwise.
func (p *People) secondStep(ctx context.Context, held Credentials, from From) (SignedIn, error) {
	if len(held.Passkeys) == 0 {
		return p.finish(ctx, held.Account, byPassword, from)
	}
	options, state, err := p.keys.Ask(held.Account.ID, records(held.Passkeys), nil)
	if err != nil {
		return SignedIn{}, err
	}
	ticket := hangar.NewSecret()
	c := p.challenge(held.Account.ID, toSignIn, state)
	c.Ticket, _ = hangar.SecretDigest(ticket)
	return SignedIn{Second: &SecondStep{ticket, options}}, p.store.AddChallenge(ctx, c)
}

// finish begins the session, and forgives the attempts that led to it.
func (p *People) finish(ctx context.Context, a techlog.Account, factor string, from From) (SignedIn, error) {
	if err := p.forgive(ctx, a, from); err != nil {
		return SignedIn{}, err
	}
	s, err := p.begin(ctx, a, factor, from)
	return SignedIn{Session: s}, err
}

// forgive forgets the attempts by an address of mail, and one from a network address.
func (p *People) forgive(ctx context.Context, a techlog.Account, from From) error {
	return p.store.Forgive(ctx, a.Email.Digest(), addressDigest(from.Address), p.now())
}

// Second is the answer to a second step: a passkey's, or a recovery code.
type Second struct {
	Ticket       string
	Response     json.RawMessage
	RecoveryCode string
}

// Finish ends signing in with the second step. A ticket is good once. Kinds unauthorized, rate-limited.
func (p *People) Finish(ctx context.Context, second Second, from From) (SignedIn, error) {
	digest, ok := hangar.SecretDigest(second.Ticket)
	if !ok {
		return SignedIn{}, errSecondStep()
	}
	c, err := p.store.TakeTicket(ctx, digest, p.now())
	if techlog.KindOf(err) == techlog.KindNotFound {
		return SignedIn{}, errSecondStep()
	}
	if err != nil {
		return SignedIn{}, err
	}
	held, err := p.store.CredentialsOf(ctx, c.Person)
	if err != nil {
		return SignedIn{}, err
	}
	tried, err := p.attempt(ctx, held.Account.Email.Digest(), from)
	if err != nil {
		return SignedIn{}, err
	}
	factor := byPasskey
	if second.RecoveryCode != "" {
		factor = byRecovery
		err = p.store.UseRecoveryCode(ctx, c.Person, recoveryDigest(second.RecoveryCode), p.now(),
			p.event(techlog.RecoveryCodeUsed, c.Person, held.Account.Name, from))
	} else {
		err = p.answered(ctx, held, c.State, second.Response)
	}
	if kind := techlog.KindOf(err); kind == techlog.KindNotFound || kind == techlog.KindUnproven {
		if err := p.store.Note(ctx, p.event(failure(techlog.SignInFailed, tried), c.Person, held.Account.Name, from)); err != nil {
			return SignedIn{}, err
		}
		return SignedIn{}, errSecondStep()
	}
	if err != nil {
		return SignedIn{}, err
	}
	return p.finish(ctx, held.Account, factor, from)
}

func errSecondStep() error {
	return techlog.Errorf(techlog.KindUnauthorized, "the second step is not what was asked for, or too late: sign in again")
}

// answered checks a passkey's answer, and counts its use. Kind unproven.
func (p *People) answered(ctx context.Context, held Credentials, state []byte, response json.RawMessage) error {
	which, record, err := p.keys.Answered(held.Account.ID, records(held.Passkeys), state, response)
	if err != nil {
		return err
	}
	used := held.Passkeys[which]
	used.Record = record
	return p.store.UsePasskey(ctx, used, p.now())
}

func records(keys []Passkey) [][]byte {
	all := make([][]byte, len(keys))
	for i, k := range keys {
		all[i] = k.Record
	}
	return all
}

// challenge begins a challenge of a person.
func (p *People) challenge(person techlog.ID, purpose Purpose, state []byte) Challenge {
	now := p.now()
	return Challenge{Person: person, ID: p.newID(), Purpose: purpose, State: state, At: now, Until: now.Add(answerLife)}
}
