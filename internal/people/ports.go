package people

import (
	"context"
	"encoding/json"
	"time"

	"tiedown/internal/techlog"
)

// Hasher makes hashes of passwords that are slow to try out, and checks against them.
type Hasher interface {
	// Hash gives the hash in the PHC form. It waits for its turn, and fails with the context.
	Hash(ctx context.Context, password string) (string, error)
	// Check reports whether a password is the one that was hashed, and whether the hash is made by other parameters
	// than today's. It works as hard for an empty hash, which nothing fits.
	Check(ctx context.Context, hash, password string) (fits, outdated bool, err error)
}

// Keys is the ceremonies of passkeys. What it calls a record is its own: public key, counter and so on.
type Keys interface {
	// Register begins to register a passkey: options are for the browser, state is for Registered. have are records.
	Register(a techlog.Account, have [][]byte) (options, state []byte, err error)
	// Registered checks the authenticator's answer. handle is what the authenticator calls the passkey. Kind unproven.
	Registered(a techlog.Account, state []byte, response json.RawMessage) (handle, record []byte, err error)
	// Ask begins to ask one of the passkeys; about is in the challenge, and so in what the authenticator signs.
	Ask(person techlog.ID, have [][]byte, about []byte) (options, state []byte, err error)
	// Answered checks the answer: which of the passkeys gave it, and its new record. Kind unproven if it is wrong, or
	// if the counter says that there are two of the authenticator.
	Answered(person techlog.ID, have [][]byte, state []byte, response json.RawMessage) (which int, record []byte, err error)
}

// Provider is another provider of identity.
type Provider interface {
	// Begin gives the address to send the person to. trip is kept by the browser meanwhile, and comes back to Finish.
	Begin(ctx context.Context, trip Trip) (string, error)
	// Finish redeems the code. Kind unproven if anything about it is wrong.
	Finish(ctx context.Context, trip Trip, code string) (Identity, error)
}

// Trip is what a browser carries to another provider and back. Each is 256 random bits, as text.
type Trip struct {
	State    string
	Nonce    string
	Verifier string
}

// Identity is who a person is to another provider.
type Identity struct {
	Issuer   string
	Subject  string
	Email    techlog.Email
	Verified bool // the provider has seen that the address is the person's
	Name     string
}

