package techlog

import (
	"crypto/sha256"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// Account is a person, who may be in several organizations.
type Account struct {
	ID    ID
	Email Email
	Name  string
	At    time.Time // when it was made
}

// Email is an e-mail address as its person writes it.
type Email string

// maxEmail is the longest address that mail can be sent to, in bytes (RFC 5321, 4.5.3.1.3, less the brackets).
const maxEmail = 254

// ParseEmail reads an address: something, an @ and something, without spaces. More than that only sending a mail tells.
func ParseEmail(s string) (Email, bool) {
	s = strings.TrimSpace(s)
	at := strings.LastIndexByte(s, '@')
	if at < 1 || at == len(s)-1 || len(s) > maxEmail || !utf8.ValidString(s) {
		return "", false
	}
	strange := func(r rune) bool { return unicode.IsSpace(r) || unicode.IsControl(r) }
	return Email(s), !strings.ContainsFunc(s, strange)
}

// Digest is what an address is found by: SHA-256, whatever letters are written large.
func (e Email) Digest() [32]byte {
	return sha256.Sum256([]byte("email:" + strings.ToLower(strings.TrimSpace(string(e)))))
}

// Member is what a person is in an organization.
type Member struct {
	Person  ID
	Name    string // by which the organization knows the person
	Email   Email
	Roles   RoleSet
	Since   time.Time
	Until   time.Time // zero: it lasts
	Version int
}

// Lasts reports whether the membership has not ended.
func (m *Member) Lasts() bool { return m.Until.IsZero() }

// MemberEntry is an entry in the history of a membership.
type MemberEntry struct {
	Person ID
	Number int // the version that it made
	At     time.Time
	By     string
	Name   string
	Roles  RoleSet
	Until  time.Time // zero: the membership lasts
}

// PasswordLink lets its bearer set a person's password once.
type PasswordLink struct {
	Person ID
	Digest [32]byte // of its secret
	At     time.Time
	Until  time.Time
	First  bool // good only while there is neither a password nor a linked identity
}

// Membership is an organization that a person is in.
type Membership struct {
	Organization Organization
	Name         string
	Roles        RoleSet
}

// Scope bounds what a token is good for, below what its roles may. The zero scope bounds nothing.
type Scope struct {
	Limited bool
	Actions []Action // that it may do beside reading, if it is limited
}

// Has reports whether the scope lets an action pass.
func (s Scope) Has(a Action) bool { return !s.Limited || slices.Contains(s.Actions, a) }

// AccessToken is a token that a person made for a program, or for a program of the person's own.
type AccessToken struct {
	ID      ID
	Name    string
	Maker   ID   // zero: whoever runs the server made it
	Own     bool // it stands for its maker
	Roles   RoleSet
	Scope   Scope
	MadeAt  time.Time // zero: not known
	Until   time.Time // zero: it does not run out
	Revoked time.Time // zero: it has not been taken back
}

// SecurityEventKind says what happened to an account, a token or a membership.
type SecurityEventKind string

// The kinds of security event.
const (
	SignedIn          SecurityEventKind = "signed-in"
	SignInFailed      SecurityEventKind = "sign-in-failed"
	Locked            SecurityEventKind = "locked" // too many attempts: none is taken for a while
	ProofFailed       SecurityEventKind = "proof-failed"
	PasswordSet       SecurityEventKind = "password-set"
	PasswordLinkMade  SecurityEventKind = "password-link-made"
	PasskeyAdded      SecurityEventKind = "passkey-added"
	PasskeyRemoved    SecurityEventKind = "passkey-removed"
	RecoveryCodesMade SecurityEventKind = "recovery-codes-made"
	RecoveryCodeUsed  SecurityEventKind = "recovery-code-used"
	IdentityLinked    SecurityEventKind = "identity-linked"
	SessionEnded      SecurityEventKind = "session-ended"
	TokenMade         SecurityEventKind = "token-made"
	TokenRevoked      SecurityEventKind = "token-revoked"
	MemberAdded       SecurityEventKind = "member-added"
	MemberChanged     SecurityEventKind = "member-changed"
	MemberEnded       SecurityEventKind = "member-ended"
)

// SecurityEventKinds lists every kind of security event.
func SecurityEventKinds() []SecurityEventKind {
	return []SecurityEventKind{
		SignedIn, SignInFailed, Locked, ProofFailed, PasswordSet, PasswordLinkMade, PasskeyAdded, PasskeyRemoved, RecoveryCodesMade,
		RecoveryCodeUsed, IdentityLinked, SessionEnded, TokenMade, TokenRevoked, MemberAdded, MemberChanged, MemberEnded,
	}
}

// SecurityEvent is something that happened to an account, a token or a membership. It is only ever added.
type SecurityEvent struct {
	ID      ID
	Person  ID       // whom it happened to; zero: nobody who is known
	Email   [32]byte // digest of the address that was presented, where nobody is known; zero: none
	Kind    SecurityEventKind
	About   string // what it happened to, such as the name of a token
	By      string
	Address string // network address that it was asked from; empty: not known
	At      time.Time
}
