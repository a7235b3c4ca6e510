package pages_test

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/people"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/authenticator"
)

// onceName is the name of a form: it acts once.
var onceName = regexp.MustCompile(`name="once" value="([^"]+)"`)

// formOf is what a page's form sends unseen.
func (v *visitor) formOf(path string) url.Values {
	v.club.t.Helper()
	page := v.get(path)
	m := onceName.FindStringSubmatch(page.body)
	if page.status != http.StatusOK || m == nil {
		v.club.t.Fatalf("%s has no form: %d %s", path, page.status, page.body)
	}
	return url.Values{"form_token": {v.form}, "once": {m[1]}}
}

// submit fills in a form of a page and sends it to an address.
func (v *visitor) submit(from, to string, fields url.Values) seen {
	v.club.t.Helper()
	form := v.formOf(from)
	for name, values := range fields {
		form[name] = values
	}
	return v.post(to, form)
}

func (s seen) to(t *testing.T, path string) {
	t.Helper()
	if got := s.header.Get("Location"); s.status != http.StatusSeeOther || !strings.HasPrefix(got, path) {
		t.Fatalf("%d, to %q instead of %q: %s", s.status, got, path, s.body)
	}
}

var secretShown = regexp.MustCompile(`<p class="secret"><code>([^<]+)</code>`)

// secrets are those that a page shows.
func (s seen) secrets() []string {
	var all []string
	for _, m := range secretShown.FindAllStringSubmatch(s.body, -1) {
		all = append(all, html.UnescapeString(m[1]))
	}
	return all
}

// TestSecretsAreShownOnce makes each thing that has a secret: the page after the form shows it, is kept nowhere, and no
// longer shows it when it is loaded anew; the form, sent again, makes nothing; and the secret is not in the address. Each is
// good for what it is made for.
func TestSecretsAreShownOnce(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	v := c.signIn(string(demo.Keeper))
	wren := "/people/" + c.memberOf(pilot).Person.String()
	hook := "/settings/webhooks/" + c.hook().String()
	soon := c.clock().AddDate(0, 1, 0).Format(time.DateOnly)
	good := map[string]func(secret string){
		"a member": func(secret string) {
			if page := c.visitor().get(strings.TrimPrefix(secret, c.server.URL)); page.status != http.StatusOK || !strings.Contains(page.body, "Set a password") {
				t.Errorf("the link leads to %d", page.status)
			}
		},
		"a token": func(secret string) {
			r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, c.server.URL+"/v1/bases", nil)
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("Authorization", "Bearer "+secret)
			if got := c.visitor().do(r); got.status != http.StatusOK {
				t.Errorf("the token is answered %d", got.status)
			}
		},
		"a calendar": func(secret string) {
			if got := c.visitor().get(strings.TrimPrefix(secret, c.server.URL)); got.status != http.StatusOK || !strings.Contains(got.body, "BEGIN:VCALENDAR") {
				t.Errorf("the calendar is answered %d", got.status)
			}
		},
	}
	for name, made := range map[string]struct {
		from, to string
		form     url.Values
		again    int // what the same form is answered, sent again
	}{
		"a member":        {"/people", "/people", url.Values{"email": {"new@three-willows.example"}, "name": {"Alder New"}, "roles": {"pilot"}}, http.StatusConflict},
		"a password link": {wren, wren, url.Values{"step": {"link"}, "version": {"1"}}, http.StatusConflict},
		"a token": {
			"/settings/tokens", "/settings/tokens", url.Values{"name": {"Booking"}, "roles": {"administrator"}, "scope": {"limited"}, "until": {soon}}, http.StatusConflict,
		},
		"a calendar":   {"/settings/calendars", "/settings/calendars", url.Values{"name": {"Briefing room"}}, http.StatusConflict},
		"a webhook":    {"/settings/webhooks", "/settings/webhooks", url.Values{"url": {"https://tower.example/in"}}, http.StatusConflict},
		"a new secret": {hook, hook, url.Values{"step": {"renew"}}, http.StatusConflict},
	} {
		form := v.formOf(made.from)
		for field, values := range made.form {
			form[field] = values
		}
		answer := v.post(made.to, form)
		if answer.status != http.StatusSeeOther || answer.header.Get("Cache-Control") != "no-store" {
			t.Fatalf("%s: %d %s", name, answer.status, answer.body)
		}
		next := answer.header.Get("Location")
		page := v.get(next)
		shown := page.secrets()
		if len(shown) != 1 || page.header.Get("Cache-Control") != "no-store" {
			t.Fatalf("%s: %d secrets at %s", name, len(shown), next)
		}
		if strings.Contains(next, shown[0]) || strings.Contains(answer.body, shown[0]) {
			t.Errorf("%s: the secret stands in the address or in the answer to the form", name)
		}
		if reloaded := v.get(next); len(reloaded.secrets()) != 0 || strings.Contains(reloaded.body, shown[0]) {
			t.Errorf("%s: loaded anew the page shows it again", name)
		}
		if again := v.post(made.to, form); again.status != made.again || len(again.secrets()) != 0 {
			t.Errorf("%s: sent again %d, want %d", name, again.status, made.again)
		}
		if use := good[name]; use != nil {
			use(shown[0])
		}
	}
	tokens, err := c.service.AccessTokens(t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil || len(tokens) != 1 || tokens[0].Name != "Booking" || !tokens[0].Scope.Limited {
		t.Errorf("on record: %+v, %v", tokens, err)
	}
}

