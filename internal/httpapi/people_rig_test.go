package httpapi_test

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/identity"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/authenticator"
	"tiedown/internal/testrig/provider"
)

// persons is what the use cases about persons stand on.
type persons struct {
	store    people.Store
	provider func(now func() time.Time) people.Provider // nil: none
}

// light is quick to compute: for tests alone.
var light = identity.Parameters{MemoryKiB: 64, Passes: 1, Parallelism: 1}

func (p persons) people(tb testing.TB, now func() time.Time) *people.People {
	tb.Helper()
	keys, err := identity.NewPasskeys(publicURL)
	if err != nil {
		tb.Fatal(err)
	}
	s := people.Settings{Store: p.store, Hasher: identity.NewPasswords(light, 4), Keys: keys, Now: now, NewID: newID}
	if p.provider != nil {
		s.Provider = p.provider(now)
	}
	return people.New(s)
}

func startProvider(t testing.TB) *provider.Provider {
	t.Helper()
	p, err := provider.Start(t.Context(), func() time.Time { return noon })
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = p.Close() })
	return p
}

func throughProvider(p *provider.Provider) func(func() time.Time) people.Provider {
	return func(now func() time.Time) people.Provider {
		return identity.NewProvider(identity.ProviderSettings{
			Issuer: p.Issuer, ClientID: p.ClientID, Secret: p.Secret, Redirect: publicURL + "/v1/oidc/callback", Now: now,
		})
	}
}

// browser is somebody's browser, signed in.
type browser struct {
	person   techlog.Account
	password string
	cookie   string
	form     string

	device *authenticator.Authenticator // nil: no passkey
	key    client.Passkey
}

// sign puts into a request what a page of ours puts in.
func (b *browser) sign(r *http.Request) {
	r.AddCookie(&http.Cookie{Name: "__Host-tiedown", Value: b.cookie})
	r.Header.Set("Sec-Fetch-Site", "same-origin")
	if r.Method != http.MethodGet {
		r.Header.Set("X-Form-Token", b.form)
	}
}

const goodPassword = "seven herons along the dyke"

// account makes an account with a password, in an organization if one is given.
func (r *rig) account(t *testing.T, email, name string, organization techlog.ID, roles ...techlog.Role) techlog.Account {
	t.Helper()
	var in *people.NewMember
	if !organization.IsZero() {
		in = &people.NewMember{Organization: organization, Name: name, Roles: roles, By: "the program"}
	}
	a, link, err := r.people.FirstAccount(t.Context(), email, name, in)
	if err != nil {
		t.Fatal(err)
	}
	r.setPassword(t, link, goodPassword)
	return a
}

func (r *rig) setPassword(t *testing.T, link, password string) {
	t.Helper()
	q := asked{method: "POST", path: "/v1/password", token: "none", body: marshal(t, client.NewPassword{Link: link, Password: password})}
	if got := r.ask(t, q); got.status != http.StatusNoContent {
		t.Fatalf("set the password: %d %s", got.status, got.body)
	}
}

// signIn signs in with the password, and the passkey if there is one.
func (r *rig) signIn(t *testing.T, a techlog.Account, password string, device *authenticator.Authenticator) *browser {
	t.Helper()
	got := r.ask(t, asked{
		method: "POST", path: "/v1/session", token: "none", body: marshal(t, client.Credentials{Email: string(a.Email), Password: password}),
	})
	in := decoded[client.SignedIn](t, got, http.StatusOK)
	if in.SecondStep != nil {
		response, err := device.Get(in.SecondStep.Options)
		if err != nil {
			t.Fatal(err)
		}
		got = r.ask(t, asked{
			method: "POST", path: "/v1/session/second-step", token: "none",
			body: marshal(t, client.SecondAnswer{Ticket: in.SecondStep.Ticket, Response: &response}),
		})
		in = decoded[client.SignedIn](t, got, http.StatusOK)
	}
	b := &browser{person: a, password: password, device: device}
	b.take(t, got, *in.Session)
	return b
}

// take keeps what an answer gives the browser to keep.
func (b *browser) take(t *testing.T, got answered, s client.Session) {
	t.Helper()
	b.cookie, b.form = cookieOf(t, got, "__Host-tiedown"), *s.FormToken
}

