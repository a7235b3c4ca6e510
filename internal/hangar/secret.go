package hangar

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"strings"
	"time"

	"tiedown/internal/techlog"
)

// A secret is 256 random bits, written in letters that stand in a cookie, an address and a header alike. Only its
// SHA-256 digest is kept: of so many bits nobody finds one by trying.
const secretBytes = 32

// NewSecret makes a secret.
func NewSecret() string {
	var b [secretBytes]byte
	_, _ = rand.Read(b[:]) // never fails
	return base64.RawURLEncoding.EncodeToString(b[:])
}

// SecretDigest gives the digest that a secret is kept by, or false if it is none that NewSecret could have made.
func SecretDigest(secret string) ([32]byte, bool) {
	if len(secret) != base64.RawURLEncoding.EncodedLen(secretBytes) {
		return [32]byte{}, false
	}
	raw, err := base64.RawURLEncoding.Strict().DecodeString(secret)
	if err != nil || len(raw) != secretBytes {
		return [32]byte{}, false
	}
	return sha256.Sum256([]byte(secret)), true
}

// TokenPrefix is what every token begins with, so that one that lies about is known for what it is.
const TokenPrefix = "td_"

// maxTokenLength bounds what is taken for a token at all, in bytes.
const maxTokenLength = 200

// NewToken makes a token, and the digest that it is kept by.
func NewToken() (string, [32]byte) {
	token := TokenPrefix + NewSecret()
	return token, sha256.Sum256([]byte(token))
}

// TokenDigest gives the digest that a token is kept by, or false if it is none of this program.
func TokenDigest(token string) ([32]byte, bool) {
	if !strings.HasPrefix(token, TokenPrefix) || len(token) > maxTokenLength {
		return [32]byte{}, false
	}
	return sha256.Sum256([]byte(token)), true
}

// How long a link to set a password is good.
const (
	FirstLink = 7 * 24 * time.Hour // for somebody new
	ResetLink = 24 * time.Hour     // for somebody who forgot it
)

// NewPasswordLink makes a link, and its secret.
func NewPasswordLink(person techlog.ID, at time.Time, life time.Duration, first bool) (techlog.PasswordLink, string) {
	secret := NewSecret()
	digest, _ := SecretDigest(secret)
	return techlog.PasswordLink{Person: person, Digest: digest, At: at, Until: at.Add(life), First: first}, secret
}