// TestASecretGoesToItsSessionAlone holds that what is on its way to one session's page is not shown to another session, nor
// is what somebody else has written into the cookie.
func TestASecretGoesToItsSessionAlone(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	v, other := c.signIn(string(demo.Keeper)), c.signIn(pilot)
	v.submit("/settings/calendars", "/settings/calendars", url.Values{"name": {"Briefing room"}}).to(t, "/settings/calendars")
	at, err := url.Parse(c.server.URL)
	if err != nil {
		t.Fatal(err)
	}
	for _, cookie := range v.client.Jar.Cookies(at) {
		if strings.HasSuffix(cookie.Name, "-handed") {
			other.client.Jar.SetCookies(at, []*http.Cookie{cookie})
		}
	}
	if page := other.get("/settings/calendars"); page.status != http.StatusOK || len(page.secrets()) != 0 {
		t.Errorf("another session sees %v", page.secrets())
	}
	if page := v.get("/settings/calendars"); len(page.secrets()) != 1 {
		t.Errorf("its own session sees %v", page.secrets())
	}
}

// TestWhatAPilotMayNotDo holds that a pilot is not shown what a pilot may not do, and that a form that was made up is
// refused by a page and changes nothing.
func TestWhatAPilotMayNotDo(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	v := c.signIn(pilot)
	keeper := c.memberOf(demo.Keeper).Person.String()
	certificate := c.certificateOf(mechanic).ID.String()
	hook := "/settings/webhooks/" + c.hook().String()
	fleet, err := c.service.Fleet(t.Context(), c.who, hangar.Page{Limit: 1})
	if err != nil {
		t.Fatal(err)
	}
	base := "/settings/bases/" + fleet[0].Base.String()
	more := v.get("/more")
	if strings.Contains(more.body, "/settings/webhooks") || !strings.Contains(more.body, "/you/notices") {
		t.Error("the pilot is offered webhooks, or not the own settings")
	}
	for path, hidden := range map[string]string{
		"/people": "Add somebody", "/people/" + keeper: "End the membership", "/certificates/" + certificate: "Withdraw it",
		"/settings/bases": "Add a base", base: "Change it", "/settings/rules": "Add a rule", "/settings/warnings": `name="days_ahead"`,
	} {
		if got := v.get(path); got.status != http.StatusOK || strings.Contains(got.body, hidden) {
			t.Errorf("%s: %d, offers %q: %v", path, got.status, hidden, strings.Contains(got.body, hidden))
		}
	}
	if own := v.get("/people/" + c.memberOf(pilot).Person.String()); !strings.Contains(own.body, "Nobody enters what concerns oneself") || strings.Contains(own.body, "Enter a certificate") {
		t.Error("the pilot's own page does not say who enters certificates")
	}
	for _, path := range []string{"/settings/webhooks", hook, "/people/" + keeper + "/certificates/new"} {
		if got := v.get(path); got.status != http.StatusForbidden || !strings.Contains(got.body, "You may not do this") {
			t.Errorf("%s: %d", path, got.status)
		}
	}
	for path, forms := range map[string][]url.Values{
		"/people":           {{"email": {"x@club.example"}, "name": {"X"}, "roles": {"administrator"}}},
		"/people/" + keeper: {{"step": {"change"}, "version": {"1"}, "name": {"X"}, "roles": {"pilot"}}, {"step": {"end"}, "version": {"1"}}, {"step": {"link"}, "version": {"1"}}},
		"/people/" + keeper + "/certificates/new":                            {{"kind": {"pilot"}, "number": {"1"}, "grade": {"private"}, "valid_from": {"2026-01-01"}}},
		"/people/" + c.memberOf(pilot).Person.String() + "/certificates/new": {{"kind": {"pilot"}, "number": {"1"}, "grade": {"airline-transport"}, "valid_from": {"2026-01-01"}}},
		"/people/" + keeper + "/standings":                                   {{"kind": {"operates"}, "valid_from": {"2026-01-01"}}},
		"/certificates/" + certificate:                                       {{"step": {"withdraw"}, "version": {"1"}}},
		"/settings/bases":                                                    {{"code": {"X"}, "name": {"X"}, "lat": {"1"}, "lon": {"1"}, "zone": {"UTC"}}, {"code": {"X"}}},
		base:                                                                 {{"version": {"1"}, "code": {"X"}, "name": {"X"}, "lat": {"1"}, "lon": {"1"}, "zone": {"UTC"}}},
		"/settings/rules":                                                    {{"step": {"policy"}, "version": {"0"}, "deactivation": {"rule-text"}}},
		"/settings/warnings":                                                 {{"version": {"0"}, "days_ahead": {"1"}}, {"version": {"0"}, "days_ahead": {"x"}}},
		"/settings/webhooks":                                                 {{"url": {"https://tower.example/in"}}},
		hook:                                                                 {{"step": {"end"}, "version": {"1"}}, {"step": {"renew"}}, {"step": {"ping"}}, {"step": {"replay"}, "dead": {"yes"}}},
	} {
		for _, form := range forms {
			if got := v.post(path, form); got.status != http.StatusForbidden || !strings.Contains(got.body, "You may not do this") {
				t.Errorf("%s, %v: %d", path, form, got.status)
			}
		}
	}
	wide := v.submit("/settings/tokens", "/settings/tokens", url.Values{
		"name": {"wide"}, "roles": {"administrator"}, "scope": {"whole"}, "until": {c.clock().AddDate(0, 1, 0).Format(time.DateOnly)},
	})
	if wide.status != http.StatusUnprocessableEntity || !strings.Contains(wide.body, `id="fault-roles"`) {
		t.Errorf("a token as an administrator: %d", wide.status)
	}
}

