package httpapi_test

import (
	"net/http"
	"strconv"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/authenticator"
	"tiedown/internal/testrig/provider"
)

// join adds somebody to the club, as its administrator, and gives the person and the link.
func (r *rig) join(t *testing.T, email, name string, roles ...client.Role) (client.Member, string) {
	t.Helper()
	added := created[client.AddedMember](t, r, asked{method: "POST", path: "/v1/members", body: marshal(t, client.MemberEntry{
		Email: email, Name: name, Roles: roles,
	})})
	return added.Member, added.Link
}

// TestTheLifeOfAnAccount follows a person from the first link to the end of the membership.
func TestTheLifeOfAnAccount(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	r.somebody(t, techlog.Administrator)
	member, link := r.join(t, "Heron.Ash@club.example", "Heron Ash", client.RolePilot)
	a := techlog.Account{ID: techlog.ID(member.Person), Email: "heron.ash@CLUB.example"}

	// A password that is little more than the name is refused, and the link stays good; a good one spends it.
	for password, rule := range map[string]string{"short": "long-enough", "heron.ash@club.example": "not-personal", "HeronAsh2031": "not-personal", "ababababababab": "varied"} {
		got := r.ask(t, asked{method: "POST", path: "/v1/password", token: "none", body: marshal(t, client.NewPassword{Link: link, Password: password})})
		if got.status != http.StatusUnprocessableEntity || strings.Join(got.faults(t), " ") != rule+" password" {
			t.Errorf("%q: %d %s", password, got.status, got.body)
		}
	}
	r.setPassword(t, link, goodPassword)
	got := r.ask(t, asked{method: "POST", path: "/v1/password", token: "none", body: marshal(t, client.NewPassword{Link: link, Password: "another long secret"})})
	wantStatus(t, "the link again", got, http.StatusUnauthorized)

	b := r.signIn(t, a, goodPassword, nil)
	me := decoded[client.Me](t, r.ask(t, asked{method: "GET", path: "/v1/me", browser: b}), 200)
	if me.Email != "Heron.Ash@club.example" || len(me.Memberships) != 1 || me.Memberships[0].OrganizationName != "Tern Flying Club" || me.Memberships[0].Roles[0] != "pilot" {
		t.Errorf("%+v", me)
	}
	codes := r.withPasskey(t, b)
	if len(codes) != 10 {
		t.Errorf("%d recovery codes", len(codes))
	}
	wantStatus(t, "sign out", r.ask(t, asked{method: "DELETE", path: "/v1/session", browser: b}), http.StatusNoContent)
	wantStatus(t, "signed out", r.ask(t, asked{method: "GET", path: "/v1/me", browser: b}), http.StatusUnauthorized)

	b = r.signIn(t, a, goodPassword, b.device)
	second := func(code string) answered {
		in := decoded[client.SignedIn](t, r.ask(t, asked{method: "POST", path: "/v1/session", token: "none", body: marshal(t, client.Credentials{
			Email: string(a.Email), Password: goodPassword,
		})}), 200)
		return r.ask(t, asked{method: "POST", path: "/v1/session/second-step", token: "none", body: marshal(t, client.SecondAnswer{
			Ticket: in.SecondStep.Ticket, RecoveryCode: &code,
		})})
	}
	wantStatus(t, "a recovery code, in small letters", second(strings.ToLower(codes[3])), 200)
	wantStatus(t, "the same code again", second(codes[3]), http.StatusUnauthorized)
	wantStatus(t, "another code", second(codes[4]), 200)

	sessions := decoded[client.Sessions](t, r.ask(t, asked{method: "GET", path: "/v1/me/sessions", browser: b}), 200)
	if len(sessions.Sessions) != 3 {
		t.Errorf("%d sessions, want 3", len(sessions.Sessions))
	}
	old := *b
	got = r.ask(t, asked{method: "PUT", path: "/v1/me/password", browser: b, body: marshal(t, client.PasswordChange{Present: goodPassword, Next: "a wholly different secret"})})
	b.take(t, got, decoded[client.Session](t, got, 200))
	wantStatus(t, "the session with its old secret", r.ask(t, asked{method: "GET", path: "/v1/me", browser: &old}), http.StatusUnauthorized)
	sessions = decoded[client.Sessions](t, r.ask(t, asked{method: "GET", path: "/v1/me/sessions", browser: b}), 200)
	if len(sessions.Sessions) != 1 {
		t.Errorf("%d sessions after the password changed, want this one alone", len(sessions.Sessions))
	}

	events := decoded[client.SecurityEvents](t, r.ask(t, asked{method: "GET", path: "/v1/me/security-events?limit=200", browser: b}), 200)
	var kinds []string
	for _, e := range events.Events {
		kinds = append(kinds, string(e.Kind))
	}
	for _, kind := range []string{"password-set", "signed-in", "session-ended", "passkey-added", "recovery-codes-made", "recovery-code-used", "sign-in-failed"} {
		if !strings.Contains(strings.Join(kinds, " "), kind) {
			t.Errorf("%s is not among what happened: %v", kind, kinds)
		}
	}

	// The administrator's link sets the password anew; the passkey is asked for all the same.
	path := "/v1/members/" + member.Person.String()
	reset := created[client.PasswordLink](t, r, asked{method: "POST", path: path + "/password-link"})
	r.setPassword(t, reset.Link, "what was set anew today")
	wantStatus(t, "the session before it", r.ask(t, asked{method: "GET", path: "/v1/me", browser: b}), http.StatusUnauthorized)
	b = r.signIn(t, a, "what was set anew today", b.device)

	wantStatus(t, "in the organization", r.ask(t, asked{method: "GET", path: "/v1/bases", browser: b}), 200)
	wantStatus(t, "the membership ends", r.ask(t, asked{method: "POST", path: path + "/ending", header: ifMatch(1)}), 200)
	wantStatus(t, "no longer in the organization", r.ask(t, asked{method: "GET", path: "/v1/bases", browser: b}), http.StatusUnauthorized)
	wantStatus(t, "still a person", r.ask(t, asked{method: "GET", path: "/v1/me", browser: b}), 200)
	again, _ := r.join(t, "heron.ash@club.example", "Heron Ash", client.RoleMechanic)
	if again.Person != member.Person || again.Version != 3 {
		t.Errorf("who came back is %+v", again)
	}
	history := decoded[client.MemberHistory](t, r.ask(t, asked{method: "GET", path: path + "/history"}), 200)
	if len(history.Entries) != 3 || history.Entries[1].Until == nil || history.Entries[2].Roles[0] != "mechanic" {
		t.Errorf("%+v", history)
	}
}

