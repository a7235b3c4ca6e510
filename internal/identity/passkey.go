package identity

import (
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"net/url"

	"github.com/go-webauthn/webauthn/protocol"
	"github.com/go-webauthn/webauthn/webauthn"

	"tiedown/internal/people"
	"tiedown/internal/techlog"
)

// Passkeys is the ceremonies of passkeys, for one address at which people reach the server.
type Passkeys struct {
	rp *webauthn.WebAuthn
}

var _ people.Keys = (*Passkeys)(nil)

// NewPasskeys makes the ceremonies. A passkey belongs to the host's name, and answers pages of the address alone. A
// browser knows no passkeys of a bare network address: a server that has no other, as one that is tried out, has passkeys
// at localhost.
func NewPasskeys(publicURL string) (*Passkeys, error) {
	u, err := url.Parse(publicURL)
	if err != nil || u.Host == "" {
		return nil, fmt.Errorf("%q is no address that people reach a server at", publicURL)
	}
	host := u.Hostname()
	if host == "" || net.ParseIP(host) != nil {
		host = "localhost"
		u.Host = net.JoinHostPort(host, u.Port())
		if u.Port() == "" {
			u.Host = host
		}
	}
	config := &webauthn.Config{
		RPID: host, RPDisplayName: "Tiedown", RPOrigins: []string{u.Scheme + "://" + u.Host},
		AttestationPreference: protocol.PreferNoAttestation,
		AuthenticatorSelection: protocol.AuthenticatorSelection{
			ResidentKey: protocol.ResidentKeyRequirementPreferred, UserVerification: protocol.VerificationPreferred,
		},
	}
	rp, err := webauthn.New(config)
	if err != nil {
		return nil, fmt.Errorf("passkeys at %s: %w", publicURL, err)
	}
	return &Passkeys{rp}, nil
}

// holder is a person as the library sees one.
type holder struct {
	id          techlog.ID
	email, name string
	credentials []webauthn.Credential
}

func (h *holder) WebAuthnID() []byte                         { return h.id[:] }
func (h *holder) WebAuthnName() string                       { return h.email }
func (h *holder) WebAuthnDisplayName() string                { return h.name }
func (h *holder) WebAuthnCredentials() []webauthn.Credential { return h.credentials }

func read(records [][]byte) ([]webauthn.Credential, error) {
	all := make([]webauthn.Credential, len(records))
	for i, r := range records {
		if err := json.Unmarshal(r, &all[i]); err != nil {
			return nil, fmt.Errorf("the record of a passkey cannot be read: %w", err)
		}
	}
	return all, nil
}

// Register implements people.Keys.
func (k *Passkeys) Register(a techlog.Account, have [][]byte) (options, state []byte, err error) {
	credentials, err := read(have)
	if err != nil {
		return nil, nil, err
	}
	h := &holder{a.ID, string(a.Email), a.Name, credentials}
	excluded := webauthn.Credentials(credentials).CredentialDescriptors()
	creation, session, err := k.rp.BeginRegistration(h, webauthn.WithExclusions(excluded))
	if err != nil {
		return nil, nil, err
	}
	return both(creation, session)
}

func both(options, session any) (first, second []byte, err error) {
	if first, err = json.Marshal(options); err != nil {
		return nil, nil, err
	}
	second, err = json.Marshal(session)
	return first, second, err
}

// Registered implements people.Keys.
func (k *Passkeys) Registered(a techlog.Account, state []byte, response json.RawMessage) (handle, record []byte, err error) {
	var session webauthn.SessionData
	if err := json.Unmarshal(state, &session); err != nil {
		return nil, nil, err
	}
	parsed, err := protocol.ParseCredentialCreationResponseBytes(response)
	if err != nil {
		return nil, nil, unproven(err)
	}
	credential, err := k.rp.CreateCredential(&holder{id: a.ID, email: string(a.Email), name: a.Name}, session, parsed)
	if err != nil {
		return nil, nil, unproven(err)
	}
	record, err = json.Marshal(credential)
	return credential.ID, record, err
}

// Ask implements people.Keys. The challenge is 256 random bits, and what it is about after them.
func (k *Passkeys) Ask(person techlog.ID, have [][]byte, about []byte) (options, state []byte, err error) {
	credentials, err := read(have)
	if err != nil {
		return nil, nil, err
	}
	challenge := make([]byte, 32, 64)
	_, _ = rand.Read(challenge) // never fails
	challenge = append(challenge, about...)
	assertion, session, err := k.rp.BeginLogin(&holder{id: person, credentials: credentials}, webauthn.WithChallenge(challenge))
	if err != nil {
		return nil, nil, err
	}
	return both(assertion, session)
}

// Answered implements people.Keys.
func (k *Passkeys) Answered(person techlog.ID, have [][]byte, state []byte, response json.RawMessage) (which int, record []byte, err error) {
	var session webauthn.SessionData
	if err := json.Unmarshal(state, &session); err != nil {
		return 0, nil, err
	}
	credentials, err := read(have)
	if err != nil {
		return 0, nil, err
	}
	parsed, err := protocol.ParseCredentialRequestResponseBytes(response)
	if err != nil {
		return 0, nil, unproven(err)
	}
	used, err := k.rp.ValidateLogin(&holder{id: person, credentials: credentials}, session, parsed)
	if err != nil {
		return 0, nil, unproven(err)
	}
	if used.Authenticator.CloneWarning {
		return 0, nil, unproven(errors.New("the counter did not go up: there may be two of this authenticator"))
	}
	for i, c := range credentials {
		if string(c.ID) == string(used.ID) {
			record, err = json.Marshal(used)
			return i, record, err
		}
	}
	return 0, nil, unproven(errors.New("the passkey is another's"))
}

func unproven(cause error) error {
	return &techlog.Error{Kind: techlog.KindUnproven, Says: "the passkey's answer does not hold", Cause: cause}
}
