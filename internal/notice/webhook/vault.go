package webhook

import (
	"crypto/aes"
	"crypto/cipher"
	"crypto/hkdf"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"

	"tiedown/internal/techlog"
)

// Vault seals the secrets that deliveries are signed with, so that whoever reads the database, or a copy of it, can sign
// nothing. Its key is derived from the installation's own secret.
type Vault struct {
	aead cipher.AEAD
}

// vaultInfo sets the derived key apart from every other that is derived from the same secret (RFC 5869, 3.2).
const vaultInfo = "tiedown webhook secrets, 1"

// NewVault makes the vault of an installation, by a key of 256 bits that HKDF derives from its secret.
func NewVault(secret []byte) (Vault, error) {
	if len(secret) == 0 {
		return Vault{}, errors.New("there is no secret to derive the key of webhooks from")
	}
	const bits256 = 32
	key, err := hkdf.Key(sha256.New, secret, nil, vaultInfo, bits256)
	if err != nil {
		return Vault{}, fmt.Errorf("derive the key of webhooks: %w", err)
	}
	block, err := aes.NewCipher(key)
	if err != nil {
		return Vault{}, err
	}
	aead, err := cipher.NewGCM(block)
	return Vault{aead}, err
}

// Place says which secret is meant: what was sealed for one opens as no other.
type Place struct{ Organization, Webhook, Secret techlog.ID }

func (p Place) bytes() []byte {
	var b []byte
	for _, id := range []techlog.ID{p.Organization, p.Webhook, p.Secret} {
		b = append(b, id[:]...)
	}
	return b
}

// secretBytes is within the 24 to 64 bytes that the Standard Webhooks specification asks for.
const secretBytes = 32

// secretPrefix begins the written form of a secret, as Standard Webhooks has it.
const secretPrefix = "whsec_"

// NewSecret makes a secret in the form that receivers take, and sealed.
func (v Vault) NewSecret(organization, webhook, secret techlog.ID) (string, []byte) {
	p := Place{organization, webhook, secret}
	b := make([]byte, secretBytes)
	_, _ = rand.Read(b) // never fails
	return secretPrefix + base64.StdEncoding.EncodeToString(b), v.seal(p, b)
}

func (v Vault) seal(p Place, secret []byte) []byte {
	nonce := make([]byte, v.aead.NonceSize())
	_, _ = rand.Read(nonce) // never fails
	return v.aead.Seal(nonce, nonce, secret, p.bytes())
}

// errSealed is told to whoever looks at the deliveries.
var errSealed = errors.New("its secret was sealed under another key of this installation: make a new one")

// open gives a secret back. It fails if the secret was sealed under another key or for another place, or was altered.
func (v Vault) open(p Place, sealed []byte) ([]byte, error) {
	if len(sealed) < v.aead.NonceSize() {
		return nil, errSealed
	}
	secret, err := v.aead.Open(nil, sealed[:v.aead.NonceSize()], sealed[v.aead.NonceSize():], p.bytes())
	if err != nil {
		return nil, errSealed
	}
	return secret, nil
}