// TestOnePersonInTwoOrganizations acts in one after the other, and is in the hands of neither's administrator.
func TestOnePersonInTwoOrganizations(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	b := r.somebody(t, techlog.Mechanic)
	elsewhere := r.stranger(t, "other")
	q := asked{method: "POST", path: "/v1/members", token: elsewhere.token, body: marshal(t, client.MemberEntry{
		Email: string(b.person.Email), Name: "W. Talbot", Roles: client.Roles{client.RoleScheduler},
	})}
	added := created[client.AddedMember](t, r, q)
	// The link of somebody who has a password is of no use, and whoever made it cannot reset the password either.
	got := r.ask(t, asked{method: "POST", path: "/v1/password", token: "none", body: marshal(t, client.NewPassword{Link: added.Link, Password: "another long secret"})})
	wantStatus(t, "the link of somebody who has a password", got, http.StatusUnauthorized)
	got = r.ask(t, asked{method: "POST", path: "/v1/members/" + added.Member.Person.String() + "/password-link", token: elsewhere.token})
	wantStatus(t, "a reset from another organization", got, http.StatusConflict)
	got = r.ask(t, asked{method: "POST", path: "/v1/members/" + added.Member.Person.String() + "/password-link"})
	wantStatus(t, "a reset from the first", got, http.StatusConflict)

	me := decoded[client.Me](t, r.ask(t, asked{method: "GET", path: "/v1/me", browser: b}), 200)
	if len(me.Memberships) != 2 {
		t.Fatalf("%+v", me)
	}
	base := marshal(t, client.BaseEntry{Code: "TWO", Name: "Second Field", Lat: 41, Lon: -76, Zone: "America/New_York"})
	wantStatus(t, "a mechanic adds a base", r.ask(t, asked{method: "POST", path: "/v1/bases", browser: b, body: base}), http.StatusForbidden)
	old := *b
	for _, m := range me.Memberships {
		if m.Organization == client.ID(r.club) {
			continue
		}
		got := r.ask(t, asked{method: "PUT", path: "/v1/session/organization", browser: b, body: marshal(t, client.Choice{Organization: m.Organization})})
		s := decoded[client.Session](t, got, 200)
		b.take(t, got, s)
		if *s.Organization != m.Organization || s.Name != "W. Talbot" || (*s.Roles)[0] != "scheduler" {
			t.Errorf("%+v", s)
		}
	}
	wantStatus(t, "the secret from before", r.ask(t, asked{method: "GET", path: "/v1/bases", browser: &old}), http.StatusUnauthorized)
	wantStatus(t, "a scheduler adds a base", r.ask(t, asked{method: "POST", path: "/v1/bases", browser: b, body: base}), http.StatusCreated)
	if got := r.ask(t, asked{method: "GET", path: "/v1/bases"}); strings.Contains(string(got.body), "TWO") {
		t.Errorf("the first club sees %s", got.body)
	}
}

