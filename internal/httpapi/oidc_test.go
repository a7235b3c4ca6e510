package httpapi_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/provider"
)

// away goes to the other provider, and comes back with what the browser then asks for.
func (r *rig) away(t *testing.T) asked {
	t.Helper()
	begun := r.ask(t, asked{method: "GET", path: "/v1/oidc", token: "none"})
	if begun.status != http.StatusFound {
		t.Fatalf("%d %s", begun.status, begun.body)
	}
	return r.elsewhere(t, begun, begun.header.Get("Location"))
}

// wantIn fails unless the browser comes back signed in as a person.
func (r *rig) wantIn(t *testing.T, what string, got answered, person techlog.ID) {
	t.Helper()
	if got.status != http.StatusFound || got.header.Get("Location") != publicURL+"/" {
		t.Errorf("%s: %d %s", what, got.status, got.body)
		return
	}
	b := &browser{cookie: cookieOf(t, got, "__Host-tiedown")}
	me := decoded[client.Me](t, r.ask(t, asked{method: "GET", path: "/v1/me", browser: b}), 200)
	if techlog.ID(me.Person) != person {
		t.Errorf("%s: signed in as %s", what, me.Email)
	}
}

// TestSigningInElsewhere finds a person by issuer and subject, and whoever comes for the first time by an e-mail address
// that the provider has seen to be the person's.
func TestSigningInElsewhere(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	b := r.somebody(t, techlog.Pilot)
	mail := string(b.person.Email)
	r.provider.Meet(provider.Person{Subject: "1", Email: mail, Verified: false})
	wantStatus(t, "an address that was not verified", r.ask(t, r.away(t)), http.StatusUnauthorized)
	r.provider.Meet(provider.Person{Subject: "1", Email: "nobody@club.example", Verified: true})
	wantStatus(t, "an address that is nobody's", r.ask(t, r.away(t)), http.StatusUnauthorized)
	r.provider.Meet(provider.Person{Subject: "1", Email: mail, Verified: true})
	r.wantIn(t, "the first time", r.ask(t, r.away(t)), b.person.ID)
	r.provider.Meet(provider.Person{Subject: "1", Email: "another@club.example", Verified: false})
	r.wantIn(t, "later, whatever the address is", r.ask(t, r.away(t)), b.person.ID)
	if me := decoded[client.Me](t, r.ask(t, asked{method: "GET", path: "/v1/me", browser: b}), 200); len(me.Identities) != 1 || me.Identities[0] != r.provider.Issuer {
		t.Errorf("%+v", me)
	}

	// Who has a passkey is found by the address no more: it takes the person to link the two.
	guarded := r.somebody(t, techlog.Pilot)
	r.withPasskey(t, guarded)
	r.provider.Meet(provider.Person{Subject: "2", Email: string(guarded.person.Email), Verified: true})
	wantStatus(t, "an account that a passkey guards", r.ask(t, r.away(t)), http.StatusUnauthorized)
	begun := r.ask(t, asked{method: "POST", path: "/v1/me/identities", browser: guarded})
	address := decoded[client.Away](t, begun, 200).Location
	back := r.elsewhere(t, begun, address)
	wantStatus(t, "linking without a session", r.ask(t, back), http.StatusUnauthorized)
	begun = r.ask(t, asked{method: "POST", path: "/v1/me/identities", browser: guarded})
	back = r.elsewhere(t, begun, decoded[client.Away](t, begun, 200).Location, "__Host-tiedown="+guarded.cookie)
	wantStatus(t, "linking", r.ask(t, back), http.StatusFound)
	r.wantIn(t, "after linking", r.ask(t, r.away(t)), guarded.person.ID)
}

// TestTheOtherProvidersAnswerMustHold spoils what comes back in every way.
func TestTheOtherProvidersAnswerMustHold(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	b := r.somebody(t, techlog.Pilot)
	r.provider.Meet(provider.Person{Subject: "1", Email: string(b.person.Email), Verified: true})
	another, err := provider.NewKey()
	if err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*provider.Token){
		"for another client":  func(p *provider.Token) { p.Audience = "somebody else's" },
		"another nonce":       func(p *provider.Token) { p.Nonce = "of another trip" },
		"no nonce":            func(p *provider.Token) { p.Nonce = "" },
		"run out":             func(p *provider.Token) { p.Expires = noon.Add(-time.Second) },
		"by another key":      func(p *provider.Token) { p.Key = another },
		"by another provider": func(p *provider.Token) { p.Issuer = "https://evil.example" },
		"unsigned":            func(p *provider.Token) { p.Unsigned = true },
	} {
		r.provider.Spoil(spoil)
		got := r.ask(t, r.away(t))
		wantStatus(t, "a token "+name, got, http.StatusUnauthorized)
		if got.header.Get("Set-Cookie") != "" {
			t.Errorf("a token %s: %s", name, got.header.Get("Set-Cookie"))
		}
	}
	r.provider.Spoil(nil)

	good := func(change func(url.Values)) asked {
		q := r.away(t)
		path, query, _ := strings.Cut(q.path, "?")
		values, err := url.ParseQuery(query)
		if err != nil {
			t.Fatal(err)
		}
		change(values)
		q.path = path + "?" + values.Encode()
		return q
	}
	for name, change := range map[string]func(url.Values){
		"another state": func(v url.Values) { v.Set("state", "made up") },
		"no state":      func(v url.Values) { v.Del("state") },
		"another code":  func(v url.Values) { v.Set("code", "made up") },
		"no code":       func(v url.Values) { v.Del("code") },
		"an error":      func(v url.Values) { v.Del("code"); v.Set("error", "access_denied") },
	} {
		wantStatus(t, name, r.ask(t, good(change)), http.StatusUnauthorized)
	}
	// What one browser began another does not finish, and a code is good once.
	mine, others := r.away(t), r.away(t)
	mine.header = others.header
	wantStatus(t, "another browser's trip", r.ask(t, mine), http.StatusUnauthorized)
	q := r.away(t)
	r.wantIn(t, "a good trip", r.ask(t, q), b.person.ID)
	wantStatus(t, "the same again", r.ask(t, q), http.StatusUnauthorized)

	q = r.away(t)
	r.provider.GoDown(true)
	wantStatus(t, "a provider that does not answer", r.ask(t, q), http.StatusServiceUnavailable)
	r.provider.GoDown(false)
	r.wantIn(t, "the provider is back", r.ask(t, r.away(t)), b.person.ID)
}
