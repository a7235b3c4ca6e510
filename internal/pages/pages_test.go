package pages_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

const (
	pilot     = "wren@three-willows.example"
	mechanic  = "juniper@three-willows.example"
	scheduler = "sorrel@three-willows.example"
)

// TestWhoIsNotSignedInIsAskedTo holds that every page but that to sign in sends a stranger there and back again, and that
// what a stranger sends is not taken.
func TestWhoIsNotSignedInIsAskedTo(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	id := newID().String()
	for _, path := range []string{
		"/", "/a/N012TW", "/aircraft/" + id, "/aircraft/" + id + "/squawk", "/squawks", "/squawks/" + id, "/board", "/week?x=1", "/flights/" + id,
		"/organization", "/more", "/outbox", "/flights/new?aircraft=" + id, "/flights/" + id + "/change", "/series/" + id, "/aircraft/" + id + "/blocks", "/blocks/" + id,
		"/rules?q=radio", "/rules/requirements/91.205-b-1",
		"/deferred", "/a?registration=N012TW", "/aircraft/" + id + "/deferred", "/aircraft/" + id + "/code", "/aircraft/" + id + "/inspections",
		"/aircraft/" + id + "/sign/annual-inspection", "/squawks/" + id + "/sign/work",
	} {
		got := c.visitor().get(path)
		if want := "/sign-in?next=" + url.QueryEscape(path); got.status != http.StatusSeeOther || got.header.Get("Location") != want {
			t.Errorf("%s: %d, to %s", path, got.status, got.header.Get("Location"))
		}
	}
	for _, path := range []string{
		"/aircraft/" + id + "/squawk", "/squawks/" + id + "/notes", "/squawks/" + id + "/photos", "/organization", "/sign-out", "/squawks/" + id + "/sign/work",
		"/flights/new", "/flights/" + id + "/change", "/flights/" + id + "/move", "/flights/" + id + "/cancel", "/flights/" + id + "/restore", "/flights/" + id + "/shown",
		"/series/" + id + "/cancel", "/series/" + id + "/restore", "/aircraft/" + id + "/blocks", "/blocks/" + id, "/blocks/" + id + "/cancel", "/blocks/" + id + "/again",
	} {
		got := c.visitor().post(path, url.Values{"words": {"Left light <dark>."}, "once": {"x"}})
		if got.status != http.StatusUnauthorized || !strings.Contains(got.body, "Left light &lt;dark&gt;.") {
			t.Errorf("%s: %d, and what was written is lost", path, got.status)
		}
	}
}

// TestWhereSigningInLeads holds that signing in leads back to a page of ours, and nowhere else.
func TestWhereSigningInLeads(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	for next, want := range map[string]string{
		"/week?x=1": "/week?x=1", "": "/", "//evil.example/": "/", "https://evil.example/": "/", `/\evil.example`: "/", "/sign-out": "/", "week": "/",
		"/\r\nSet-Cookie: x": "/",
	} {
		got := c.visitor().post("/sign-in", url.Values{"email": {pilot}, "password": {password}, "next": {next}})
		if got.status != http.StatusSeeOther || got.header.Get("Location") != want {
			t.Errorf("%q: %d, to %q", next, got.status, got.header.Get("Location"))
		}
	}
	got := c.visitor().post("/sign-in", url.Values{"email": {pilot}, "password": {"wrong"}, "next": {"/week"}})
	if got.status != http.StatusUnauthorized || !strings.Contains(got.body, "do not belong together") || !strings.Contains(got.body, `value="/week"`) ||
		strings.Contains(got.body, "wrong\"") || !strings.Contains(got.body, pilot) {
		t.Errorf("a wrong password: %d %s", got.status, got.body)
	}
	v := c.signIn(pilot)
	if page := v.get("/organization"); page.status != http.StatusOK {
		t.Fatalf("%d %s", page.status, page.body)
	}
	if got := v.post("/sign-out", url.Values{}); got.status != http.StatusSeeOther {
		t.Errorf("sign out: %d", got.status)
	}
	if got := v.get("/"); got.status != http.StatusSeeOther || !strings.HasPrefix(got.header.Get("Location"), "/sign-in") {
		t.Errorf("after signing out: %d", got.status)
	}
}