// Store keeps what belongs to persons. A method that names a person asks as that person.
type Store interface {
	// Attempt counts an attempt to get in: by an e-mail address, the first subject, and from a network address, the
	// second if there is one. If one of them is locked it tells until when; what is locked does not count.
	Attempt(ctx context.Context, by []Subject, at time.Time) (Tried, error)
	// Forgive forgets the attempts by an e-mail address, and the last from a network address (zero: from none).
	Forgive(ctx context.Context, email, address [32]byte, at time.Time) error

	// Credentials finds what a person who presents an address is held against: kind not-found.
	Credentials(ctx context.Context, email [32]byte) (Credentials, error)
	CredentialsOf(ctx context.Context, person techlog.ID) (Credentials, error)
	// SetPassword sets the hash and ends the person's sessions but one (zero: all of them).
	SetPassword(ctx context.Context, person techlog.ID, hash string, but techlog.ID, at time.Time, e techlog.SecurityEvent) error
	// Rehash replaces a hash by one of the same password.
	Rehash(ctx context.Context, person techlog.ID, old, hash string) error
	// LinkOf tells who may set the password with a link. Kind not-found if it is none, or spent, or has run out, or if
	// it is good only for somebody new and there is a password, or an identity at another provider.
	LinkOf(ctx context.Context, digest [32]byte, at time.Time) (techlog.ID, error)
	// UseLink spends a link, sets the hash and ends every session of the person. Kind not-found as for LinkOf.
	UseLink(ctx context.Context, digest [32]byte, person techlog.ID, hash string, at time.Time, e techlog.SecurityEvent) error

	Memberships(ctx context.Context, person techlog.ID) ([]techlog.Membership, error)
	Note(ctx context.Context, e techlog.SecurityEvent) error
	SecurityEvents(ctx context.Context, person techlog.ID, limit int, before techlog.ID) ([]techlog.SecurityEvent, error)

	AddSession(ctx context.Context, s Session, e techlog.SecurityEvent) error
	// ReplaceSession ends a session and begins another in its place. Kind unauthorized if it has ended already.
	ReplaceSession(ctx context.Context, old techlog.ID, s Session) error
	// Session finds the session of a secret: kind unauthorized.
	Session(ctx context.Context, digest [32]byte) (Session, error)
	TouchSession(ctx context.Context, person, id techlog.ID, at time.Time) error
	// Sessions lists those that have not ended, newest first.
	Sessions(ctx context.Context, person techlog.ID, at time.Time) ([]Session, error)
	// EndSession ends one: kind not-found if there is none, or it has ended.
	EndSession(ctx context.Context, person, id techlog.ID, at time.Time, e techlog.SecurityEvent) error

	AddChallenge(ctx context.Context, c Challenge) error
	// TakeChallenge spends a challenge: kind not-found if it is none, or spent, or run out.
	TakeChallenge(ctx context.Context, person, id techlog.ID, at time.Time) (Challenge, error)
	// TakeTicket spends the challenge of a ticket likewise.
	TakeTicket(ctx context.Context, digest [32]byte, at time.Time) (Challenge, error)

	Passkeys(ctx context.Context, person techlog.ID) ([]Passkey, error)
	// AddPasskey keeps a passkey, and recovery codes in place of all that were kept, if there are any.
	AddPasskey(ctx context.Context, k Passkey, codes [][32]byte, events ...techlog.SecurityEvent) error
	// UsePasskey keeps the record after a use: kind unproven if another use was first.
	UsePasskey(ctx context.Context, k Passkey, at time.Time) error
	RemovePasskey(ctx context.Context, person, id techlog.ID, at time.Time, e techlog.SecurityEvent) error
	ReplaceRecoveryCodes(ctx context.Context, person techlog.ID, codes [][32]byte, at time.Time, e techlog.SecurityEvent) error
	// UseRecoveryCode spends a code: kind not-found if it is none, or spent.
	UseRecoveryCode(ctx context.Context, person techlog.ID, code [32]byte, at time.Time, e techlog.SecurityEvent) error

	// PersonOf finds who has linked an identity: kind not-found.
	PersonOf(ctx context.Context, identity [32]byte) (techlog.ID, error)
	LinkIdentity(ctx context.Context, person techlog.ID, digest [32]byte, i Identity, at time.Time, e techlog.SecurityEvent) error
	Identities(ctx context.Context, person techlog.ID) ([]Identity, error)

	// AddAccount makes an account with a link to set its password, and its membership, as the program itself: kind
	// conflict if there is one of this address.
	AddAccount(ctx context.Context, a techlog.Account, link techlog.PasswordLink, in *NewMember) error
	// AddLink makes a link for the person of an address, whoever it is, as the program itself: kind not-found.
	AddLink(ctx context.Context, email [32]byte, link techlog.PasswordLink) error
}

// Subject is what attempts are counted by.
type Subject struct {
	Digest [32]byte
	Limit  Limit
}

// Limit says how often somebody may try. The attempt that uses up the free ones locks, for as long as First says; each
// after it for twice as long as the one before, but no longer than Longest.
type Limit struct {
	Free      int
	First     time.Duration
	Longest   time.Duration
	Forgotten time.Duration // without an attempt: counting begins anew
}

// Tried is what became of an attempt.
type Tried struct {
	Failures int       // by this address, this one counted
	Locked   time.Time // zero: the attempt may go on
}

// Credentials is what a person is held against.
type Credentials struct {
	Account  techlog.Account
	Hash     string // empty: no password has been set
	Passkeys []Passkey
}

// Passkey is a passkey of a person.
type Passkey struct {
	Person  techlog.ID
	ID      techlog.ID
	Handle  []byte
	Name    string
	Record  []byte
	Version int
	Added   time.Time
	Used    time.Time // zero: not yet
}

// Challenge is what a passkey is asked.
type Challenge struct {
	Person  techlog.ID
	ID      techlog.ID
	Ticket  [32]byte // digest; of a sign-in
	Purpose Purpose
	About   []byte // digest of what is signed; of a proof
	State   []byte
	At      time.Time
	Until   time.Time
}

// Purpose is what a challenge is for.
type Purpose string

// The purposes of a challenge.
const (
	toSignIn   Purpose = "sign-in"
	toRegister Purpose = "register"
	toProve    Purpose = "proof"
)

// Purposes lists every purpose.
func Purposes() []Purpose { return []Purpose{toSignIn, toRegister, toProve} }

// NewMember is what a new account is in an organization.
type NewMember struct {
	Organization techlog.ID
	Name         string
	Roles        techlog.RoleSet
	By           string
}
