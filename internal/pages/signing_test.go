package pages_test

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// another is a second mechanic.
const another = "rowan@three-willows.example"

// person finds somebody of the club.
func (c *club) person(email string) techlog.ID {
	c.t.Helper()
	members, err := c.service.Members(c.t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil {
		c.t.Fatal(err)
	}
	for _, m := range members {
		if string(m.Email) == email {
			return m.Person
		}
	}
	c.t.Fatalf("there is no %s", email)
	return techlog.ID{}
}

// certify enters what somebody holds, and that the club lets that person fly or maintain its aircraft.
func (c *club) certify(email, name string, stands techlog.StandingKind, certificates ...techlog.Certificate) []techlog.ID {
	c.t.Helper()
	who := c.who
	who.Person = c.person(string(demo.Keeper))
	person, from := c.person(email), c.clock().AddDate(-1, 0, 0).Format(time.DateOnly)
	var ids []techlog.ID
	for _, k := range certificates {
		k.Person, k.Name, k.From = person, name, from
		if k.Kind == techlog.MechanicCertificate {
			k.RecentFrom, k.RecentUntil = from, c.clock().AddDate(0, 5, 0).Format(time.DateOnly)
		}
		id := parsed2(c.t)(c.service.KeepCertificate(c.t.Context(), who, k, nil, func(k techlog.Certificate) ([]byte, error) { return k.ID.MarshalText() }))
		ids = append(ids, id)
	}
	st := techlog.Standing{Person: person, Name: name, Kind: stands, From: from}
	if _, err := c.service.KeepStanding(c.t.Context(), who, st, nil, func(techlog.Standing) ([]byte, error) { return nil, nil }); err != nil {
		c.t.Fatal(err)
	}
	return ids
}

func parsed2(t *testing.T) func([]byte, error) techlog.ID {
	return func(text []byte, err error) techlog.ID {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		id, ok := techlog.ParseID(string(text))
		if !ok {
			t.Fatalf("%s is no identifier", text)
		}
		return id
	}
}

var (
	privatePilot = techlog.Certificate{Kind: techlog.PilotCertificate, Number: "0000003 (invented)", Grade: "private", Ratings: []string{"airplane single-engine-land"}}
	bothRatings  = techlog.Certificate{Kind: techlog.MechanicCertificate, Number: "0000001 (invented)", Ratings: []string{"airframe", "powerplant"}}
)

// crewed is a club with two mechanics and a pilot, of whom it has seen the papers.
func crewed(t *testing.T) *club {
	t.Helper()
	c := newClub(t)
	c.join(c.org, another, "Rowan Sedge", techlog.Mechanic)
	c.certify(mechanic, "Juniper Larkspur", techlog.Maintains, bothRatings)
	second := bothRatings
	second.Number = "0000002 (invented)"
	c.certify(another, "Rowan Sedge", techlog.Maintains, second)
	c.certify(pilot, "Wren Talbot", techlog.Flies, privatePilot)
	return c
}

// confirmed files a squawk that maintenance has confirmed.
func (c *club) confirmed(aircraft techlog.ID, unit, words string) techlog.ID {
	c.t.Helper()
	id := c.squawk(aircraft, unit, words)
	_, err := c.service.MoveSquawk(c.t.Context(), c.who, hangar.Move{Squawk: id, Version: 1, Step: techlog.StepConfirm, Words: "Seen."}, nil,
		func(hangar.FiledSquawk) ([]byte, error) { return nil, nil })
	if err != nil {
		c.t.Fatal(err)
	}
	return id
}

// Fields of a form as they are served.
var (
	servedField = regexp.MustCompile(`(?s)<input ([^>]*)>|<textarea ([^>]*)>(.*?)</textarea>|<select ([^>]*)>(.*?)</select>`)
	servedSaid  = regexp.MustCompile(`(name|value|type)="([^"]*)"`)
	servedEntry = regexp.MustCompile(`<option value="([^"]*)"( selected)?>`)
)

// served is the first form of a page with a mark in its tag, as a browser would send it: what is not ticked is left out.
func served(page seen, mark string) url.Values {
	form := url.Values{}
	for _, part := range strings.Split(page.body, "<form ")[1:] {
		tag, rest, _ := strings.Cut(part, ">")
		if !strings.Contains(tag, mark) {
			continue
		}
		body, _, _ := strings.Cut(rest, "</form>")
		for _, f := range servedField.FindAllStringSubmatch(body, -1) {
			said := map[string]string{}
			for _, a := range servedSaid.FindAllStringSubmatch(f[1]+f[2]+f[4], -1) {
				said[a[1]] = html.UnescapeString(a[2])
			}
			switch {
			case f[2] != "":
				said["value"] = html.UnescapeString(f[3])
			case f[4] != "":
				for i, o := range servedEntry.FindAllStringSubmatch(f[5], -1) {
					if i == 0 || o[2] != "" {
						said["value"] = html.UnescapeString(o[1])
					}
				}
			case (said["type"] == "radio" || said["type"] == "checkbox") && !strings.Contains(f[1], " checked"):
				continue
			}
			form.Add(said["name"], said["value"])
		}
		return form
	}
	return form
}

// write fills in the form of an act as it is served, and asks what would be signed.
func (v *visitor) write(path string, fields url.Values) seen {
	v.club.t.Helper()
	page := v.get(path)
	form := served(page, `class="act"`)
	if len(form) == 0 {
		v.club.t.Fatalf("%s offers no form: %d %s", path, page.status, page.body)
	}
	for name, values := range fields {
		form[name] = values
	}
	path, _, _ = strings.Cut(path, "?")
	return v.post(path, form)
}

// prove signs what is shown.
func (v *visitor) prove(shown seen, password string) seen {
	v.club.t.Helper()
	form := served(shown, `class="proof"`)
	if len(form) == 0 {
		v.club.t.Fatalf("nothing is shown to be signed: %d %s", shown.status, shown.body)
	}
	form.Set("password", password)
	before, _, _ := strings.Cut(shown.body, `" class="proof"`)
	return v.post(before[strings.LastIndex(before, `"`)+1:], form)
}

// signs signs an act from its form to the end.
func (v *visitor) signs(path string, fields url.Values) {
	v.club.t.Helper()
	shown := v.write(path, fields)
	if got := v.prove(shown, password); got.status != http.StatusSeeOther {
		v.club.t.Fatalf("%s: %d %s", path, got.status, got.body)
	}
}

var (
	declared     = url.Values{"declared.part": {"airframe"}, "declared.did_work": {"yes"}, "declared.understands": {"yes"}, "declared.done_before": {"yes"}}
	deferredWork = url.Values{"done": {"Lamp taken out of use, breaker pulled and collared."}}
)

// and puts forms together.
func and(forms ...url.Values) url.Values {
	all := url.Values{}
	for _, f := range forms {
		for name, values := range f {
			all[name] = values
		}
	}
	return all
}

// TestAMechanicsPaperwork holds that each act is proposed out of what the records know, shown before it is signed, and stands in
// the story; that a wrong password signs nothing and loses nothing; and that the flight is held, deferred and released with it.
func TestAMechanicsPaperwork(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	base := c.base("WILLOW", "Willow")
	aircraft := c.enter(base, "N012TW", "Tansy")
	flight := c.plan(aircraft, base, 20, "Pattern work")
	other := c.squawk(aircraft, "dome-light", "Dome light dark.")
	squawk := c.confirmed(aircraft, "landing-light", "Left light dark.")
	path := "/squawks/" + squawk.String()
	one, two := c.signIn(mechanic), c.signIn(another)

	page := one.get(path + "/sign/out-of-use")
	for _, want := range []string{`value="Inoperative"`, "Left light dark.", "mechanic certificate 0000001 (invented), airframe, powerplant", c.clock().In(chicago(t)).Format(time.DateOnly)} {
		if !strings.Contains(page.body, want) {
			t.Errorf("the form does not propose %s", want)
		}
	}
	shown := one.write(path+"/sign/out-of-use", deferredWork)
	for _, want := range []string{`id="fault-declared-part"`, `id="fault-declared-did_work"`, "breaker pulled and collared", "14 CFR 43.7"} {
		if shown.status != http.StatusForbidden || !strings.Contains(shown.body, want) {
			t.Errorf("without what is to be declared: %d, without %s", shown.status, want)
		}
	}
	shown = one.write(path+"/sign/out-of-use", and(deferredWork, declared))
	for _, want := range []string{"breaker pulled and collared", "SHA-256", "&#34;action&#34;: &#34;out-of-use&#34;", "Juniper Larkspur, mechanic certificate 0000001"} {
		if shown.status != http.StatusOK || !strings.Contains(shown.body, want) {
			t.Errorf("what would be signed: %d, without %s", shown.status, want)
		}
	}
	if got := one.prove(shown, "not this one"); got.status != http.StatusForbidden || !strings.Contains(got.body, "Nothing was signed") ||
		!strings.Contains(got.body, "breaker pulled and collared") || strings.Contains(got.body, "not this one") {
		t.Errorf("a wrong password: %d %s", got.status, got.body)
	}
	if c.one(squawk).Progress.OutOfUse != nil {
		t.Error("a wrong password signs")
	}
	got := one.prove(shown, password)
	if again := one.prove(shown, password); got.status != http.StatusSeeOther || again.header.Get("Location") != got.header.Get("Location") {
		t.Fatalf("%d %s, then %s", got.status, got.body, again.header.Get("Location"))
	}
	if story := one.get(got.header.Get("Location")); !strings.Contains(story.body, "Signed: Out of use: deactivated.") || !strings.Contains(story.body, "/v1/receipts/signature/") {
		t.Errorf("it is not told: %s", story.body)
	}

	wrong := one.write(path+"/sign/defer", url.Values{"until": {"2020-01-01"}})
	for _, want := range []string{`id="fault-considered"`, `id="fault-until"`} {
		if wrong.status != http.StatusUnprocessableEntity || !strings.Contains(wrong.body, want) {
			t.Errorf("%d, without %s", wrong.status, want)
		}
	}
	until := c.clock().AddDate(0, 0, 10).Format(time.DateOnly)
	deferral := one.write(path+"/sign/defer", url.Values{"considered": {c.label(other)}, "until": {until}})
	if want := c.clock().AddDate(0, 0, 10).Format("Mon 2 Jan 2006") + ", to midnight C"; !strings.Contains(deferral.body, want) {
		t.Errorf("it is not said that it lasts until %s: %s", want, deferral.body)
	}
	one.prove(deferral, password)
	q := c.one(squawk)
	if q.State != techlog.Deferred || q.Deferral.Until.In(chicago(t)).Format("2006-01-02 15:04") != c.clock().AddDate(0, 0, 11).Format("2006-01-02")+" 00:00" {
		t.Fatalf("%+v", q.Deferral)
	}
	if list := c.signIn(pilot).get("/aircraft/" + aircraft.String() + "/deferred"); !strings.Contains(list.body, "Inoperative") || !strings.Contains(list.body, "Juniper Larkspur, mechanic certificate") {
		t.Errorf("the next pilot does not see it: %s", list.body)
	}

	two.signs(path+"/sign/work", and(declared, url.Values{
		"work": {"replace"}, "result": {"repaired"}, "done": {"Lamp replaced."}, "data": {"Manual, chapter 33"}, "parts_used": {"Lamp, LL-4509"},
	}))
	if late := one.get(path + "/sign/return-to-service"); !strings.Contains(late.body, `value="Rowan Sedge"`) || !strings.Contains(late.body, "Lamp replaced.") {
		t.Errorf("the return does not propose who did the work: %s", late.body)
	}
	two.signs(path+"/sign/return-to-service", and(declared, url.Values{"check_flight_required": {"no"}}))
	if q = c.one(squawk); q.State != techlog.Closed {
		t.Errorf("%+v", q)
	}
	held, err := c.service.Flight(t.Context(), c.who, flight)
	if err != nil || held.Flight.Hold.Verdict != "defer-first" { // the dome light is left
		t.Errorf("%s, %v", held.Flight.Hold.Verdict, err)
	}
	story := one.get(path)
	for _, want := range []string{"<strong>Returned to service</strong>", "Returned to service, signed by Rowan Sedge", "Lamp, LL-4509", "Deferred, and determined to be no hazard, signed by Juniper Larkspur"} {
		if !strings.Contains(story.body, want) {
			t.Errorf("the story does not have %s", want)
		}
	}
	_, rest, _ := strings.Cut(story.body, "/sign/correct?corrects=")
	id, _, _ := strings.Cut(rest, `"`)
	one.signs(path+"/sign/correct?corrects="+id, and(declared, url.Values{"words": {"The breaker was not collared."}}))
	if story = one.get(path); !strings.Contains(story.body, "Corrects: Out of use: deactivated") || !strings.Contains(story.body, "The breaker was not collared.") {
		t.Errorf("the correction is not told: %s", story.body)
	}
}

func chicago(t *testing.T) *time.Location {
	t.Helper()
	zone, err := time.LoadLocation("America/Chicago")
	if err != nil {
		t.Fatal(err)
	}
	return zone
}

// TestWhoMayNotSignSeesWhoMay holds that somebody is offered what the certificate is for and nothing else, is told who may, and
// that the server refuses a form that was not served, with nothing lost that was written.
func TestWhoMayNotSignSeesWhoMay(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	squawk := c.confirmed(aircraft, "landing-light", "Left light dark.")
	path := "/squawks/" + squawk.String()
	v, nobody := c.signIn(pilot), c.signIn(scheduler)
	story := v.get(path)
	if strings.Contains(story.body, path+`/sign/out-of-use"`) || !strings.Contains(story.body, "a mechanic with an airframe rating") {
		t.Errorf("a pilot is offered it, or is not told who may: %s", story.body)
	}
	for who, page := range map[string]seen{"a pilot": v.get(path + "/sign/work"), "nobody": nobody.get(path + "/sign/work")} {
		if page.status != http.StatusOK || !strings.Contains(page.body, "Who may") || strings.Contains(page.body, `class="act"`) {
			t.Errorf("%s: %d %s", who, page.status, page.body)
		}
	}
	certificates, err := c.service.Certificates(t.Context(), c.who, c.person(pilot), hangar.Page{Limit: 10})
	if err != nil {
		t.Fatal(err)
	}
	mechanics, err := c.service.Certificates(t.Context(), c.who, c.person(mechanic), hangar.Page{Limit: 10})
	if err != nil {
		t.Fatal(err)
	}
	for _, id := range []techlog.ID{certificates[0].ID, mechanics[0].ID} {
		v.get(path)
		form := and(declared, url.Values{
			"certificate": {id.String()}, "once": {hidden(t, v.get(path), "once")}, "work": {"replace"}, "found": {"It is dark."}, "done": {"Lamp <replaced>."},
			"result": {"repaired"}, "completed": {c.clock().Format(time.DateOnly)},
		})
		if got := v.post(path+"/sign/work", form); got.status != http.StatusForbidden || !strings.Contains(got.body, "Lamp &lt;replaced&gt;.") {
			t.Errorf("a forged form: %d %s", got.status, got.body)
		}
		form.Set("digest", strings.Repeat("ab", 32))
		form.Set("version", "2")
		form.Set("password", password)
		if got := v.post(path+"/sign/work"+"/signature", form); got.status != http.StatusForbidden {
			t.Errorf("a forged signature: %d %s", got.status, got.body)
		}
	}
	if q := c.one(squawk); q.Progress.Work != nil || q.Version != 2 {
		t.Errorf("%+v", q)
	}
	for _, name := range []string{"inspect", "nothing", "close"} {
		if got := v.get(path + "/sign/" + name); got.status != http.StatusNotFound {
			t.Errorf("%s: %d", name, got.status)
		}
	}
}

// TestTwoMechanicsAtOnce holds that whoever comes second signs nothing, sees what it has become, and loses nothing of what was
// written.
func TestTwoMechanicsAtOnce(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	squawk := c.confirmed(aircraft, "landing-light", "Left light dark.")
	path := "/squawks/" + squawk.String()
	one, two := c.signIn(mechanic), c.signIn(another)
	work := and(declared, url.Values{"work": {"replace"}, "result": {"repaired"}, "done": {"Lamp replaced."}})
	first, second := one.write(path+"/sign/work", work), two.write(path+"/sign/work", and(work, url.Values{"done": {"Socket cleaned."}}))
	if got := one.prove(first, password); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	got := two.prove(second, password)
	for _, want := range []string{"no longer what you were shown", "nothing was signed", "Socket cleaned."} {
		if got.status != http.StatusConflict || !strings.Contains(got.body, want) {
			t.Errorf("whoever comes second: %d, without %s", got.status, want)
		}
	}
	if w := c.one(squawk).Progress.Work; w == nil || c.one(squawk).Version != 3 {
		t.Errorf("%+v", w)
	}
	late := two.write(path+"/sign/return-to-service", and(declared, url.Values{"check_flight_required": {"no"}}))
	one.signs(path+"/sign/return-to-service", and(declared, url.Values{"check_flight_required": {"no"}, "done": {"Lamp replaced, checked."}}))
	got = two.prove(late, password)
	if got.status != http.StatusConflict || !strings.Contains(got.body, "Not now") || !strings.Contains(got.body, "Lamp replaced.") {
		t.Errorf("after it was closed: %d %s", got.status, got.body)
	}
}

// TestWhatIsUndone holds that a move of maintenance is taken back by one press where the life of a squawk has a step back, and
// that it is said where it has none.
func TestWhatIsUndone(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	first, second := c.squawk(aircraft, "dome-light", "Dark."), c.squawk(aircraft, "dome-light", "No cabin light.")
	path := "/squawks/" + second.String()
	v := c.signIn(mechanic)
	moved := func(step string, fields url.Values) seen {
		t.Helper()
		got := v.post(path+"/moves", move(t, v.get(path), step, fields))
		if got.status != http.StatusSeeOther {
			t.Fatalf("%s: %d %s", step, got.status, got.body)
		}
		to, _, _ := strings.Cut(got.header.Get("Location"), "#")
		return v.get(to)
	}
	undone := func(page seen) seen {
		t.Helper()
		_, form, ok := strings.Cut(page.body, `id="moved"`)
		if !ok {
			t.Fatalf("no undo: %s", page.body)
		}
		got := v.post(path+"/moves", served(seen{body: form}, "moves"))
		if got.status != http.StatusSeeOther {
			t.Fatalf("undo: %d %s", got.status, got.body)
		}
		to, _, _ := strings.Cut(got.header.Get("Location"), "#")
		return v.get(to)
	}
	again := undone(moved("duplicate", url.Values{"of": {first.String()}, "words": {"The same light."}}))
	if q := c.one(second); q.State != techlog.Reported || !q.DuplicateOf.IsZero() {
		t.Errorf("a duplicate: %+v", q)
	}
	undone(again) // what was undone is done again
	if q := c.one(second); q.State != techlog.Closed || q.DuplicateOf != first {
		t.Errorf("a duplicate again: %+v", q)
	}
	moved("reopen", url.Values{"words": {"Two lights."}})
	undone(moved("confirm", url.Values{"about": {"unit:landing-light"}, "kind": {"inoperative"}, "words": {"The landing light."}}))
	if q := c.one(second); q.Unit != "dome-light" || !q.Confirmed {
		t.Errorf("confirmed: %+v", q)
	}
	moved("expect", url.Values{"expected": {"2031-05-17"}, "words": {"Lamp on order."}})
	undone(moved("expect", url.Values{"expected": {"2031-06-17"}, "words": {"Later."}}))
	if q := c.one(second); q.Expected == nil || q.Expected.On != "2031-05-17" || q.Expected.Words != "Lamp on order." {
		t.Errorf("expected: %+v", q.Expected)
	}
	if page := moved("confirm", url.Values{"about": {"unit:dome-light"}, "kind": {"inoperative"}, "words": {"As reported."}}); !strings.Contains(page.body, "Confirmed.") || strings.Contains(page.body, ">Undo<") {
		t.Error("what cannot be undone is offered, or it is not said")
	}
	stale := v.get(path + "?moved=duplicate&version=2")
	if strings.Contains(stale.body, ">Undo<") {
		t.Error("an old step is offered to be undone")
	}
}

// TestAnInspectionDisposesOfWhatIsDeferred holds that the form of an annual inspection names what is deferred, is refused as
// long as nothing is said of it, and is signed once it was carried on at that inspection.
func TestAnInspectionDisposesOfWhatIsDeferred(t *testing.T) {
	t.Parallel()
	c := crewed(t)
	ends := c.clock().AddDate(1, 0, 0).Format(time.DateOnly)
	c.certify(mechanic, "Juniper Larkspur", techlog.Maintains, techlog.Certificate{Kind: techlog.InspectionAuthorization, Number: "0000001 (invented)", Until: ends})
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	squawk := c.confirmed(aircraft, "landing-light", "Left light dark.")
	path, sign := "/squawks/"+squawk.String(), "/aircraft/"+aircraft.String()+"/sign/annual-inspection"
	v := c.signIn(mechanic)
	v.signs(path+"/sign/out-of-use", and(declared, deferredWork))
	until := c.clock().AddDate(0, 0, 10).Format(time.DateOnly)
	v.signs(path+"/sign/defer", url.Values{"until": {until}})
	c.mu.Lock()
	c.now = c.now.Add(24 * time.Hour)
	c.mu.Unlock()
	v = c.signIn(mechanic) // the session has ended overnight
	if list := v.get("/aircraft/" + aircraft.String() + "/inspections"); !strings.Contains(list.body, sign) || !strings.Contains(list.body, "Transponder test: who may") {
		t.Errorf("what may be inspected: %s", list.body)
	}
	annual := url.Values{"airworthy": {"yes"}, "total_time_hours": {"4000"}, "declared.understands": {"yes"}}
	got := v.write(sign, annual)
	if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "was left inoperative, and this inspection says nothing of it") ||
		!strings.Contains(got.body, path+"/sign/carry-on?inspection=annual-inspection") || !strings.Contains(got.body, "I certify that this aircraft has been inspected in accordance with an annual inspection") {
		t.Errorf("with a deferral: %d %s", got.status, got.body)
	}
	v.signs(path+"/sign/carry-on?inspection=annual-inspection", url.Values{"found": {"As it was, and secured."}, "until": {until}})
	if page := v.get(sign); !strings.Contains(page.body, "carried on") || strings.Contains(page.body, "Carry it on") {
		t.Errorf("after it was carried on: %s", page.body)
	}
	if no := v.write(sign, and(annual, url.Values{"airworthy": {"no"}})); no.status != http.StatusUnprocessableEntity || !strings.Contains(no.body, `id="fault-words"`) {
		t.Errorf("not airworthy, without a list: %d %s", no.status, no.body)
	}
	v.signs(sign, annual)
	if page := v.get("/aircraft/" + aircraft.String() + "/inspections"); !strings.Contains(page.body, "Annual inspection, signed by Juniper Larkspur") {
		t.Errorf("it is not listed: %s", page.body)
	}
	a, err := c.service.Aircraft(t.Context(), c.who, aircraft)
	if err != nil || a.Facts.AnnualInspected != c.clock().In(chicago(t)).Format(time.DateOnly) {
		t.Errorf("%s, %v", a.Facts.AnnualInspected, err)
	}
}

func (c *club) label(id techlog.ID) string {
	c.t.Helper()
	q := c.one(id)
	return q.Label()
}
