package httpapi_test

import (
	"context"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/authenticator"
	"tiedown/internal/testrig/provider"
)

// failingPeople answers whatever is asked first with an error.
type failingPeople struct {
	people.Store
	err error
}

func (f failingPeople) Session(context.Context, [32]byte) (people.Session, error) {
	return people.Session{}, f.err
}

func (f failingPeople) Attempt(context.Context, []people.Subject, time.Time) (people.Tried, error) {
	return people.Tried{}, f.err
}

func (f failingPeople) TakeTicket(context.Context, [32]byte, time.Time) (people.Challenge, error) {
	return people.Challenge{}, f.err
}

func (f failingPeople) LinkOf(context.Context, [32]byte, time.Time) (techlog.ID, error) {
	return techlog.ID{}, f.err
}

// failingProvider is another provider that fails.
type failingProvider struct{ err error }

func (f failingProvider) Begin(context.Context, people.Trip) (string, error) { return "", f.err }

func (f failingProvider) Finish(context.Context, people.Trip, string) (people.Identity, error) {
	return people.Identity{}, f.err
}

func failingPersons(err error) persons {
	return persons{failingPeople{err: err}, func(func() time.Time) people.Provider { return failingProvider{err} }}
}

const someDigest = "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"

// addGoodPeople adds a good request for every operation about people.
func (x *exercise) addGoodPeople(t *testing.T, good map[string]func() asked) {
	t.Helper()
	r := x.rig
	person := func() *browser { return r.somebody(t, x.as) }
	withKey := func() *browser {
		b := person()
		r.withPasskey(t, b)
		return b
	}
	mine := func(method, path string) func() asked {
		return func() asked { return asked{method: method, path: path, browser: person()} }
	}
	good["showSession"] = mine("GET", "/v1/session")
	good["signOut"] = mine("DELETE", "/v1/session")
	good["showMe"] = mine("GET", "/v1/me")
	good["listSessions"] = mine("GET", "/v1/me/sessions")
	good["listPasskeys"] = mine("GET", "/v1/me/passkeys")
	good["listMySecurityEvents"] = mine("GET", "/v1/me/security-events")
	good["linkIdentity"] = mine("POST", "/v1/me/identities")
	good["signIn"] = func() asked {
		return asked{method: "POST", path: "/v1/session", token: "none", body: marshal(t, client.Credentials{
			Email: string(person().person.Email), Password: goodPassword,
		})}
	}
	good["finishSignIn"] = func() asked { return x.secondStep(t, withKey()) }
	good["setPassword"] = func() asked {
		_, link, err := r.people.FirstAccount(t.Context(), x.next("new")+"@club.example", "Somebody New", nil)
		if err != nil {
			t.Fatal(err)
		}
		return asked{method: "POST", path: "/v1/password", token: "none", body: marshal(t, client.NewPassword{Link: link, Password: goodPassword})}
	}
	good["beginOIDC"] = func() asked { return asked{method: "GET", path: "/v1/oidc", token: "none"} }
	good["finishOIDC"] = func() asked {
		b := person()
		r.provider.Meet(provider.Person{Subject: x.next("subject"), Email: string(b.person.Email), Verified: true, Name: b.person.Name})
		begun := r.ask(t, asked{method: "GET", path: "/v1/oidc", token: "none"})
		return r.elsewhere(t, begun, begun.header.Get("Location"))
	}
	good["chooseOrganization"] = func() asked {
		return asked{
			method: "PUT", path: "/v1/session/organization", browser: person(), body: marshal(t, client.Choice{Organization: client.ID(r.club)}),
		}
	}
	good["endSession"] = func() asked {
		b := person()
		got := r.ask(t, asked{method: "GET", path: "/v1/session", browser: r.signIn(t, b.person, goodPassword, nil)})
		return asked{method: "DELETE", path: "/v1/me/sessions/" + decoded[client.Session](t, got, 200).Id.String(), browser: b}
	}
	good["changePassword"] = func() asked {
		return asked{method: "PUT", path: "/v1/me/password", browser: person(), body: marshal(t, client.PasswordChange{
			Present: goodPassword, Next: "a wholly different secret",
		})}
	}
	good["beginPasskey"] = func() asked {
		return asked{method: "POST", path: "/v1/me/passkey-challenges", browser: person(), body: byPassword(t, goodPassword)}
	}
	good["addPasskey"] = func() asked {
		b := person()
		b.device = authenticator.New(publicURL)
		return r.passkeyEntry(t, b)
	}
	good["removePasskey"] = func() asked {
		b := withKey()
		return asked{method: "POST", path: "/v1/me/passkeys/" + b.key.Id.String() + "/removal", browser: b, body: byPassword(t, goodPassword)}
	}
	good["renewRecoveryCodes"] = func() asked {
		return asked{method: "POST", path: "/v1/me/recovery-codes", browser: withKey(), body: byPassword(t, goodPassword)}
	}
	good["beginProof"] = func() asked {
		return asked{method: "POST", path: "/v1/proofs", browser: withKey(), body: marshal(t, client.ProofWanted{Digest: someDigest})}
	}
	x.addGoodMembers(t, good)
}

