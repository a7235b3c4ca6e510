package pages_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestTheAdministratorsJob walks an administrator's way at every width, by day and by night, with and without script: add
// somebody and hand over the link, which is shown once; say what the person holds and how the person stands to an aircraft;
// change the roles; end the membership and undo it; ask for more than the regulation does, take that out and put it back;
// tell people ahead; make a token, a calendar and a webhook; say what oneself wants to hear of.
func TestTheAdministratorsJob(t *testing.T) {
	t.Parallel()
	for _, l := range walks() {
		t.Run(l.String(), func(t *testing.T) {
			t.Parallel()
			c := loaded(t)
			b := c.tab(t, l)
			b.signIn(string(demo.Keeper))
			b.open("/more")
			b.press("a[href='/people']")
			b.fill("#email", "fern@three-willows.example")
			b.fill("#name", "Fern Addersey")
			b.click("input[value=pilot]")
			b.press("#add button")
			b.says("h1", "Fern Addersey")
			b.says(".done", "is in", "shown once", "/password?link=")
			b.reload()
			if shown := eval[bool](b, `document.body.textContent.includes("/password?link=")`); shown {
				t.Error("loaded anew, the page shows the link again")
			}
			b.enterPapers()
			b.changeRoles()
			b.ownRules()
			b.programs()
			b.ownNotices()
			fern := c.memberOf("fern@three-willows.example")
			if !fern.Lasts() || fern.Roles.String() != "pilot, scheduler" {
				t.Errorf("on record: %+v", fern)
			}
			held, err := c.service.Certificates(t.Context(), c.who, fern.Person, hangar.Page{Limit: 9})
			if err != nil || len(held) != 1 || held[0].Grade != "private" || len(held[0].Ratings) != 1 || held[0].By != "Linden Marsh" || held[0].Version != 2 {
				t.Errorf("on record: %+v, %v", held, err)
			}
			company, err := c.service.CompanyRules(t.Context(), c.who)
			if err != nil || len(company.Rules) != 1 || company.Rules[0].When != "night" || company.Rules[0].ID != "company-two-radios-at-night" {
				t.Errorf("on record: %+v, %v", company, err)
			}
		})
	}
}

// reload loads the page anew.
func (b *tab) reload() {
	b.t.Helper()
	b.open(eval[string](b, "location.pathname + location.search"))
}

// enterPapers enters what the person on the page holds, corrects it, and how the person stands to the aircraft.
func (b *tab) enterPapers() {
	b.t.Helper()
	b.says("#certificates", "Nothing is on record")
	b.press("#certificates a.button")
	b.press("a[href$='kind=pilot']")
	b.fill("#number", "0000017 (invented)")
	b.do(setSelect("#grade", "private"))
	b.click("input[value='airplane single-engine-land']")
	b.do(setSelect("#valid_from", "2026-01-05"))
	b.press("form button")
	b.says("#certificates", "Pilot certificate", "0000017 (invented)", "private, airplane single engine land", "does not run out by itself")
	b.press("#certificates a.certificate")
	b.do(setSelect("#valid_until", "2030-01-31"))
	b.press("form button")
	b.says("main", "It is on record", "In force until 31 Jan 2030", "What was on record when")
	b.press(".back a")
	b.click("#standings summary")
	b.do(setSelect("#stand-kind", "operates"), setSelect("#valid_from", "2026-02-01"))
	b.press("#standings details button")
	b.says("#standings", "Operates every aircraft", "Since 1 Feb 2026")
}

// changeRoles gives the person on the page another role, and ends the membership and takes that back.
func (b *tab) changeRoles() {
	b.t.Helper()
	b.click("input[value=scheduler]")
	b.press("input[value=change] ~ .send button")
	b.says(".heading", "Pilot, Scheduler")
	b.says("#history", "Pilot, Scheduler")
	b.press("input[value=end] ~ .send button")
	b.says(".done", "The membership has ended", "Undo")
	b.press(".done button")
	b.says(".done", "is in again")
	b.says(".heading", "Pilot, Scheduler")
}

// ownRules adds a rule of the organization, takes it out and puts it back.
func (b *tab) ownRules() {
	b.t.Helper()
	b.open("/settings/rules")
	b.says("main", "No rule of your own")
	b.fill("#name", "Two radios at night")
	b.fill("#words", "Two radios at night.")
	b.fill("#citation", "Operations manual 4.2")
	b.fill("#item", "com-radio")
	b.do(setSelect("#quantity", "2"))
	b.click("input[name=when][value=night]")
	b.press("input[value=add] ~ .send button")
	b.says("main", "The rule is in force", "Two: Communication radio.", "at night")
	b.press("button[aria-label^='Take it out']")
	b.says(".done", "Taken out", "Two radios at night.")
	b.press(".done button")
	b.says("main", "It is back", "Two: Communication radio.")
	b.open("/settings/warnings")
	b.do(setSelect("#days_ahead", "45, 3"))
	b.press("form button")
	b.says("main", "Changed", "Linden Marsh")
}

