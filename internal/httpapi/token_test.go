package httpapi

import (
	"context"
	"crypto/sha256"
	"net/http"
	"strconv"
	"testing"
	"time"

	"tiedown/internal/techlog"
)

// doorman counts how often it is asked, and knows one token.
type doorman struct {
	asked int
	known [32]byte
}

func (d *doorman) Authenticate(_ context.Context, digest [32]byte) (techlog.Principal, error) {
	d.asked++
	if digest != d.known {
		return techlog.Principal{}, techlog.Errorf(techlog.KindUnauthorized, "nobody bears this token")
	}
	return techlog.Principal{Name: "member"}, nil
}

func header(token string) http.Header { return http.Header{"Authorization": {"Bearer " + token}} }

// TestATokenIsRememberedForAMoment holds that a token that is taken back is refused two seconds later at the latest.
func TestATokenIsRememberedForAMoment(t *testing.T) {
	t.Parallel()
	now := time.Date(2026, 11, 25, 12, 0, 0, 0, time.UTC)
	d := &doorman{known: sha256.Sum256([]byte("td_a"))}
	tokens := newTokens(d, func() time.Time { return now })
	check := func(token, name string, asked int) {
		t.Helper()
		who, err := tokens.bearer(t.Context(), header(token))
		if who.Name != name || (err == nil) != (name != "") || d.asked != asked {
			t.Errorf("%s: %q, %v, asked %d times, want %q after %d", token, who.Name, err, d.asked, name, asked)
		}
	}
	check("td_a", "member", 1)
	now = now.Add(memoryLife - time.Nanosecond)
	check("td_a", "member", 1)
	now = now.Add(time.Nanosecond)
	check("td_a", "member", 2)
	check("td_b", "", 3)
	check("td_b", "", 4) // what is nobody's is not remembered
	d.known = [32]byte{}
	now = now.Add(memoryLife)
	check("td_a", "", 5)
}

// everyone knows every token.
type everyone struct{}

func (everyone) Authenticate(context.Context, [32]byte) (techlog.Principal, error) {
	return techlog.Principal{Name: "member"}, nil
}

func TestTokensDoNotPileUp(t *testing.T) {
	t.Parallel()
	tokens := newTokens(everyone{}, func() time.Time { return time.Time{} })
	for i := range 3 * maxRemembered {
		if _, err := tokens.bearer(t.Context(), header("td_"+strconv.Itoa(i))); err != nil {
			t.Fatal(err)
		}
		if len(tokens.known) > maxRemembered {
			t.Fatalf("%d tokens are remembered", len(tokens.known))
		}
	}
}

func TestWhatIsNoToken(t *testing.T) {
	t.Parallel()
	for _, values := range [][]string{nil, {""}, {"Bearer"}, {"Bearer "}, {"Bearer x"}, {"td_a"}, {"Basic td_a"}, {"Bearer td_a", "Bearer td_b"}} {
		if token, err := tokenOf(values); techlog.KindOf(err) != techlog.KindUnauthorized {
			t.Errorf("%q: %q, %v", values, token, err)
		}
	}
	if token, err := tokenOf([]string{"bearer td_a"}); token != "td_a" || err != nil {
		t.Errorf("%q, %v: the scheme is written in any case (RFC 9110, 11.1)", token, err)
	}
}
