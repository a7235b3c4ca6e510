package httpapi_test

import (
	"bytes"
	"maps"
	"net/http"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/techlog"
)

// TestOtherSitesPagesAreRefused sends what pages of other sites can make a browser send. The cookie is there each time.
func TestOtherSitesPagesAreRefused(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	b, other := r.somebody(t, techlog.Administrator), r.somebody(t, techlog.Administrator)
	base := marshal(t, client.BaseEntry{Code: "X", Name: "X", Lat: 1, Lon: 1, Zone: "UTC"})
	for name, header := range map[string]map[string]string{
		"no token":                         {"Sec-Fetch-Site": "same-origin"},
		"no token, and nothing else":       {},
		"a token that is made up":          {"X-Form-Token": "made up"},
		"an empty token":                   {"X-Form-Token": ""},
		"another session's token":          {"X-Form-Token": other.form},
		"from another site":                {"X-Form-Token": b.form, "Sec-Fetch-Site": "cross-site"},
		"from another host of the site":    {"X-Form-Token": b.form, "Sec-Fetch-Site": "same-site"},
		"from another origin":              {"X-Form-Token": b.form, "Origin": "https://evil.example"},
		"from an origin that is like it":   {"X-Form-Token": b.form, "Origin": publicURL + ".evil.example"},
		"from a page without an origin":    {"X-Form-Token": b.form, "Origin": "null"},
		"from the same host by plain http": {"X-Form-Token": b.form, "Origin": "http://hangar.example"},
	} {
		for _, q := range []asked{
			{method: "POST", path: "/v1/bases", body: base},
			{method: "DELETE", path: "/v1/session"},
			{method: "PUT", path: "/v1/me/password", body: `{"present": "x", "next": "y"}`},
		} {
			q.token, q.header = "none", maps.Clone(header)
			q.header["Cookie"] = "__Host-tiedown=" + b.cookie
			got := r.ask(t, q)
			if got.status != http.StatusForbidden || !strings.HasSuffix(got.problem(t).Type, ":cross-site") {
				t.Errorf("%s, %s %s: %d %s", name, q.method, q.path, got.status, got.body)
			}
		}
	}
	// A page of another site cannot sign its visitor in as somebody else, either.
	got := r.ask(t, asked{
		method: "POST", path: "/v1/session", token: "none", header: map[string]string{"Sec-Fetch-Site": "cross-site"},
		body: marshal(t, client.Credentials{Email: string(b.person.Email), Password: goodPassword}),
	})
	wantStatus(t, "signing in from another site", got, http.StatusForbidden)
	if got := r.ask(t, asked{method: "GET", path: "/v1/bases"}); strings.Contains(string(got.body), `"X"`) {
		t.Errorf("something was written: %s", got.body)
	}
	for name, header := range map[string]map[string]string{
		"from a page of ours":            {"X-Form-Token": b.form, "Sec-Fetch-Site": "same-origin", "Origin": publicURL},
		"by a browser that says less":    {"X-Form-Token": b.form, "Origin": publicURL},
		"by a program that says nothing": {"X-Form-Token": b.form},
	} {
		header["Cookie"] = "__Host-tiedown=" + b.cookie
		got := r.ask(t, asked{method: "POST", path: "/v1/evaluations", body: sampleCase, token: "none", header: header})
		wantStatus(t, name, got, 200)
	}
}

// TestStrangeCookiesLetNobodyIn sends what may stand in a cookie.
func TestStrangeCookiesLetNobodyIn(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	b := r.somebody(t, techlog.Pilot)
	for _, cookie := range []string{
		"", "__Host-tiedown=", "__Host-tiedown=x", "tiedown=" + b.cookie, "__Host-tiedown=" + b.cookie + "A", "__Host-tiedown=" + b.cookie[1:],
		"__Host-tiedown=" + strings.ToUpper(b.cookie), "__Host-tiedown=" + b.form, "__Host-tiedown=" + b.cookie + "; __Host-tiedown=" + b.cookie,
		"__Host-tiedown=" + strings.Repeat("A", 43), "__Host-tiedown=" + strings.Repeat("A", 9000),
	} {
		got := r.ask(t, asked{method: "GET", path: "/v1/me", token: "none", header: map[string]string{"Cookie": cookie}})
		wantStatus(t, cookie, got, http.StatusUnauthorized)
	}
	// A token in the header speaks for the request, whatever the cookie says.
	got := r.ask(t, asked{method: "GET", path: "/v1/me", token: r.tokens[techlog.Pilot], header: map[string]string{"Cookie": "__Host-tiedown=" + b.cookie}})
	wantStatus(t, "a token beside the cookie", got, http.StatusUnauthorized)
}