// TestNobodyTakesOverAnAccountByItsAddress adds people of the club to another organization before they have got in.
func TestNobodyTakesOverAnAccountByItsAddress(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	elsewhere := r.stranger(t, "other")
	poach := func(email string) string {
		t.Helper()
		return created[client.AddedMember](t, r, asked{method: "POST", path: "/v1/members", token: elsewhere.token, body: marshal(t, client.MemberEntry{
			Email: email, Name: "Somebody", Roles: client.Roles{client.RolePilot},
		})}).Link
	}
	try := func(link string) answered {
		return r.ask(t, asked{method: "POST", path: "/v1/password", token: "none", body: marshal(t, client.NewPassword{Link: link, Password: goodPassword})})
	}
	_, link := r.join(t, "new@club.example", "Somebody New", client.RolePilot)
	wantStatus(t, "the link of whoever came second", try(poach("new@club.example")), http.StatusUnauthorized)
	wantStatus(t, "the link of whoever came first", try(link), http.StatusNoContent)

	// Somebody who signs in by another provider alone has no password, and is not to be given one.
	_, first := r.join(t, "outside@club.example", "From Outside", client.RolePilot)
	r.provider.Meet(provider.Person{Subject: "outside", Email: "outside@club.example", Verified: true})
	wantStatus(t, "in by the other provider", r.ask(t, r.away(t)), http.StatusFound)
	wantStatus(t, "the first link afterwards", try(first), http.StatusUnauthorized)
	wantStatus(t, "the link of another organization", try(poach("outside@club.example")), http.StatusUnauthorized)
}

// TestAnOrganizationKeepsAnAdministrator tries to be rid of the last one in every way, and of two at once.
func TestAnOrganizationKeepsAnAdministrator(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	first := r.somebody(t, techlog.Administrator)
	path := "/v1/members/" + first.person.ID.String()
	demote := func(path string, version int) answered {
		return r.ask(t, asked{method: "PUT", path: path, header: ifMatch(version), body: marshal(t, client.MemberChange{Name: "X", Roles: client.Roles{client.RolePilot}})})
	}
	wantStatus(t, "the last one becomes a pilot", demote(path, 1), http.StatusConflict)
	wantStatus(t, "the last one leaves", r.ask(t, asked{method: "POST", path: path + "/ending", header: ifMatch(1)}), http.StatusConflict)
	second := r.somebody(t, techlog.Administrator, techlog.Pilot)
	paths := []string{path, "/v1/members/" + second.person.ID.String()}
	answers := make(chan int, 2)
	for _, path := range paths {
		go func() { answers <- demote(path, 1).status }()
	}
	if a, b := <-answers, <-answers; a+b != http.StatusOK+http.StatusConflict {
		t.Errorf("two who demote each other: %d and %d, want one to win", a, b)
	}
	members := decoded[client.Members](t, r.ask(t, asked{method: "GET", path: "/v1/members"}), 200)
	administrators := 0
	for _, m := range members.Members {
		for _, role := range m.Roles {
			if role == client.RoleAdministrator {
				administrators++
			}
		}
	}
	if administrators != 1 {
		t.Errorf("%d administrators are left", administrators)
	}
}