// cookieOf reads a cookie that an answer sets.
func cookieOf(t *testing.T, got answered, name string) string {
	t.Helper()
	for _, c := range (&http.Response{Header: got.header}).Cookies() {
		if c.Name != name {
			continue
		}
		if !c.Secure || !c.HttpOnly || c.SameSite != http.SameSiteLaxMode || c.Path != "/" || c.Domain != "" {
			t.Errorf("the cookie %v is not as safe as it can be", c)
		}
		return c.Value
	}
	t.Fatalf("%s is not among the cookies %q", name, got.header["Set-Cookie"])
	return ""
}

func decoded[T any](t *testing.T, got answered, status int) T {
	t.Helper()
	var v T
	if got.status != status {
		t.Fatalf("%d %s, want %d", got.status, got.body, status)
	}
	if err := json.Unmarshal(got.body, &v); err != nil {
		t.Fatal(err)
	}
	return v
}

// somebody makes a new person of the club, signed in.
func (r *rig) somebody(t *testing.T, roles ...techlog.Role) *browser {
	t.Helper()
	name := "Person " + newID().String()
	return r.signIn(t, r.account(t, strings.ReplaceAll(name, " ", "-")+"@club.example", name, r.club, roles...), goodPassword, nil)
}

// withPasskey registers a passkey, and gives the recovery codes.
func (r *rig) withPasskey(t *testing.T, b *browser) []string {
	t.Helper()
	b.device = authenticator.New(publicURL)
	got := r.ask(t, r.passkeyEntry(t, b))
	added := decoded[client.AddedPasskey](t, got, http.StatusCreated)
	b.key = added.Passkey
	if added.RecoveryCodes == nil {
		return nil
	}
	return *added.RecoveryCodes
}

// passkeyEntry is the request that registers a passkey of the browser's authenticator.
func (r *rig) passkeyEntry(t *testing.T, b *browser) asked {
	t.Helper()
	got := r.ask(t, asked{method: "POST", path: "/v1/me/passkey-challenges", browser: b, body: byPassword(t, b.password)})
	a := decoded[client.Asked](t, got, http.StatusOK)
	response, err := b.device.Create(a.Options)
	if err != nil {
		t.Fatal(err)
	}
	return asked{
		method: "POST", path: "/v1/me/passkeys", browser: b,
		body: marshal(t, client.PasskeyEntry{Challenge: a.Challenge, Name: "my phone", Response: response}),
	}
}

func byPassword(t *testing.T, password string) string {
	t.Helper()
	return marshal(t, client.ProofGiven{Proof: client.Proof{Password: &password}})
}

// lock locks an address by wrong passwords.
func (r *rig) lock(t *testing.T, email techlog.Email) {
	t.Helper()
	q := asked{method: "POST", path: "/v1/session", token: "none", body: marshal(t, client.Credentials{Email: string(email), Password: "wrong"})}
	for range 5 {
		if got := r.ask(t, q); got.status != http.StatusUnauthorized {
			t.Fatalf("%d %s", got.status, got.body)
		}
	}
}

// elsewhere goes to the other provider and back: the callback that the browser then makes. from is what sent it there.
func (r *rig) elsewhere(t *testing.T, from answered, address string, cookies ...string) asked {
	t.Helper()
	trip := "__Host-tiedown-trip=" + cookieOf(t, from, "__Host-tiedown-trip")
	away := &http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	request, err := http.NewRequestWithContext(t.Context(), http.MethodGet, address, nil)
	if err != nil {
		t.Fatal(err)
	}
	response, err := away.Do(request)
	if err != nil {
		t.Fatal(err)
	}
	if err := response.Body.Close(); err != nil {
		t.Fatal(err)
	}
	back, ok := strings.CutPrefix(response.Header.Get("Location"), publicURL)
	if !ok {
		t.Fatalf("the provider sends the browser to %q", response.Header.Get("Location"))
	}
	return asked{method: "GET", path: back, token: "none", header: map[string]string{
		"Cookie": strings.Join(append(cookies, trip), "; "), "Sec-Fetch-Site": "cross-site",
	}}
}