// TestWhoeverComesSecond opens each form twice and sends both: the second is shown what has become of the record, and what
// was written in it is not lost.
func TestWhoeverComesSecond(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	v := c.signIn(string(demo.Keeper))
	wren := "/people/" + c.memberOf(pilot).Person.String()
	certificate := "/certificates/" + c.certificateOf(pilot).ID.String()
	hook := "/settings/webhooks/" + c.hook().String()
	fleet, err := c.service.Fleet(t.Context(), c.who, hangar.Page{Limit: 1})
	if err != nil {
		t.Fatal(err)
	}
	base := "/settings/bases/" + fleet[0].Base.String()
	rule := func(name string) url.Values {
		return url.Values{"version": {"0"}, "step": {"add"}, "name": {name}, "words": {name + " radios."}, "citation": {"Manual 4.2"}, "item": {"com-radio"}, "quantity": {"2"}}
	}
	hooked := func(to string) url.Values { return url.Values{"version": {"1"}, "step": {"change"}, "url": {to}} }
	number := func(n string) url.Values {
		return url.Values{"version": {"1"}, "step": {"keep"}, "kind": {"pilot"}, "number": {n}, "grade": {"private"}, "valid_from": {"2024-01-01"}}
	}
	of := c.place(fleet[0].Base)
	named := func(name string) url.Values {
		return url.Values{"version": {"1"}, "code": {of.Code}, "name": {name}, "lat": {"41.21"}, "lon": {"-95.48"}, "zone": {of.Zone}}
	}
	wants := func(zone string) url.Values {
		return url.Values{"version": {"0"}, "mail": {"yes"}, "fleet": {"all"}, "zone": {zone}}
	}
	for path, forms := range map[string][2]url.Values{
		wren:                 {{"step": {"change"}, "version": {"1"}, "name": {"Wren One"}, "roles": {"pilot"}}, {"step": {"change"}, "version": {"1"}, "name": {"Wren Two"}, "roles": {"pilot"}}},
		certificate:          {number("One"), number("Two")},
		base:                 {named("One"), named("Two")},
		"/settings/rules":    {rule("One"), rule("Two")},
		"/settings/warnings": {{"version": {"0"}, "days_ahead": {"40"}}, {"version": {"0"}, "days_ahead": {"50"}}},
		hook:                 {hooked("https://one.example/"), hooked("https://two.example/")},
		"/you/notices":       {wants("America/Denver"), wants("America/Phoenix")},
	} {
		first := v.submit(path, path, forms[0])
		if first.status != http.StatusSeeOther {
			t.Fatalf("%s: %d %s", path, first.status, first.body)
		}
		second := v.submit(path, path, forms[1])
		if second.status != http.StatusConflict || !strings.Contains(second.body, "Somebody has changed this meanwhile") {
			t.Errorf("%s: the second is answered %d", path, second.status)
		}
		for field, values := range forms[1] {
			if field != "step" && field != "version" && field != "kind" && field != "item" && field != "fleet" && field != "mail" &&
				!strings.Contains(second.body, html.EscapeString(values[0])) {
				t.Errorf("%s: %s is lost: %q", path, field, values[0])
			}
		}
	}
}

