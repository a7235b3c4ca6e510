package httpapi

import (
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"tiedown/internal/people"
)

// TestCookies holds where cookies are kept, by the address at which people reach the server.
func TestCookies(t *testing.T) {
	t.Parallel()
	for address, want := range map[string]string{
		"https://club.example":   "__Host-tiedown=s; Path=/; Expires=Sun, 04 May 2031 12:00:00 GMT; HttpOnly; Secure; SameSite=Lax",
		"https://localhost":      "__Host-tiedown=s; Path=/; Expires=Sun, 04 May 2031 12:00:00 GMT; HttpOnly; Secure; SameSite=Lax",
		"http://club.example":    "__Host-tiedown=s; Path=/; Expires=Sun, 04 May 2031 12:00:00 GMT; HttpOnly; Secure; SameSite=Lax",
		"http://localhost.evil":  "__Host-tiedown=s; Path=/; Expires=Sun, 04 May 2031 12:00:00 GMT; HttpOnly; Secure; SameSite=Lax",
		"":                       "__Host-tiedown=s; Path=/; Expires=Sun, 04 May 2031 12:00:00 GMT; HttpOnly; Secure; SameSite=Lax",
		"http://localhost:8080":  "tiedown=s; Path=/; Expires=Sun, 04 May 2031 12:00:00 GMT; HttpOnly; SameSite=Lax",
		"http://127.0.0.1:8080":  "tiedown=s; Path=/; Expires=Sun, 04 May 2031 12:00:00 GMT; HttpOnly; SameSite=Lax",
		"http://[::1]:8080/tied": "tiedown=s; Path=/; Expires=Sun, 04 May 2031 12:00:00 GMT; HttpOnly; SameSite=Lax",
	} {
		if got := newCookies(address).session("s", time.Date(2031, 5, 4, 12, 0, 0, 0, time.UTC)).String(); got != want {
			t.Errorf("%s: %s, want %s", address, got, want)
		}
	}
	if got := newCookies("https://club.example").gone("x").String(); got != "x=; Path=/; Max-Age=0; HttpOnly; Secure; SameSite=Lax" {
		t.Errorf("a cookie that goes: %s", got)
	}
}

// FuzzTrip reads what may stand in the cookie of a trip.
func FuzzTrip(f *testing.F) {
	c := newCookies("https://club.example")
	f.Add(c.trip(people.Trip{State: "s", Nonce: "n", Verifier: "v"}, tripLink).Value)
	f.Add("in...")
	f.Add("....")
	f.Fuzz(func(t *testing.T, value string) {
		r := httptest.NewRequest(http.MethodGet, "/", nil)
		r.Header.Set("Cookie", c.tripName()+"="+value)
		trip, why := c.tripOf(r)
		if (trip == people.Trip{}) {
			if why != "" {
				t.Errorf("%q: there is no trip, but it is for %q", value, why)
			}
			return
		}
		if trip.State == "" || trip.Nonce == "" || trip.Verifier == "" || strings.Contains(trip.State+trip.Nonce+trip.Verifier, ".") {
			t.Errorf("%q is read as %+v", value, trip)
		}
	})
}
