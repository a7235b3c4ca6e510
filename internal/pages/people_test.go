package pages_test

import (
	"html"
	"net/http"
	"net/url"
	"strings"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/authenticator"
)

// TestTheSecondStep holds that whoever has a passkey is asked for it after the password, that a recovery code stands in for
// it once, and so does the passkey's own answer, and that nothing else does.
func TestTheSecondStep(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	in, err := c.people.SignIn(t.Context(), pilot, password, people.From{})
	if err != nil {
		t.Fatal(err)
	}
	device := authenticator.New(strings.Replace(c.server.URL, "127.0.0.1", "localhost", 1)) // passkeys of a loopback address are those of localhost
	asked, err := c.people.BeginPasskey(t.Context(), in.Session.Account.ID, hangar.Proof{Password: password})
	if err != nil {
		t.Fatal(err)
	}
	response, err := device.Create(asked.Options)
	if err != nil {
		t.Fatal(err)
	}
	_, codes, err := c.people.AddPasskey(t.Context(), in.Session, people.Registration{Challenge: asked.Challenge, Name: "mine", Response: response})
	if err != nil {
		t.Fatal(err)
	}
	first := func(v *visitor) seen {
		t.Helper()
		page := v.post("/sign-in", url.Values{"email": {pilot}, "password": {password}, "next": {"/week"}})
		if page.status != http.StatusOK || !strings.Contains(page.body, "Second step") || page.header.Get("Set-Cookie") != "" {
			t.Fatalf("the password alone: %d %s", page.status, page.body)
		}
		return page
	}
	second := func(answer url.Values) (*visitor, seen) {
		t.Helper()
		v := c.visitor()
		page := first(v)
		answer.Set("ticket", hidden(t, page, "ticket"))
		answer.Set("next", hidden(t, page, "next"))
		return v, v.post("/sign-in/second-step", answer)
	}
	if _, got := second(url.Values{"recovery_code": {"AAAA-BBBB-CCCC-DDDD"}}); got.status != http.StatusUnauthorized || !strings.Contains(got.body, "sign in again") {
		t.Errorf("a wrong code: %d %s", got.status, got.body)
	}
	v, got := second(url.Values{"recovery_code": {strings.ToLower(codes[0])}})
	if got.status != http.StatusSeeOther || got.header.Get("Location") != "/week" {
		t.Errorf("a recovery code: %d %s", got.status, got.body)
	}
	if page := v.get("/week"); page.status != http.StatusOK {
		t.Errorf("after it: %d", page.status)
	}
	if _, got := second(url.Values{"recovery_code": {codes[0]}}); got.status != http.StatusUnauthorized {
		t.Errorf("the same code again: %d", got.status)
	}
	w := c.visitor()
	page := first(w)
	_, rest, _ := strings.Cut(page.body, `data-asks="`)
	options, _, _ := strings.Cut(rest, `"`)
	answer, err := device.Get([]byte(html.UnescapeString(options)))
	if err != nil {
		t.Fatal(err)
	}
	form := url.Values{"ticket": {hidden(t, page, "ticket")}, "response": {string(answer)}}
	if got := w.post("/sign-in/second-step", form); got.status != http.StatusSeeOther || got.header.Get("Location") != "/" {
		t.Errorf("the passkey: %d %s", got.status, got.body)
	}
	if got := c.visitor().post("/sign-in/second-step", form); got.status != http.StatusUnauthorized {
		t.Errorf("the same ticket again: %d", got.status)
	}
}

// TestALinkSetsAPassword holds that a link sets a password once, that a bad password is named at its field and spends
// nothing, and that one signs in with the new one.
func TestALinkSetsAPassword(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	link, err := c.people.NewLink(t.Context(), pilot)
	if err != nil {
		t.Fatal(err)
	}
	v := c.visitor()
	form := url.Values{"link": {hidden(t, v.get("/password?"+url.Values{"link": {link}}.Encode()), "link")}, "password": {"short"}}
	if got := v.post("/password", form); got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, `id="fault-password"`) || strings.Contains(got.body, `value="short"`) {
		t.Errorf("a short one: %d %s", got.status, got.body)
	}
	form.Set("password", "four grey geese over the marsh")
	if got := v.post("/password", form); got.status != http.StatusSeeOther || got.header.Get("Location") != "/sign-in?set=yes" {
		t.Errorf("a good one: %d %s", got.status, got.body)
	}
	if got := v.get("/sign-in?set=yes"); !strings.Contains(got.body, "Your password is set.") {
		t.Errorf("it is not said: %s", got.body)
	}
	if got := v.post("/password", form); got.status != http.StatusUnauthorized || !strings.Contains(got.body, "Ask whoever gave you the link") {
		t.Errorf("the link again: %d %s", got.status, got.body)
	}
	if got := v.post("/sign-in", url.Values{"email": {pilot}, "password": {"four grey geese over the marsh"}}); got.status != http.StatusSeeOther {
		t.Errorf("sign in: %d", got.status)
	}
}

// TestChoosingAnOrganization holds that somebody in two organizations acts in the one that was chosen, and sees its records
// alone.
func TestChoosingAnOrganization(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	others := newID()
	if err := c.store.AddOrganization(t.Context(), techlog.Organization{ID: others, Name: "Other Club"}); err != nil {
		t.Fatal(err)
	}
	administrator := techlog.Principal{Organization: others, Token: newID(), Name: "the test", Roles: techlog.As(techlog.Administrator)}
	if _, err := c.service.AddMember(t.Context(), administrator, hangar.NewMember{Email: pilot, Name: "Wren Talbot", Roles: techlog.As(techlog.Pilot)}); err != nil {
		t.Fatal(err)
	}
	v := c.signIn(pilot)
	for _, at := range []struct {
		org techlog.ID
		has bool
	}{{others, false}, {c.org, true}} {
		v.get("/organization")
		if got := v.post("/organization", url.Values{"organization": {at.org.String()}}); got.status != http.StatusSeeOther {
			t.Fatalf("choose: %d %s", got.status, got.body)
		}
		if got := v.get("/"); got.status != http.StatusOK || strings.Contains(got.body, "N012TW") != at.has {
			t.Errorf("in %s: %d %s", at.org, got.status, got.body)
		}
	}
}