// place is a base.
func (c *club) place(id techlog.ID) techlog.Base {
	c.t.Helper()
	b, err := c.service.Base(c.t.Context(), c.who, id)
	if err != nil {
		c.t.Fatal(err)
	}
	return b
}

// TestFaultsOfTheOffice sends each form wrongly: the fault stands beside its field, what was written stands in it still,
// and nothing is on record.
func TestFaultsOfTheOffice(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	v := c.signIn(string(demo.Keeper))
	wren := "/people/" + c.memberOf(pilot).Person.String()
	for _, f := range []struct {
		path   string
		form   url.Values
		faults []string
		keeps  string
	}{
		{"/people", url.Values{"email": {"no address"}, "name": {""}}, []string{"email", "name", "roles"}, `value="no address"`},
		{wren, url.Values{"step": {"change"}, "version": {"1"}, "name": {" "}}, []string{"name", "roles"}, ""},
		{wren + "/certificates/new?kind=mechanic", url.Values{"kind": {"mechanic"}, "number": {""}, "ratings": {"wings"}, "valid_from": {"soon"}, "recent_from": {"2026-01-01"}, "recent_until": {"2029-01-01"}}, []string{"number", "ratings", "valid_from", "recent_until"}, `value="2029-01-01"`},
		{wren + "/certificates/new?kind=inspection-authorization", url.Values{"kind": {"inspection-authorization"}, "number": {"7"}, "valid_from": {"2026-01-01"}}, []string{"valid_until"}, `value="7"`},
		{wren + "/standings", url.Values{"kind": {"owns"}, "valid_from": {"2026-01-01"}}, []string{"aircraft"}, `value="2026-01-01"`},
		{"/settings/bases", url.Values{"code": {""}, "name": {"Here"}, "lat": {"north"}, "lon": {"9"}, "zone": {"UTC"}}, []string{"lat"}, `value="north"`},
		{"/settings/bases", url.Values{"code": {""}, "name": {""}, "lat": {"99"}, "lon": {"9"}, "zone": {"Mars/One"}}, []string{"code", "name", "lat", "zone"}, `value="Mars/One"`},
		{"/settings/warnings", url.Values{"version": {"0"}, "days_ahead": {"soon"}}, []string{"days_ahead"}, `value="soon"`},
		{"/settings/warnings", url.Values{"version": {"0"}, "days_ahead": {"400"}}, []string{"days_ahead"}, `value="400"`},
		{"/settings/rules", url.Values{"version": {"0"}, "step": {"add"}, "name": {"night"}, "words": {""}, "citation": {""}, "item": {"kettle"}, "quantity": {"2"}, "when_other": {"moonlight"}}, []string{"words", "citation"}, `value="moonlight"`},
		{"/settings/rules", url.Values{"version": {"0"}, "step": {"add"}, "name": {"night"}, "words": {"Two."}, "citation": {"4.2"}, "item": {"com-radio"}, "quantity": {"2"}, "when_other": {"moonlight"}}, []string{"when"}, `value="moonlight"`},
		{"/settings/rules", url.Values{"version": {"0"}, "step": {"add"}, "name": {"night"}, "words": {"Two."}, "citation": {"4.2"}, "item": {"kettle"}, "quantity": {"2"}}, []string{"item"}, `value="kettle"`},
		{"/settings/webhooks", url.Values{"url": {"ftp://tower.example"}, "others": {"no.Such"}}, []string{"url", "kinds"}, `value="ftp://tower.example"`},
		{"/settings/calendars", url.Values{"name": {" "}}, []string{"name"}, ""},
		{"/settings/tokens", url.Values{"name": {""}, "until": {"2020-01-01"}}, []string{"name", "roles", "until"}, `value="2020-01-01"`},
		{"/you/notices", url.Values{"version": {"0"}, "zone": {"Mars/One"}, "quiet_from": {"22:00"}, "quiet_until": {"22:00"}}, []string{"zone", "quiet"}, `value="22:00"`},
		{"/you/notices", url.Values{"version": {"0"}, "zone": {"UTC"}, "quiet_from": {"22:00"}}, []string{"quiet"}, `value="22:00"`},
	} {
		from := strings.TrimSuffix(f.path, "/standings")
		got := v.submit(from, f.path, f.form)
		if got.status != http.StatusUnprocessableEntity {
			t.Errorf("%s, %v: %d", f.path, f.form, got.status)
		}
		for _, field := range f.faults {
			if !strings.Contains(got.body, `id="fault-`+field+`"`) {
				t.Errorf("%s, %v: no fault stands beside %s", f.path, f.form, field)
			}
		}
		if !strings.Contains(got.body, f.keeps) {
			t.Errorf("%s: %s is lost", f.path, f.keeps)
		}
	}
	if feeds, err := c.service.CalendarFeeds(t.Context(), c.who, hangar.Page{Limit: 9}); err != nil || len(feeds) != 0 {
		t.Errorf("on record: %v, %v", feeds, err)
	}
}

