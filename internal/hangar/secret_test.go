package hangar_test

import (
	"strings"
	"testing"

	"tiedown/internal/hangar"
)

func TestSecretsAreTheirOwn(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for range 1000 {
		secret := hangar.NewSecret()
		digest, ok := hangar.SecretDigest(secret)
		if !ok || digest == ([32]byte{}) || seen[secret] {
			t.Fatalf("%q, %v", secret, ok)
		}
		seen[secret] = true
		token, digest := hangar.NewToken()
		if again, ok := hangar.TokenDigest(token); !ok || again != digest || !strings.HasPrefix(token, hangar.TokenPrefix) {
			t.Fatalf("%q, %v", token, ok)
		}
	}
}

// FuzzSecret reads what may stand in a cookie: only what this program could have given out has a digest, and it is
// written in one way.
func FuzzSecret(f *testing.F) {
	f.Add(hangar.NewSecret())
	f.Add("")
	f.Add(strings.Repeat("A", 43))
	f.Add(strings.Repeat("B", 43)) // bits that are left over
	f.Add(strings.Repeat("A", 42) + "\n")
	f.Fuzz(func(t *testing.T, s string) {
		if _, ok := hangar.SecretDigest(s); ok && (len(s) != 43 || strings.Trim(s, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_") != "") {
			t.Errorf("%q is taken for a secret", s)
		}
	})
}

// FuzzToken reads what may stand in the header Authorization.
func FuzzToken(f *testing.F) {
	f.Add("td_x")
	f.Add("td_")
	f.Add(strings.Repeat("td_", 100))
	f.Fuzz(func(t *testing.T, s string) {
		if _, ok := hangar.TokenDigest(s); ok != (strings.HasPrefix(s, "td_") && len(s) <= 200) {
			t.Errorf("%q: %v", s, ok)
		}
	})
}
