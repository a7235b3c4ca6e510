package audit

import (
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// Key signs checkpoints for an installation.
type Key struct {
	signer note.Signer
	public PublicKey
}

// keyName is the name of every installation's key; its own number tells it from others.
const keyName = "tiedown"

// NewKey makes the secret form of a new key.
func NewKey(random io.Reader) (string, error) {
	secret, _, err := note.GenerateKey(random, keyName)
	if err != nil {
		return "", fmt.Errorf("make a key: %w", err)
	}
	return secret + "\n", nil
}

var errKey = errors.New("it holds no key: want the one line PRIVATE+KEY+tiedown+…, as the program wrote it")

// ReadKey reads the secret form of a key. Errors do not repeat any of it.
func ReadKey(secret string) (Key, error) {
	secret = strings.TrimSuffix(secret, "\n")
	signer, err := note.NewSigner(secret)
	parts := strings.SplitN(secret, "+", 5)
	if err != nil || len(parts) != 5 || signer.Name() != keyName || !isWritten(secret) {
		return Key{}, errKey
	}
	seed, err := base64.StdEncoding.DecodeString(parts[4])
	if err != nil || len(seed) != 1+ed25519.SeedSize {
		return Key{}, errKey
	}
	public, ok := ed25519.NewKeyFromSeed(seed[1:]).Public().(ed25519.PublicKey)
	if !ok {
		return Key{}, errKey
	}
	written, err := note.NewEd25519VerifierKey(keyName, public)
	if err != nil {
		return Key{}, errKey
	}
	k := Key{signer: signer}
	k.public, err = ParsePublicKey(written)
	return k, err
}

// Public is the key's public half.
func (k Key) Public() PublicKey { return k.public }

// PublicKey checks what a Key has signed.
type PublicKey struct {
	written  string
	verifier note.Verifier
}

// ParsePublicKey reads a public key as it is handed out: tiedown+8 digits+base64, in one line.
func ParsePublicKey(s string) (PublicKey, error) {
	s = strings.TrimSuffix(s, "\n")
	v, err := note.NewVerifier(s)
	if err != nil || v.Name() != keyName || !isWritten(s) {
		return PublicKey{}, errors.New("it is no public key: want tiedown+…, as `tiedown audit key` prints it")
	}
	return PublicKey{s, v}, nil
}

// String is the key as it is handed out.
func (p PublicKey) String() string { return p.written }

// Name tells the key from others: tiedown+8 digits.
func (p PublicKey) Name() string { return keyNumber(p.verifier.KeyHash()) }

func keyNumber(hash uint32) string { return fmt.Sprintf("%s+%08x", keyName, hash) }