// TestFormsComeFromOurPages holds that a form without the session's token, with another's, or from another site's page
// changes nothing.
func TestFormsComeFromOurPages(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	path := "/aircraft/" + aircraft.String() + "/squawk"
	v, other := c.signIn(pilot), c.signIn(mechanic)
	other.get(path)
	form := func(token string) url.Values {
		return url.Values{"form_token": {token}, "words": {"Dark."}, "kind": {"condition"}, "once": {hidden(t, v.get(path), "once")}}
	}
	for name, token := range map[string]string{"none": "", "another session's": other.form} {
		if got := v.post(path, form(token)); got.status != http.StatusForbidden || !strings.Contains(got.body, "does not come from here") {
			t.Errorf("%s: %d %s", name, got.status, got.body)
		}
	}
	good := form(v.form)
	r, err := http.NewRequestWithContext(t.Context(), http.MethodPost, c.server.URL+path, strings.NewReader(good.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Sec-Fetch-Site", "cross-site")
	if got := v.do(r); got.status != http.StatusForbidden {
		t.Errorf("another site's: %d", got.status)
	}
	if all := c.squawks(aircraft); len(all) != 0 {
		t.Errorf("filed: %v", all)
	}
	if got := v.post(path, good); got.status != http.StatusSeeOther {
		t.Errorf("a good one: %d %s", got.status, got.body)
	}
}

func (c *club) squawks(aircraft techlog.ID) []techlog.Squawk {
	c.t.Helper()
	all, err := c.service.Squawks(c.t.Context(), c.who, hangar.SquawkFilter{Aircraft: aircraft}, hangar.Page{Limit: 100})
	if err != nil {
		c.t.Fatal(err)
	}
	return all
}

// TestAFormSentTwiceActsOnce holds that a form that is sent again leads to the same page, and that one which was changed
// meanwhile is not taken for it.
func TestAFormSentTwiceActsOnce(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	path := "/aircraft/" + aircraft.String() + "/squawk"
	v := c.signIn(pilot)
	once := hidden(t, v.get(path), "once")
	form := url.Values{"once": {once}, "kind": {"inoperative"}, "about": {"unit:dome-light"}, "words": {"Dome light\r\ndark."}}
	first, second := v.post(path, form), v.post(path, form)
	if first.status != http.StatusSeeOther || first.header.Get("Location") != second.header.Get("Location") {
		t.Errorf("%d %s, then %d %s", first.status, first.header.Get("Location"), second.status, second.header.Get("Location"))
	}
	form.Set("words", "Another thing.")
	got := v.post(path, form)
	if got.status != http.StatusConflict || !strings.Contains(got.body, "sent before with other words") || !strings.Contains(got.body, "Another thing.") {
		t.Errorf("with other words: %d %s", got.status, got.body)
	}
	form.Set("once", hidden(t, got, "once"))
	if got := v.post(path, form); got.status != http.StatusSeeOther {
		t.Errorf("as a further one: %d", got.status)
	}
	all := c.squawks(aircraft)
	if len(all) != 2 || all[1].Unit != "dome-light" || all[1].Words != "Dome light\ndark." || all[1].ReportedBy != "Wren Talbot" || all[0].Words != "Another thing." {
		t.Errorf("on record: %+v", all)
	}
	story := first.header.Get("Location")
	story, _, _ = strings.Cut(story, "?")
	note := url.Values{"once": {hidden(t, v.get(story), "once")}, "words": {"Bulb is on order."}}
	// The first hidden field of that name is that of the photo; a key serves any form once.
	for range 2 {
		if got := v.post(story+"/notes", note); got.status != http.StatusSeeOther {
			t.Errorf("the note: %d %s", got.status, got.body)
		}
	}
	if got := v.get(story); strings.Count(got.body, "Bulb is on order.") != 1 {
		t.Errorf("the note stands there %d times", strings.Count(got.body, "Bulb is on order."))
	}
}

// TestFaultsStandBesideTheirFields holds that what is wrong is named with its remedy at its field, and that nothing that
// was written is lost.
func TestFaultsStandBesideTheirFields(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	path := "/aircraft/" + aircraft.String() + "/squawk"
	v := c.signIn(pilot)
	form := url.Values{"once": {hidden(t, v.get(path), "once")}, "kind": {"neither"}, "about": {"unit:never-installed"}, "words": {"  "}}
	got := v.post(path, form)
	for _, want := range []string{`id="fault-words"`, `id="fault-about"`, `id="fault-kind"`, "say in a sentence what was seen"} {
		if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, want) {
			t.Errorf("%d, without %s", got.status, want)
		}
	}
	form.Set("words", strings.Repeat("x", hangar.MaxWords+1))
	if got := v.post(path, form); !strings.Contains(got.body, "more than 4,000 bytes") || !strings.Contains(got.body, strings.Repeat("x", hangar.MaxWords+1)) {
		t.Error("what was too long is lost, or not named")
	}
	flight := v.get("/aircraft/" + aircraft.String() + "?rules=sideways&hours=-1&aboard=none&altitude=NaN&at=tomorrow&to=NOWHERE&hire=perhaps&nav=stars&airspace=outer&water=deep")
	for _, field := range []string{"hours", "aboard", "altitude", "at", "to", "hire", "nav", "airspace", "water"} {
		if flight.status != http.StatusOK || !strings.Contains(flight.body, `id="fault-`+field+`"`) {
			t.Errorf("no fault at %s", field)
		}
	}
	if strings.Contains(flight.body, "You may") {
		t.Error("a flight that cannot be read is judged")
	}
	if got := v.post("/squawks/"+newID().String()+"/notes", url.Values{"words": {"x"}}); got.status != http.StatusNotFound {
		t.Errorf("a note on nothing: %d", got.status)
	}
}

// TestAnotherOrganizationsPagesDoNotExist holds that what another organization keeps looks like what nobody keeps.
func TestAnotherOrganizationsPagesDoNotExist(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	base := c.base("WILLOW", "Willow")
	aircraft := c.enter(base, "N012TW", "Tansy")
	squawk, flight := c.squawk(aircraft, "dome-light", "Dark."), c.plan(aircraft, base, 20, "Pattern work")
	others := newID()
	if err := c.store.AddOrganization(t.Context(), techlog.Organization{ID: others, Name: "Other Club"}); err != nil {
		t.Fatal(err)
	}
	c.join(others, "somebody@other.example", "Somebody Else", techlog.Administrator)
	v, own := c.signIn("somebody@other.example"), c.signIn(pilot)
	nothing := newID().String()
	for path, id := range map[string]string{
		"/aircraft/%": aircraft.String(), "/aircraft/%/squawk": aircraft.String(), "/squawks/%": squawk.String(), "/flights/%": flight.String(), "/a/%": "N012TW",
		"/flights/%/change": flight.String(), "/series/%": c.weekly(aircraft, base).String(), "/aircraft/%/blocks": aircraft.String(), "/blocks/%": c.blockOf(aircraft).String(),
		"/aircraft/%/deferred": aircraft.String(), "/aircraft/%/code": aircraft.String(), "/aircraft/%/inspections": aircraft.String(),
		"/aircraft/%/sign/annual-inspection": aircraft.String(), "/squawks/%/sign/work": squawk.String(),
	} {
		theirs, nobodys := v.get(strings.Replace(path, "%", id, 1)), v.get(strings.Replace(path, "%", nothing, 1))
		if strings.HasPrefix(path, "/a/") {
			nobodys = v.get("/a/N099XX")
		}
		if theirs.status != http.StatusNotFound || nobodys.status != http.StatusNotFound || without(theirs.body) != without(nobodys.body) {
			t.Errorf("%s: %d and %d", path, theirs.status, nobodys.status)
		}
		if got := own.get(strings.Replace(path, "%", id, 1)); got.status >= 400 {
			t.Errorf("%s of one's own: %d", path, got.status)
		}
	}
	for _, path := range []string{"/", "/squawks", "/board", "/week", "/deferred"} {
		if got := v.get(path); got.status != http.StatusOK || strings.Contains(got.body, "N012TW") || !strings.Contains(got.body, `class="empty"`) {
			t.Errorf("%s: %d, with another's records or without a word", path, got.status)
		}
	}
}

// without is a page without what differs from request to request.
func without(body string) string {
	before, after, _ := strings.Cut(body, "Number of this request: ")
	return before + strings.TrimLeft(after, "0123456789abcdef")
}

// TestCodesLeadToTheirPages holds where what is printed leads: a placard's code to the squawk, also one that was printed
// with the address of the record, and an aircraft's to the aircraft.
func TestCodesLeadToTheirPages(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	squawk := c.squawk(aircraft, "dome-light", "Dark.")
	v := c.signIn(pilot)
	for path, want := range map[string]string{
		"/a/n012tw": "/aircraft/" + aircraft.String(), "/a/" + aircraft.String(): "/aircraft/" + aircraft.String(),
		"/v1/squawks/" + squawk.String(): "/squawks/" + squawk.String(),
	} {
		if got := v.get(path); got.status != http.StatusSeeOther || got.header.Get("Location") != want {
			t.Errorf("%s: %d, to %s", path, got.status, got.header.Get("Location"))
		}
	}
	r, err := http.NewRequestWithContext(t.Context(), http.MethodGet, c.server.URL+"/v1/squawks/"+squawk.String(), nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Accept", "application/json")
	if got := v.do(r); got.status != http.StatusOK || got.header.Get("Content-Type") != "application/json" {
		t.Errorf("a program gets %d %s", got.status, got.header.Get("Content-Type"))
	}
	if got := v.get("/nowhere"); got.status != http.StatusNotFound || !strings.Contains(got.body, "There is no such page") {
		t.Errorf("nowhere: %d", got.status)
	}
	if got := v.get("/healthz"); got.status != http.StatusOK {
		t.Errorf("the interface beside the pages: %d", got.status)
	}
}

// TestWhatABrowserMayLoad holds the headers: nothing inline, nothing from elsewhere, nothing of a page kept, and files for
// good under a name that has their digest.
func TestWhatABrowserMayLoad(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	page := c.signIn(pilot).get("/")
	policy := page.header.Get("Content-Security-Policy")
	if strings.Contains(policy, "unsafe") || !strings.HasPrefix(policy, "default-src 'none'") || !strings.Contains(policy, "frame-ancestors 'none'") {
		t.Errorf("policy: %s", policy)
	}
	if page.header.Get("Cache-Control") != "no-store" || page.header.Get("X-Content-Type-Options") != "nosniff" {
		t.Errorf("headers: %v", page.header)
	}
	for _, inline := range []string{"<style", " style=", "javascript:", " onclick=", "<script>"} {
		if strings.Contains(page.body, inline) {
			t.Errorf("the page has %s", inline)
		}
	}
	_, rest, _ := strings.Cut(page.body, `rel="stylesheet" href="`)
	href, _, _ := strings.Cut(rest, `"`)
	style := c.visitor().get(href)
	if style.status != http.StatusOK || style.header.Get("Cache-Control") != "public, max-age=31536000, immutable" || style.header.Get("Content-Type") != "text/css; charset=utf-8" {
		t.Errorf("%s: %d %v", href, style.status, style.header)
	}
	if got := c.visitor().get("/assets/style.css"); got.status != http.StatusNotFound {
		t.Errorf("a name without digest: %d", got.status)
	}
}

// TestWhoIsInNoOrganization holds that somebody without an organization is told so, and somebody in two can change.
func TestWhoIsInNoOrganization(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.join(techlog.ID{}, "nobody@three-willows.example", "No Body")
	v := c.signIn("nobody@three-willows.example")
	if got := v.get("/"); got.status != http.StatusSeeOther || got.header.Get("Location") != "/organization" {
		t.Errorf("%d, to %s", got.status, got.header.Get("Location"))
	}
	if got := v.get("/organization"); got.status != http.StatusOK || !strings.Contains(got.body, "You are in no organization yet") {
		t.Errorf("%d %s", got.status, got.body)
	}
	if got := v.post("/organization", url.Values{"organization": {c.org.String()}}); got.status != http.StatusNotFound {
		t.Errorf("into another's: %d", got.status)
	}
}