// secondStep is the second step of signing in with a passkey.
func (x *exercise) secondStep(t *testing.T, b *browser) asked {
	t.Helper()
	got := x.rig.ask(t, asked{method: "POST", path: "/v1/session", token: "none", body: marshal(t, client.Credentials{
		Email: string(b.person.Email), Password: b.password,
	})})
	step := decoded[client.SignedIn](t, got, http.StatusOK).SecondStep
	response, err := b.device.Get(step.Options)
	if err != nil {
		t.Fatal(err)
	}
	return asked{
		method: "POST", path: "/v1/session/second-step", token: "none", browser: nil,
		body: marshal(t, client.SecondAnswer{Ticket: step.Ticket, Response: &response}),
	}
}

// addGoodMembers adds a good request for every operation about members and tokens.
func (x *exercise) addGoodMembers(t *testing.T, good map[string]func() asked) {
	t.Helper()
	r := x.rig
	get := func(path string) func() asked { return func() asked { return asked{method: "GET", path: path} } }
	good["listMembers"], good["listTokens"], good["listSecurityEvents"] = get("/v1/members"), get("/v1/tokens"), get("/v1/security-events")
	good["addMember"] = func() asked {
		return asked{method: "POST", path: "/v1/members", body: marshal(t, client.MemberEntry{
			Email: x.next("member") + "@club.example", Name: "Teal Osier", Roles: client.Roles{client.RolePilot},
		})}
	}
	member := func() string {
		return "/v1/members/" + created[client.AddedMember](t, r, good["addMember"]()).Member.Person.String()
	}
	good["showMember"] = func() asked { return asked{method: "GET", path: member()} }
	good["listMemberHistory"] = func() asked { return asked{method: "GET", path: member() + "/history"} }
	good["changeMember"] = func() asked {
		return asked{method: "PUT", path: member(), header: ifMatch(1), body: marshal(t, client.MemberChange{
			Name: "Teal Osier", Roles: client.Roles{client.RolePilot, client.RoleMechanic},
		})}
	}
	good["endMember"] = func() asked { return asked{method: "POST", path: member() + "/ending", header: ifMatch(1)} }
	good["resetPassword"] = func() asked { return asked{method: "POST", path: member() + "/password-link"} }
	good["makeToken"] = func() asked {
		return asked{method: "POST", path: "/v1/tokens", browser: r.somebody(t, x.as), body: marshal(t, client.TokenEntry{
			Name: "the dispatch board", Roles: client.Roles{client.Role(x.as)}, Until: noon.Add(24 * time.Hour),
		})}
	}
	good["listCalendarFeeds"] = get("/v1/calendar-feeds")
	good["makeCalendarFeed"] = func() asked {
		return asked{method: "POST", path: "/v1/calendar-feeds", browser: r.somebody(t, x.as), body: marshal(t, client.CalendarFeedEntry{
			Name: "the wall", Aircraft: &x.fleet.aircraft.Id,
		})}
	}
	good["revokeCalendarFeed"] = func() asked {
		made := created[client.MadeCalendarFeed](t, r, good["makeCalendarFeed"]())
		return asked{method: "POST", path: "/v1/calendar-feeds/" + made.Feed.Id.String() + "/revocation"}
	}
	good["downloadCalendar"] = func() asked {
		made := created[client.MadeCalendarFeed](t, r, good["makeCalendarFeed"]())
		return asked{method: "GET", path: strings.TrimPrefix(made.Url, publicURL), token: "none"}
	}
	good["revokeToken"] = func() asked {
		made := created[client.MadeToken](t, r, good["makeToken"]())
		return asked{method: "POST", path: "/v1/tokens/" + made.Token.Id.String() + "/revocation"}
	}
}