// programs makes a token, a calendar and a webhook, and takes each back.
func (b *tab) programs() {
	b.t.Helper()
	b.open("/settings/tokens")
	b.fill("#name", "Booking system")
	b.click("input[name=roles][value=administrator]")
	b.press("#until ~ .send button, .field:has(#until) ~ .send button")
	b.says(".done", "Booking system", "shown once")
	b.press("button[aria-label='Take back Booking system']")
	b.says("main", "It is taken back", "1 more taken back")
	b.open("/settings/calendars")
	b.fill("#name", "Briefing room")
	b.press("section.card form button")
	b.says(".done", "Briefing room", "/v1/calendars/", ".ics")
	b.press("button[aria-label='Take back Briefing room']")
	b.says("main", "No calendar yet")
	b.open("/settings/webhooks")
	b.fill("#url", "https://booking.example/tiedown")
	b.click("input[value=squawk]")
	b.press("form button")
	b.says("main", "The webhook is on", "shown once", "squawk")
	b.press("input[value=ping] ~ .send button")
	b.says("main", "A test event is on its way")
	b.press("input[value=off] ~ .send button")
	b.says("main", "It is off")
	b.press("input[value=on] ~ .send button")
	b.says("main", "what waited goes out")
	b.press("input[value=renew] ~ .send button")
	b.says(".done", "There is a new secret")
}

// ownNotices says what oneself wants to hear of.
func (b *tab) ownNotices() {
	b.t.Helper()
	b.open("/you/notices")
	b.click("input[value=squawk-filed]")
	b.do(setSelect("#digest_hour", "6"), setSelect("#quiet_from", "22:00"), setSelect("#quiet_until", "07:00"))
	b.press("form button")
	b.says("main", "Noted")
	if at := eval[string](b, `document.querySelector("#quiet_from").value + " " + document.querySelector("#digest_hour").value`); at != "22:00 6" {
		b.t.Errorf("kept: %s", at)
	}
}

// TestWhateverTheOfficeWritesStaysText writes markup into every text that the office writes, and holds that it stands on the
// pages as it was written, and nothing of it is run.
func TestWhateverTheOfficeWritesStaysText(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	v := c.signIn(string(demo.Keeper))
	base := c.base("<I>", markup)
	c.enter(base, "N077TW", markup)
	person := c.memberOf(pilot).Person.String()
	v.submit("/people", "/people", url.Values{"email": {`"<b>x"@club.example`}, "name": {markup}, "roles": {"pilot"}})
	v.submit("/people/"+person, "/people/"+person, url.Values{"step": {"change"}, "version": {"1"}, "name": {markup}, "roles": {"pilot"}})
	v.submit("/people/"+person+"/certificates/new?kind=pilot", "/people/"+person+"/certificates/new", url.Values{"kind": {"pilot"}, "number": {markup}, "grade": {"private"}, "valid_from": {"2026-01-01"}})
	v.submit("/settings/rules", "/settings/rules", url.Values{"version": {"0"}, "step": {"add"}, "name": {"x"}, "words": {markup}, "citation": {markup}, "item": {"com-radio"}, "quantity": {"2"}})
	v.submit("/settings/tokens", "/settings/tokens", url.Values{"name": {markup}, "roles": {"administrator"}, "until": {c.clock().AddDate(0, 1, 0).Format("2006-01-02")}})
	v.submit("/settings/calendars", "/settings/calendars", url.Values{"name": {markup}})
	hook := "https://booking.example/?q=" + url.QueryEscape(markup)
	v.submit("/settings/webhooks", "/settings/webhooks", url.Values{"url": {hook}})
	certificate := c.certificateOf(pilot).ID.String()
	b := c.tab(t, look{390, 844, "light", true})
	b.signIn(string(demo.Keeper))
	for path, times := range map[string]int{
		"/people": 2, "/people/" + person: 5, "/people/" + person + "/certificates/new": 1, "/certificates": 2, "/certificates/" + certificate: 3,
		"/settings/bases": 1, "/settings/fleet": 1, "/settings/bases/" + base.String(): 0, "/settings/rules": 2, "/settings/rules/company-x": 1,
		"/settings/tokens": 1, "/settings/calendars": 1, "/settings/webhooks": 0, "/settings/warnings": 0, "/you/security": 0, "/you/notices": 0,
		"/rules?q=" + url.QueryEscape(markup): 0,
	} {
		b.open(path)
		b.showsMarkup(path, times, noFields)
	}
	company, err := c.service.CompanyRules(t.Context(), c.who)
	if err != nil || len(company.Rules) != 1 || company.Rules[0] != (casefile.CompanyRule{ID: "company-x", Citation: markup, Words: markup, Item: "com-radio", Quantity: "2"}) {
		t.Errorf("on record: %+v, %v", company.Rules, err)
	}
	if hooks, err := c.service.Webhooks(t.Context(), c.who, hangar.Page{Limit: 9}); err != nil || len(hooks) != 1 || hooks[0].URL != hook {
		t.Errorf("on record: %+v, %v", hooks, err)
	}
	if m := c.memberOf(techlog.Email(`"<b>x"@club.example`)); m.Name != markup {
		t.Errorf("on record: %+v", m)
	}
}