// TestTokensAreNoWiderThanTheirMaker makes tokens, and looks what becomes of them when their maker changes.
func TestTokensAreNoWiderThanTheirMaker(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	r.somebody(t, techlog.Administrator)
	b := r.somebody(t, techlog.Pilot, techlog.Scheduler)
	year := noon.AddDate(1, 0, 0)
	entry := func(change func(*client.TokenEntry)) asked {
		e := client.TokenEntry{Name: "board", Roles: client.Roles{client.RolePilot, client.RoleScheduler}, Until: noon.Add(time.Hour)}
		change(&e)
		return asked{method: "POST", path: "/v1/tokens", browser: b, body: marshal(t, e)}
	}
	for fault, change := range map[string]func(*client.TokenEntry){
		"within-own roles[1]":     func(e *client.TokenEntry) { e.Roles = client.Roles{client.RolePilot, client.RoleAdministrator} },
		"within-roles actions[0]": func(e *client.TokenEntry) { e.Actions = &[]client.Action{client.KeepPeople} },
		"future until":            func(e *client.TokenEntry) { e.Until = noon },
		"within-a-year until":     func(e *client.TokenEntry) { e.Until = year.Add(time.Second) },
		"required name":           func(e *client.TokenEntry) { e.Name = " " },
		"enum roles[0]":           func(e *client.TokenEntry) { e.Roles = client.Roles{"owner"} },
	} {
		got := r.ask(t, entry(change))
		if got.status != http.StatusUnprocessableEntity || strings.Join(got.faults(t), " ") != fault {
			t.Errorf("%s: %d %s", fault, got.status, got.body)
		}
	}
	secret := func(change func(*client.TokenEntry)) client.MadeToken {
		return created[client.MadeToken](t, r, entry(change))
	}
	whole := secret(func(e *client.TokenEntry) { e.Until = year })
	reads := secret(func(e *client.TokenEntry) { e.Actions = &[]client.Action{} })
	notes := secret(func(e *client.TokenEntry) { e.Actions = &[]client.Action{client.AddNote, client.FileSquawk} })
	own := secret(func(e *client.TokenEntry) { e.Own = new(true) })
	squawk := func(token string) int {
		return r.ask(t, asked{method: "POST", path: "/v1/aircraft/" + f.aircraft.Id.String() + "/squawks", body: report, token: token}).status
	}
	plan := func(token string) int {
		return r.ask(t, asked{method: "POST", path: "/v1/flights", body: marshal(t, f.nightFlight()), token: token}).status
	}
	for name, c := range map[string]struct {
		token        string
		squawk, plan int
	}{
		"whole": {whole.Secret, 201, 201}, "that reads": {reads.Secret, 403, 403}, "for notes": {notes.Secret, 201, 403}, "own": {own.Secret, 201, 201},
	} {
		if s, p := squawk(c.token), plan(c.token); s != c.squawk || p != c.plan {
			t.Errorf("a token %s: squawk %d, flight %d, want %d and %d", name, s, p, c.squawk, c.plan)
		}
		wantStatus(t, name+" reads", r.ask(t, asked{method: "GET", path: "/v1/bases", token: c.token}), 200)
		made := r.ask(t, asked{method: "POST", path: "/v1/tokens", token: c.token, body: entry(func(*client.TokenEntry) {}).body})
		wantStatus(t, name+" makes a token", made, http.StatusUnauthorized)
	}
	// A program signs nothing; whose token it is does.
	proof := asked{method: "POST", path: "/v1/proofs", body: marshal(t, client.ProofWanted{Digest: someDigest}), token: whole.Secret}
	wantStatus(t, "a program's proof", r.ask(t, proof), http.StatusForbidden)
	proof.token = own.Secret
	wantStatus(t, "a person's proof, who has no passkey", r.ask(t, proof), http.StatusConflict)

	// The maker is no scheduler and no pilot any more: the token shrinks with the maker, at once.
	path := "/v1/members/" + b.person.ID.String()
	change := func(version int, roles ...client.Role) {
		t.Helper()
		got := r.ask(t, asked{method: "PUT", path: path, header: ifMatch(version), body: marshal(t, client.MemberChange{Name: "X", Roles: roles})})
		wantStatus(t, "change the maker", got, 200)
	}
	change(1, client.RoleMechanic)
	if s, p := squawk(whole.Secret), plan(whole.Secret); s != 403 || p != 403 {
		t.Errorf("the token of somebody who holds none of its roles any more: %d and %d", s, p)
	}
	change(2, client.RolePilot)
	if s, p := squawk(whole.Secret), plan(whole.Secret); s != 201 || p != 201 {
		t.Errorf("the token of a pilot: %d and %d", s, p)
	}
	wantStatus(t, "taken back", r.ask(t, asked{method: "POST", path: "/v1/tokens/" + notes.Token.Id.String() + "/revocation", browser: b}), 200)
	if s := squawk(notes.Secret); s != 401 {
		t.Errorf("a token that was taken back: %d", s)
	}
	r.clock.advance(time.Hour)
	if s := squawk(own.Secret); s != 401 {
		t.Errorf("a token that has run out: %d", s)
	}
	wantStatus(t, "the maker leaves", r.ask(t, asked{method: "POST", path: path + "/ending", header: ifMatch(3)}), 200)
	if s := squawk(whole.Secret); s != 401 {
		t.Errorf("the token of somebody who left: %d", s)
	}
	events := decoded[client.SecurityEvents](t, r.ask(t, asked{method: "GET", path: "/v1/security-events"}), 200)
	if len(events.Events) != 4+1+3 {
		t.Errorf("%d events of the organization, want 4 tokens made, 1 taken back, and 3 changes of the member", len(events.Events))
	}
}