// conflictOfPeople is a request about people that contradicts what is on record.
func (x *exercise) conflictOfPeople(t *testing.T, operation string) (asked, bool) {
	t.Helper()
	r := x.rig
	twice := func(operation string) asked {
		q := x.good[operation]()
		if got := r.ask(t, q); got.status >= 400 {
			t.Fatalf("%s: %d %s", operation, got.status, got.body)
		}
		return q
	}
	ended := func() string {
		q := twice("endMember")
		return strings.TrimSuffix(q.path, "/ending")
	}
	switch operation {
	case "addMember", "revokeToken", "revokeCalendarFeed":
		return twice(operation), true
	case "endMember":
		return asked{method: "POST", path: ended() + "/ending", header: ifMatch(2)}, true
	case "changeMember":
		q := x.good[operation]()
		q.path, q.header = ended(), ifMatch(2)
		return q, true
	case "resetPassword":
		return asked{method: "POST", path: ended() + "/password-link"}, true
	case "renewRecoveryCodes", "beginProof":
		q := x.good[operation]()
		q.browser = r.somebody(t, techlog.Pilot)
		return q, true
	case "addPasskey":
		first, second := r.somebody(t, techlog.Pilot), r.somebody(t, techlog.Pilot)
		first.device = authenticator.New(publicURL)
		first.device.NextID = []byte("an identifier that comes twice")
		second.device = first.device.Clone()
		if got := r.ask(t, r.passkeyEntry(t, first)); got.status != http.StatusCreated {
			t.Fatalf("%d %s", got.status, got.body)
		}
		return r.passkeyEntry(t, second), true
	case "finishOIDC":
		twice("finishOIDC") // somebody has linked this identity
		b := r.somebody(t, techlog.Pilot)
		begun := r.ask(t, asked{method: "POST", path: "/v1/me/identities", browser: b})
		return r.elsewhere(t, begun, decoded[client.Away](t, begun, 200).Location, "__Host-tiedown="+b.cookie), true
	}
	return asked{}, false
}

// tooOften is a good request after too many wrong attempts.
func (x *exercise) tooOften(t *testing.T, operation string, q asked) asked {
	t.Helper()
	switch operation {
	case "signIn":
		x.rig.lock(t, techlog.Email("nobody@club.example"))
		q.body = marshal(t, client.Credentials{Email: "nobody@club.example", Password: goodPassword})
	case "finishSignIn":
		b := x.rig.somebody(t, techlog.Pilot)
		x.rig.withPasskey(t, b)
		q = x.secondStep(t, b)
		for range 4 { // the first step counted
			x.rig.ask(t, asked{method: "POST", path: "/v1/session", token: "none", body: marshal(t, client.Credentials{
				Email: string(b.person.Email), Password: "wrong",
			})})
		}
	default:
		x.rig.lock(t, q.browser.person.Email)
	}
	return q
}

// TestTheContractListsTheWordsOfPeople holds that roles, actions and events of the contract are the program's.
func TestTheContractListsTheWordsOfPeople(t *testing.T) {
	t.Parallel()
	schemas := strictContract(t).Components.Schemas
	for name, c := range map[string]struct{ contract, program []any }{
		"roles":   {schemas["Role"].Value.Enum, anys(techlog.Roles())},
		"actions": {schemas["Action"].Value.Enum, anys(techlog.Actions())},
		"events":  {schemas["SecurityEvent"].Value.Properties["kind"].Value.Enum, anys(techlog.SecurityEventKinds())},
	} {
		if !slices.Equal(c.contract, c.program) {
			t.Errorf("%s of the contract: %v, of the program: %v", name, c.contract, c.program)
		}
	}
}

func anys[T ~string](list []T) []any {
	var all []any
	for _, v := range list {
		all = append(all, string(v))
	}
	return all
}