// TestAnotherOrganizationsOfficeDoesNotExist holds that what another organization keeps looks like what nobody keeps, and
// that an organization that has nothing is told what belongs there.
func TestAnotherOrganizationsOfficeDoesNotExist(t *testing.T) {
	t.Parallel()
	c := loaded(t)
	fleet, err := c.service.Fleet(t.Context(), c.who, hangar.Page{Limit: 1})
	if err != nil {
		t.Fatal(err)
	}
	c.ownRule()
	hook, person := c.hook(), c.memberOf(pilot).Person
	others := newID()
	if err := c.store.AddOrganization(t.Context(), techlog.Organization{ID: others, Name: "Other Club"}); err != nil {
		t.Fatal(err)
	}
	c.join(others, "somebody@other.example", "Somebody Else", techlog.Administrator)
	v, own, nothing := c.signIn("somebody@other.example"), c.signIn(string(demo.Keeper)), newID()
	for path, id := range map[string]techlog.ID{
		"/people/%": person, "/people/%/certificates/new?kind=pilot": person, "/certificates/%": c.certificateOf(pilot).ID,
		"/settings/bases/%": fleet[0].Base, "/settings/fleet/%": fleet[0].ID, "/settings/webhooks/%": hook,
	} {
		theirs, nobodys := v.get(strings.Replace(path, "%", id.String(), 1)), v.get(strings.Replace(path, "%", nothing.String(), 1))
		if theirs.status != http.StatusNotFound || nobodys.status != http.StatusNotFound || without(theirs.body) != without(nobodys.body) {
			t.Errorf("%s: %d and %d", path, theirs.status, nobodys.status)
		}
		if got := own.get(strings.Replace(path, "%", id.String(), 1)); got.status != http.StatusOK {
			t.Errorf("%s of one's own: %d", path, got.status)
		}
	}
	if got := v.get("/settings/rules/company-night-radios"); got.status != http.StatusNotFound {
		t.Errorf("another's rule: %d", got.status)
	}
	for path, theirs := range map[string]string{
		"/certificates": "Wren", "/settings/bases": "WILLOW", "/settings/fleet": "N012TW", "/settings/rules": "Two radios", "/settings/calendars": "N012TW", "/settings/tokens": "Wren",
		"/settings/webhooks": "booking.example", "/settings/warnings": "N012TW",
	} {
		if got := v.get(path); got.status != http.StatusOK || strings.Contains(got.body, theirs) || !strings.Contains(got.body, `class="empty"`) {
			t.Errorf("%s: %d, with another's records or without a word", path, got.status)
		}
	}
}

// TestStrangersInTheOffice holds that every page of the office asks strangers to sign in and leads back, and that what a
// stranger sends is not taken.
func TestStrangersInTheOffice(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	id := newID().String()
	for _, path := range []string{
		"/people", "/people/" + id, "/people/" + id + "/certificates/new?kind=pilot", "/certificates", "/certificates/" + id, "/settings/bases",
		"/settings/bases/" + id, "/settings/rules", "/settings/rules/company-x", "/settings/warnings", "/settings/calendars", "/settings/tokens",
		"/settings/webhooks", "/settings/webhooks/" + id, "/you/notices", "/you/security", "/settings/fleet", "/settings/fleet/" + id,
	} {
		got := c.visitor().get(path)
		if want := "/sign-in?next=" + url.QueryEscape(path); got.status != http.StatusSeeOther || got.header.Get("Location") != want {
			t.Errorf("%s: %d, to %s", path, got.status, got.header.Get("Location"))
		}
	}
	for _, path := range []string{
		"/people", "/people/" + id, "/people/" + id + "/certificates/new", "/people/" + id + "/standings", "/certificates/" + id, "/settings/bases",
		"/settings/bases/" + id, "/settings/rules", "/settings/warnings", "/settings/calendars", "/settings/tokens", "/settings/webhooks",
		"/settings/webhooks/" + id, "/settings/fleet", "/settings/fleet/" + id, "/settings/fleet/" + id + "/checklist", "/you/notices", "/you/security/sessions", "/you/security/password", "/you/security/codes", "/you/security/passkeys",
		"/you/security/passkeys/add", "/you/security/passkeys/" + id,
	} {
		if got := c.visitor().post(path, url.Values{"words": {"x"}}); got.status != http.StatusUnauthorized {
			t.Errorf("%s: %d", path, got.status)
		}
	}
}
