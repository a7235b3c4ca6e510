// Package authenticator is a passkey in software, so that tests go through whole ceremonies: it reads the options that a
// server sends to a browser, and answers as browser and authenticator together do (WebAuthn level 2, ES256, attestation
// "none"), from the specification and without the server's library.
//
// It owns its keys and counters, and how it may be made to misbehave. It does not own any check of an answer.
package authenticator

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
)

// Authenticator holds passkeys. Its fields may be changed to make it misbehave.
type Authenticator struct {
	Origin  string // of the page that asks
	RPID    string // that it answers for; empty: as the options say
	Counter uint32
	NextID  []byte // of the next passkey; nil: one that was never used

	keys map[string]*passkey // by the identifier, as text
}

type passkey struct {
	private *ecdsa.PrivateKey
	user    []byte
}

// New makes an authenticator whose browser shows pages of an origin.
func New(origin string) *Authenticator {
	return &Authenticator{Origin: origin, keys: map[string]*passkey{}}
}

// Clone copies the authenticator with its keys and its counter as it stands.
func (a *Authenticator) Clone() *Authenticator {
	twin := *a
	twin.keys = maps.Clone(a.keys)
	return &twin
}

// What of the options matters.
type options struct {
	PublicKey struct {
		Challenge string `json:"challenge"`
		RPID      string `json:"rpId"`
		RP        struct {
			ID string `json:"id"`
		} `json:"rp"`
		User struct {
			ID string `json:"id"`
		} `json:"user"`
		Allow []struct {
			ID string `json:"id"`
		} `json:"allowCredentials"`
		Exclude []struct {
			ID string `json:"id"`
		} `json:"excludeCredentials"`
	} `json:"publicKey"`
}

var text = base64.RawURLEncoding

// Flags of the authenticator's data.
const (
	userPresent  = 0x01
	userVerified = 0x04
	attested     = 0x40
)

// Create makes a passkey, and the answer to the options of a registration.
func (a *Authenticator) Create(raw []byte) (json.RawMessage, error) {
	var o options
	if err := json.Unmarshal(raw, &o); err != nil {
		return nil, err
	}
	for _, e := range o.PublicKey.Exclude {
		if a.keys[e.ID] != nil {
			return nil, errors.New("this authenticator holds one of the person's passkeys already")
		}
	}
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, err
	}
	user, err := text.DecodeString(o.PublicKey.User.ID)
	if err != nil {
		return nil, err
	}
	id := a.NextID
	if id == nil {
		id = make([]byte, 32)
		_, _ = rand.Read(id) // never fails
	}
	a.keys[text.EncodeToString(id)] = &passkey{private, user}
	data := a.data(o.PublicKey.RP.ID, userPresent|userVerified|attested)
	data = append(data, make([]byte, 16)...) // of no known make
	data = binary.BigEndian.AppendUint16(data, uint16(len(id)))
	data = append(data, id...)
	public, err := coseKey(&private.PublicKey)
	if err != nil {
		return nil, err
	}
	data = append(data, public...)
	return answer(id, map[string]any{
		"clientDataJSON":    text.EncodeToString(a.client("webauthn.create", o.PublicKey.Challenge)),
		"attestationObject": text.EncodeToString(attestation(data)),
		"transports":        []string{"internal"},
	})
}

// Get answers the options of a question with one of the passkeys that they allow.
func (a *Authenticator) Get(raw []byte) (json.RawMessage, error) {
	var o options
	if err := json.Unmarshal(raw, &o); err != nil {
		return nil, err
	}
	for _, allowed := range o.PublicKey.Allow {
		key := a.keys[allowed.ID]
		if key == nil {
			continue
		}
		a.Counter++
		data := a.data(o.PublicKey.RPID, userPresent|userVerified)
		client := a.client("webauthn.get", o.PublicKey.Challenge)
		clientHash := sha256.Sum256(client)
		signed := sha256.Sum256(append(data[:len(data):len(data)], clientHash[:]...))
		signature, err := ecdsa.SignASN1(rand.Reader, key.private, signed[:])
		if err != nil {
			return nil, err
		}
		id, err := text.DecodeString(allowed.ID)
		if err != nil {
			return nil, err
		}
		return answer(id, map[string]any{
			"clientDataJSON": text.EncodeToString(client), "authenticatorData": text.EncodeToString(data),
			"signature": text.EncodeToString(signature), "userHandle": text.EncodeToString(key.user),
		})
	}
	return nil, errors.New("none of the passkeys that are allowed is here")
}

// Challenge reads the challenge out of options.
func Challenge(raw []byte) ([]byte, error) {
	var o options
	if err := json.Unmarshal(raw, &o); err != nil {
		return nil, err
	}
	return text.DecodeString(o.PublicKey.Challenge)
}

func answer(id []byte, response map[string]any) (json.RawMessage, error) {
	return json.Marshal(map[string]any{
		"id": text.EncodeToString(id), "rawId": text.EncodeToString(id), "type": "public-key", "response": response,
		"clientExtensionResults": map[string]any{},
	})
}

func (a *Authenticator) client(kind, challenge string) []byte {
	return fmt.Appendf(nil, `{"type":%q,"challenge":%q,"origin":%q,"crossOrigin":false}`, kind, challenge, a.Origin)
}

func (a *Authenticator) data(rpID string, flags byte) []byte {
	if a.RPID != "" {
		rpID = a.RPID
	}
	hash := sha256.Sum256([]byte(rpID))
	return binary.BigEndian.AppendUint32(append(hash[:], flags), a.Counter)
}

// coseKey writes a public key as RFC 9053 does: EC2, ES256, P-256 and the two coordinates.
func coseKey(key *ecdsa.PublicKey) ([]byte, error) {
	point, err := key.Bytes()
	if err != nil {
		return nil, err
	}
	x, y := point[1:33], point[33:]
	out := []byte{0xa5, 0x01, 0x02, 0x03, 0x26, 0x20, 0x01, 0x21, 0x58, 0x20}
	out = append(out, x...)
	return append(append(out, 0x22, 0x58, 0x20), y...), nil
}

// attestation writes the object of an attestation "none" in CBOR.
func attestation(data []byte) []byte {
	out := []byte{0xa3, 0x63}
	out = append(out, "fmt"...)
	out = append(append(out, 0x64), "none"...)
	out = append(append(out, 0x67), "attStmt"...)
	out = append(append(out, 0xa0, 0x68), "authData"...)
	out = append(out, 0x59, byte(len(data)>>8), byte(len(data)))
	return append(out, data...)
}