// TestOnesOwnAccount walks what is one's own: a session elsewhere is seen and ended, the password is changed, a passkey is
// added with its recovery codes, which are shown once, and removed, and all of that stands among the events.
func TestOnesOwnAccount(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	elsewhere, v := c.signIn(pilot), c.signIn(pilot)
	elsewhere.get("/") // so that the server remembers the session for a while
	page := v.get("/you/security")
	if n := strings.Count(page.body, `name="session"`); n != 2 {
		t.Fatalf("%d sessions", n)
	}
	me := c.memberOf(pilot).Person
	sessions, err := c.people.Sessions(t.Context(), me)
	if err != nil || len(sessions) != 2 {
		t.Fatal(sessions, err)
	}
	first := slices.MinFunc(sessions, func(a, b people.Session) int { return slices.Compare(a.ID[:], b.ID[:]) })
	v.post("/you/security/sessions", url.Values{"session": {first.ID.String()}}).to(t, "/you/security?done=session")
	if got := elsewhere.get("/"); got.status != http.StatusSeeOther || !strings.HasPrefix(got.header.Get("Location"), "/sign-in") {
		t.Errorf("the other session goes on: %d", got.status)
	}
	wrong := v.post("/you/security/password", url.Values{"present": {"wrong"}, "next": {"four grey geese over the marsh"}})
	if wrong.status != http.StatusForbidden || !strings.Contains(wrong.body, "Nothing is changed") {
		t.Errorf("a wrong present password: %d", wrong.status)
	}
	short := v.post("/you/security/password", url.Values{"present": {password}, "next": {"short"}})
	if short.status != http.StatusUnprocessableEntity || !strings.Contains(short.body, `id="fault-next"`) || strings.Contains(short.body, `value="short"`) {
		t.Errorf("a short password: %d", short.status)
	}
	const next = "four grey geese over the marsh"
	v.post("/you/security/password", url.Values{"present": {password}, "next": {next}}).to(t, "/you/security?done=password")
	if got := v.get("/you/security"); got.status != http.StatusOK {
		t.Fatalf("after it this session is over: %d", got.status)
	}
	asks := v.post("/you/security/passkeys", url.Values{"name": {"My phone"}, "password": {next}})
	_, rest, ok := strings.Cut(asks.body, `data-asks="`)
	if asks.status != http.StatusOK || !ok || !strings.Contains(asks.body, "does not run in this browser") {
		t.Fatalf("adding a passkey: %d %s", asks.status, asks.body)
	}
	options, _, _ := strings.Cut(rest, `"`)
	device := authenticator.New(strings.Replace(c.server.URL, "127.0.0.1", "localhost", 1)) // passkeys of a loopback address are those of localhost
	made, err := device.Create([]byte(html.UnescapeString(options)))
	if err != nil {
		t.Fatal(err)
	}
	form := url.Values{"challenge": {hidden(t, asks, "challenge")}, "name": {"My phone"}, "response": {string(made)}}
	v.post("/you/security/passkeys/add", form).to(t, "/you/security")
	shown := v.get("/you/security")
	if codes := shown.secrets(); len(codes) != 10 || !strings.Contains(shown.body, "My phone") {
		t.Fatalf("%d recovery codes", len(codes))
	}
	if again := v.get("/you/security"); len(again.secrets()) != 0 {
		t.Error("the recovery codes are shown again")
	}
	if got := v.post("/you/security/passkeys/add", form); got.status != http.StatusForbidden {
		t.Errorf("the same answer of the passkey again: %d", got.status)
	}
	v.post("/you/security/codes", url.Values{"password": {next}}).to(t, "/you/security")
	if codes := v.get("/you/security").secrets(); len(codes) != 10 {
		t.Errorf("%d new recovery codes", len(codes))
	}
	keys, err := c.people.Passkeys(t.Context(), me)
	if err != nil || len(keys) != 1 {
		t.Fatal(keys, err)
	}
	if got := v.post("/you/security/passkeys/"+keys[0].ID.String(), url.Values{"password": {"wrong"}}); got.status != http.StatusForbidden {
		t.Errorf("removed with a wrong password: %d", got.status)
	}
	v.post("/you/security/passkeys/"+keys[0].ID.String(), url.Values{"password": {next}}).to(t, "/you/security?done=removed")
	events := v.get("/you/security").body
	for _, want := range []string{"Signed in", "The password was set", "A passkey was added", "Recovery codes were made", "A passkey was removed", "A session was ended", "A proof of who signs failed"} {
		if !strings.Contains(events, want) {
			t.Errorf("the events do not say %q", want)
		}
	}
}
