package people

import (
	"context"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// minPassword is the shortest password, in characters. NIST SP 800-63B asks 15 where it is the only factor and 8 where
// there is a second; 12 stands between, as passkeys are offered to all (from memory, not read).
const minPassword = 12

// fitPassword refuses a password that is easily guessed by whoever knows the person. field is its name in the request.
func fitPassword(field, password string, a techlog.Account) error {
	switch n := utf8.RuneCountInString(password); {
	case n < minPassword:
		return passwordFault(field, "long-enough", fmt.Sprintf("it has %d characters", n), fmt.Sprintf("give at least %d; a few words that do not belong together are easy to remember", minPassword))
	case len(password) > maxPassword:
		return passwordFault(field, "short-enough", fmt.Sprintf("it has %d bytes", len(password)), fmt.Sprintf("give at most %d", maxPassword))
	}
	folded := fold(password)
	for _, part := range personal(a) {
		// What is left without the name must be a password by itself.
		if rest := strings.ReplaceAll(folded, part, ""); len(rest) < len(folded) && utf8.RuneCountInString(rest) < minPassword/2 {
			return passwordFault(field, "not-personal", "it is little more than your name or e-mail address", "give one that nobody who knows you would try")
		}
	}
	if varied(folded) < minPassword/3 {
		return passwordFault(field, "varied", "it repeats a few characters", "use more different ones")
	}
	return nil
}

func passwordFault(field, rule, says, remedy string) error {
	return casefile.Faults{{Field: field, Rule: rule, Says: says, Remedy: remedy}}
}

// personal is what a person's password is looked through for.
func personal(a techlog.Account) []string {
	email := fold(string(a.Email))
	name, host, _ := strings.Cut(email, "@")
	parts := append(strings.Fields(fold(a.Name)), email, name, host, strings.ReplaceAll(fold(a.Name), " ", ""))
	var long []string
	for _, part := range parts {
		if utf8.RuneCountInString(part) >= 3 {
			long = append(long, part)
		}
	}
	return long
}

func fold(s string) string { return strings.ToLower(strings.TrimFunc(s, unicode.IsSpace)) }

func varied(s string) int {
	seen := map[rune]bool{}
	for _, r := range s {
		seen[r] = true
	}
	return len(seen)
}

// ChangePassword sets another password for whoever knows the present one. Every other session of the person ends, and
// this one gets a new secret. Kinds invalid, unproven, rate-limited.
func (p *People) ChangePassword(ctx context.Context, s Session, present, next string) (Session, error) {
	held, err := p.store.CredentialsOf(ctx, s.Account.ID)
	if err != nil {
		return Session{}, err
	}
	if err := fitPassword("next", next, held.Account); err != nil {
		return Session{}, err
	}
	if _, err := p.prove(ctx, held, hangar.Proof{Password: present}, [32]byte{}); err != nil {
		return Session{}, err
	}
	if err := p.setPassword(ctx, held.Account, next, s.ID, s.From); err != nil {
		return Session{}, err
	}
	return p.rotate(ctx, s)
}

// rotate gives a session a new secret, since what it may do has changed.
func (p *People) rotate(ctx context.Context, s Session) (Session, error) {
	next := p.fresh(s)
	next.Until = s.Until
	return next, p.store.ReplaceSession(ctx, s.ID, next)
}

func (p *People) setPassword(ctx context.Context, a techlog.Account, password string, but techlog.ID, from From) error {
	hash, err := p.hasher.Hash(ctx, password)
	if err != nil {
		return err
	}
	return p.store.SetPassword(ctx, a.ID, hash, but, p.now(), p.event(techlog.PasswordSet, a.ID, a.Name, from))
}

// SetPassword sets a password for the bearer of a link. The link is spent with it, not with a password that is refused,
// and every session of the person ends. Kinds unauthorized, invalid.
func (p *People) SetPassword(ctx context.Context, link, password string, from From) error {
	// What can be told without knowing the person is told first, and the link stays good.
	if err := fitPassword("password", password, techlog.Account{}); err != nil {
		return err
	}
	digest, ok := hangar.SecretDigest(link)
	if !ok {
		return errNoLink()
	}
	person, err := p.store.LinkOf(ctx, digest, p.now())
	if techlog.KindOf(err) == techlog.KindNotFound {
		return errNoLink()
	}
	if err != nil {
		return err
	}
	held, err := p.store.CredentialsOf(ctx, person)
	if err != nil {
		return err
	}
	if err := fitPassword("password", password, held.Account); err != nil {
		return err
	}
	hash, err := p.hasher.Hash(ctx, password)
	if err != nil {
		return err
	}
	err = p.store.UseLink(ctx, digest, held.Account.ID, hash, p.now(), p.event(techlog.PasswordSet, person, held.Account.Name, from))
	if techlog.KindOf(err) == techlog.KindNotFound {
		return errNoLink()
	}
	return err
}

func errNoLink() error {
	return techlog.Errorf(techlog.KindUnauthorized, "the link is spent, too old or none of this server: ask for a new one")
}

// FirstAccount makes an account, and what it is in an organization if one is given, and gives the secret of the link
// with which the person sets the password. It is for whoever runs the server. Kinds invalid, conflict.
func (p *People) FirstAccount(ctx context.Context, email, name string, in *NewMember) (techlog.Account, string, error) {
	address, ok := techlog.ParseEmail(email)
	if !ok {
		return techlog.Account{}, "", passwordFault("email", "form", "it is no e-mail address", "give one such as name@example.org")
	}
	a := techlog.Account{ID: p.newID(), Email: address, Name: strings.TrimSpace(name), At: p.now()}
	link, secret := hangar.NewPasswordLink(a.ID, a.At, hangar.FirstLink, true)
	return a, secret, p.store.AddAccount(ctx, a, link, in)
}

// NewLink gives the secret of a link with which the person of an address sets the password anew. It is for whoever runs
// the server. Kind not-found.
func (p *People) NewLink(ctx context.Context, email string) (string, error) {
	link, secret := hangar.NewPasswordLink(techlog.ID{}, p.now(), hangar.ResetLink, false)
	return secret, p.store.AddLink(ctx, techlog.Email(email).Digest(), link)
}
