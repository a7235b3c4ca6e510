package people

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base32"
	"encoding/base64"
	"strings"
)

// FormToken is what a page of a session puts into its forms: only who can read the session's pages knows it.
func FormToken(secret string) string {
	mac := hmac.New(sha256.New, []byte(secret))
	mac.Write([]byte("form"))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// IsFormToken reports whether a token is that of the session.
func IsFormToken(secret, token string) bool {
	return hmac.Equal([]byte(FormToken(secret)), []byte(token))
}

// Recovery codes are made to be written down: 80 bits in groups of four letters and digits.
const (
	recoveryCodes = 10
	recoveryBytes = 10
	recoveryGroup = 4
)

var recoveryLetters = base32.StdEncoding.WithPadding(base32.NoPadding)

func newRecoveryCodes() (codes []string, digests [][32]byte) {
	for range recoveryCodes {
		var b [recoveryBytes]byte
		_, _ = rand.Read(b[:]) // never fails
		written := recoveryLetters.EncodeToString(b[:])
		var groups []string
		for i := 0; i < len(written); i += recoveryGroup {
			groups = append(groups, written[i:i+recoveryGroup])
		}
		codes = append(codes, strings.Join(groups, "-"))
		digests = append(digests, recoveryDigest(written))
	}
	return codes, digests
}

// recoveryDigest reads a code as people write it, with or without dashes, in any letters.
func recoveryDigest(code string) [32]byte {
	plain := strings.NewReplacer("-", "", " ", "").Replace(strings.ToUpper(code))
	return sha256.Sum256([]byte("recovery:" + plain))
}

func addressDigest(address string) [32]byte {
	if address == "" {
		return [32]byte{}
	}
	return sha256.Sum256([]byte("address:" + address))
}

func identityDigest(i Identity) [32]byte {
	return sha256.Sum256([]byte("identity:" + i.Issuer + "\x00" + i.Subject))
}