// TestNobodyLearnsWhoExists compares the answers to somebody who knows an address that is somebody's, and one that is
// nobody's, attempt by attempt, until both are locked and again after that.
func TestNobodyLearnsWhoExists(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	b := r.somebody(t, techlog.Pilot)
	guarded := r.somebody(t, techlog.Pilot)
	r.withPasskey(t, guarded)
	_, unset := r.join(t, "unset@club.example", "No Password", client.RolePilot)
	if unset == "" {
		t.Fatal("there is no link")
	}
	attempt := func(email string, n int) answered {
		return r.ask(t, asked{
			method: "POST", path: "/v1/session", token: "none", header: map[string]string{"X-Request-Id": "the-same"},
			body: marshal(t, client.Credentials{Email: email, Password: strings.Repeat("wrong ", n+1)}),
		})
	}
	for n := range 9 {
		nobodys := attempt("nobody@club.example", n)
		for _, email := range []string{string(b.person.Email), string(guarded.person.Email), "unset@club.example"} {
			got := attempt(email, n)
			if got.status != nobodys.status || !bytes.Equal(got.body, nobodys.body) {
				t.Errorf("attempt %d: %d %s, of nobody's address %d %s", n+1, got.status, got.body, nobodys.status, nobodys.body)
			}
			for name := range nobodys.header {
				if got.header.Get(name) != nobodys.header.Get(name) {
					t.Errorf("attempt %d: %s is %q, of nobody's address %q", n+1, name, got.header.Get(name), nobodys.header.Get(name))
				}
			}
		}
		want, wait := http.StatusUnauthorized, ""
		switch n {
		case 5, 6: // five were one too many
			want, wait = http.StatusTooManyRequests, "30"
		case 8: // one more was
			want, wait = http.StatusTooManyRequests, "60"
		}
		if nobodys.status != want || nobodys.header.Get("Retry-After") != wait {
			t.Errorf("attempt %d: %d, Retry-After %q, want %d, %q", n+1, nobodys.status, nobodys.header.Get("Retry-After"), want, wait)
		}
		if n == 6 {
			r.clock.advance(30 * time.Second)
		}
	}
	// The right password does not open what is locked, and does afterwards.
	right := asked{method: "POST", path: "/v1/session", token: "none", body: marshal(t, client.Credentials{Email: string(b.person.Email), Password: goodPassword})}
	wantStatus(t, "the right password while it is locked", r.ask(t, right), http.StatusTooManyRequests)
	r.clock.advance(time.Minute)
	wantStatus(t, "the right password afterwards", r.ask(t, right), 200)
	r.lock(t, b.person.Email) // and then everything counts anew
}

// TestANetworkAddressIsLocked tries one password for many addresses, from one place.
func TestANetworkAddressIsLocked(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	b := r.somebody(t, techlog.Pilot)
	from := func(address, email, password string) answered {
		return r.ask(t, asked{
			method: "POST", path: "/v1/session", token: "none", body: marshal(t, client.Credentials{Email: email, Password: password}),
			remote: address,
		})
	}
	for range 50 {
		wantStatus(t, "a password for many", from("198.51.100.9:4000", "p"+newID().String()+"@club.example", "Summer2031!"), http.StatusUnauthorized)
	}
	wantStatus(t, "one too many", from("198.51.100.9:4001", "another@club.example", "Summer2031!"), http.StatusTooManyRequests)
	wantStatus(t, "somebody else, from there", from("198.51.100.9:4002", string(b.person.Email), goodPassword), http.StatusTooManyRequests)
	wantStatus(t, "somebody else, from elsewhere", from("198.51.100.10:4000", string(b.person.Email), goodPassword), 200)
	wantStatus(t, "somebody else, through a proxy on this machine", r.ask(t, asked{
		method: "POST", path: "/v1/session", token: "none", remote: "127.0.0.1:4000", header: map[string]string{"X-Forwarded-For": "10.0.0.1, 198.51.100.9"},
		body: marshal(t, client.Credentials{Email: string(b.person.Email), Password: goodPassword}),
	}), http.StatusTooManyRequests)
	wantStatus(t, "somebody who only says so", r.ask(t, asked{
		method: "POST", path: "/v1/session", token: "none", remote: "198.51.100.11:4000", header: map[string]string{"X-Forwarded-For": "198.51.100.9"},
		body: marshal(t, client.Credentials{Email: string(b.person.Email), Password: goodPassword}),
	}), 200)
}

// TestAnotherPersonsThingsDoNotExist asks for what is a person's own, as somebody else of the same organization.
func TestAnotherPersonsThingsDoNotExist(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	for _, operation := range []string{"endSession", "removePasskey", "revokeToken"} {
		q := x.good[operation]()
		q.browser = x.rig.somebody(t, techlog.MaintenanceControl)
		if operation == "removePasskey" {
			x.rig.withPasskey(t, q.browser)
		}
		wantStatus(t, operation, x.rig.ask(t, q), http.StatusNotFound)
	}
	q := x.good["addPasskey"]()
	q.browser = x.rig.somebody(t, techlog.Pilot)
	wantStatus(t, "another's challenge", x.rig.ask(t, q), http.StatusForbidden)
}