// TestEverythingRunsOut lets each thing that is good for a while run out.
func TestEverythingRunsOut(t *testing.T) {
	t.Parallel()
	signedIn := func(r *rig) (*browser, asked) {
		b := r.somebody(t, techlog.Pilot)
		return b, asked{method: "GET", path: "/v1/me", browser: b}
	}
	for name, c := range map[string]struct {
		good  time.Duration // still
		spent time.Duration // no longer
		begin func(r *rig) func() answered
	}{
		"a session that nobody uses": {12*time.Hour - time.Second, 12 * time.Hour, func(r *rig) func() answered {
			_, q := signedIn(r)
			return func() answered { return r.ask(t, q) }
		}},
		"a link for somebody new": {7*24*time.Hour - time.Second, 7 * 24 * time.Hour, func(r *rig) func() answered {
			_, link := r.join(t, "new@club.example", "Somebody New", client.RolePilot)
			return func() answered {
				return r.ask(t, asked{method: "POST", path: "/v1/password", token: "none", body: marshal(t, client.NewPassword{Link: link, Password: goodPassword})})
			}
		}},
		"a link to reset": {24*time.Hour - time.Second, 24 * time.Hour, func(r *rig) func() answered {
			b := r.somebody(t, techlog.Pilot)
			link := created[client.PasswordLink](t, r, asked{method: "POST", path: "/v1/members/" + b.person.ID.String() + "/password-link"}).Link
			return func() answered {
				return r.ask(t, asked{method: "POST", path: "/v1/password", token: "none", body: marshal(t, client.NewPassword{Link: link, Password: goodPassword})})
			}
		}},
		"the second step": {5*time.Minute - time.Second, 5 * time.Minute, func(r *rig) func() answered {
			b := r.somebody(t, techlog.Pilot)
			r.withPasskey(t, b)
			q := (&exercise{rig: r}).secondStep(t, b)
			return func() answered { return r.ask(t, q) }
		}},
		"the registration of a passkey": {5*time.Minute - time.Second, 5 * time.Minute, func(r *rig) func() answered {
			b := r.somebody(t, techlog.Pilot)
			b.device = authenticator.New(publicURL)
			q := r.passkeyEntry(t, b)
			return func() answered { return r.ask(t, q) }
		}},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for passed, fine := range map[time.Duration]bool{c.good: true, c.spent: false} {
				r := newRig(t)
				finish := c.begin(r)
				r.clock.advance(passed)
				if got := finish(); (got.status < 400) != fine {
					t.Errorf("after %s: %d %s", passed, got.status, got.body)
				}
			}
		})
	}
}

// TestASessionEndsWhateverHappens uses a session every hour, for a month.
func TestASessionEndsWhateverHappens(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	b := r.somebody(t, techlog.Pilot)
	hours := 0
	for r.ask(t, asked{method: "GET", path: "/v1/me", browser: b}).status == http.StatusOK && hours < 1000 {
		r.clock.advance(6 * time.Hour)
		hours += 6
	}
	if hours != 30*24 {
		t.Errorf("it lasted %s h, want 30 days", strconv.Itoa(hours))
	}
}
