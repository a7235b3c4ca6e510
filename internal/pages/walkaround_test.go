package pages_test

import (
	"encoding/json"
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"tiedown/internal/demo"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
	"tiedown/internal/walkaround"
)

// trainer is the club's trainer, which has a checklist.
func (c *club) trainer() techlog.Aircraft {
	c.t.Helper()
	fleet, err := c.service.Fleet(c.t.Context(), c.who, hangar.Page{Limit: 50})
	if err != nil {
		c.t.Fatal(err)
	}
	for _, a := range fleet {
		if a.Registration == "N012TW" {
			return a
		}
	}
	c.t.Fatal("there is no trainer")
	return techlog.Aircraft{}
}

// walkable is a club with a trainer that has a checklist, and nothing else.
func walkable(t *testing.T) *club {
	t.Helper()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy 140 Trainer")
	rules := c.service.Book().Rules
	list, err := demo.Checklist(func(item string) bool { _, known := rules.Item(item); return known })
	if err != nil {
		t.Fatal(err)
	}
	c.checklist(aircraft, hangar.ChecklistEntry{Type: "Tansy 140 Trainer", Checks: list.Checks})
	return c
}

// checklist gives an aircraft the checklist of a type.
func (c *club) checklist(aircraft techlog.ID, e hangar.ChecklistEntry) {
	c.t.Helper()
	template, err := c.service.AddChecklistTemplate(c.t.Context(), c.who, e, nil, func(t walkaround.Template) ([]byte, error) { return json.Marshal(t.ID) })
	made := walkaround.AirframeChecklist{Aircraft: aircraft, Template: parsed(c.t, template, err), Serial: "1"}
	if _, err := c.service.ChangeChecklist(c.t.Context(), c.who, made, nil, func(hangar.AircraftChecklist) ([]byte, error) { return nil, nil }); err != nil {
		c.t.Fatal(err)
	}
}

// begin starts a walkaround by the form, and gives the address of it.
func (v *visitor) begin(aircraft techlog.ID) string {
	v.club.t.Helper()
	path := "/aircraft/" + aircraft.String() + "/walkaround"
	page := v.get(path)
	got := v.post(path, url.Values{"once": {hidden(v.club.t, page, "once")}, "moisture": {"unknown"}})
	if got.status != http.StatusSeeOther {
		v.club.t.Fatalf("begin: %d %s", got.status, got.body)
	}
	return got.header.Get("Location")
}

var resultID = regexp.MustCompile(`name="([a-z0-9-]+)\.(id|replaces)" value="([^"]*)"`)

// station is the form of a station as it is served.
func (v *visitor) station(walk, station string) url.Values {
	v.club.t.Helper()
	page := v.get(walk + "?station=" + station)
	if page.status != http.StatusOK {
		v.club.t.Fatalf("%s: %d %s", station, page.status, page.body)
	}
	form := url.Values{"once": {hidden(v.club.t, page, "once")}, "station": {station}}
	for _, field := range resultID.FindAllStringSubmatch(page.body, -1) {
		form.Set(field[1]+"."+field[2], html.UnescapeString(field[3]))
	}
	return form
}

func (c *club) walk(address string) hangar.WalkaroundView {
	c.t.Helper()
	id, ok := techlog.ParseID(strings.TrimPrefix(address, "/walkarounds/"))
	if !ok {
		c.t.Fatalf("%s is no walkaround", address)
	}
	view, err := c.service.Walkaround(c.t.Context(), c.who, id)
	if err != nil {
		c.t.Fatal(err)
	}
	return view
}

func state(t *testing.T, w hangar.WalkaroundView, check string) walkaround.Standing {
	t.Helper()
	for _, s := range w.Review.Standings {
		if s.Check.ID == check {
			return s
		}
	}
	t.Fatalf("there is no check %s", check)
	return walkaround.Standing{}
}

// TestAStationSaysWhatWasSaid holds that every way of checking is taken down as its form says it, that what is left out is
// not taken down, that faults stand at their checks with everything that was filled in, and that a form that is sent twice
// makes no result twice.
func TestAStationSaysWhatWasSaid(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	v := c.signIn(pilot)
	walk := v.begin(c.trainer().ID)
	form := v.station(walk, "nose")
	for field, value := range map[string]string{
		"oil-level.value": "4,5", "oil-cap.outcome": "skipped", "oil-cap.note": "Rain.", "cowling.outcome": "finding", "air-inlets.outcome": "good",
	} {
		form.Set(field, value)
	}
	bad := url.Values{}
	for field, values := range form {
		bad[field] = values
	}
	bad.Set("oil-level.value", "half")
	bad.Set("oil-cap.note", "")
	got := v.post(walk+"/results", bad)
	if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "is no number") || !strings.Contains(got.body, `value="half"`) {
		t.Errorf("no number: %d", got.status)
	}
	bad.Set("oil-level.value", "4.5")
	got = v.post(walk+"/results", bad)
	for _, want := range []string{"the check was skipped, and nothing says why", "nothing is written about what was found", `value="4.5"`, `value="finding" checked`} {
		if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, want) {
			t.Errorf("%d, without %s", got.status, want)
		}
	}
	untouched := c.walk(walk)
	if n := len(untouched.Review.NotDone()); n != len(untouched.Composed.Checks) {
		t.Errorf("something was taken down of a form with faults: %d are left", n)
	}
	form.Set("cowling.note", "Cracked at the hinge.")
	for range 2 {
		if got := v.post(walk+"/results", form); got.status != http.StatusSeeOther || !strings.HasPrefix(got.header.Get("Location"), walk+"?station=") {
			t.Errorf("%d, to %s", got.status, got.header.Get("Location"))
		}
	}
	w := c.walk(walk)
	for check, want := range map[string]walkaround.CheckState{
		"oil-level": walkaround.Found, "oil-cap": walkaround.LeftOut, "cowling": walkaround.Found, "air-inlets": walkaround.Done, "spinner": walkaround.Open,
	} {
		s := state(t, w, check)
		if s.State != want || want != walkaround.Open && len(s.Results) != 1 {
			t.Errorf("%s is %s with %d results, want %s", check, s.State, len(s.Results), want)
		}
	}
	if r := state(t, w, "oil-level").Results[0]; *r.Said.Value != 4.5 || r.By != "Wren Talbot" {
		t.Errorf("the oil: %+v", r)
	}
}

// TestTwoPeopleOnOneWalkaround holds that what two people found comes together, that they see where they contradict each
// other, and that either may settle it.
func TestTwoPeopleOnOneWalkaround(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	one, two := c.signIn(pilot), c.signIn(scheduler)
	walk := one.begin(c.trainer().ID)
	first, second := one.station(walk, "nose"), two.station(walk, "nose")
	first.Set("cowling.outcome", "good")
	second.Set("cowling.outcome", "finding")
	second.Set("cowling.note", "A fastener is missing.")
	for v, form := range map[*visitor]url.Values{one: first, two: second} {
		if got := v.post(walk+"/results", form); got.status != http.StatusSeeOther {
			t.Fatalf("%d %s", got.status, got.body)
		}
	}
	page := one.get(walk + "?station=nose")
	for _, want := range []string{"These contradict each other", "Wren Talbot", "Sorrel Finch", "A fastener is missing."} {
		if !strings.Contains(page.body, want) {
			t.Errorf("the page does not say %s", want)
		}
	}
	settle := one.station(walk, "nose")
	settle.Set("cowling.outcome", "finding")
	settle.Set("cowling.note", "Sorrel is right.")
	if got := one.post(walk+"/results", settle); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	if s := state(t, c.walk(walk), "cowling"); s.State != walkaround.Found || len(s.Results) != 3 {
		t.Errorf("settled: %s with %d results", s.State, len(s.Results))
	}
}

// TestAWalkaroundEndsWithItsReview holds that it does not end while a required check is open, that a finding is filed as a
// squawk in one step and once, and that what is left stays on record.
func TestAWalkaroundEndsWithItsReview(t *testing.T) {
	t.Parallel()
	c := walkable(t)
	v := c.signIn(pilot)
	trainer := c.trainer()
	walk := v.begin(trainer.ID)
	form := v.station(walk, "nose")
	form.Set("cowling.outcome", "finding")
	form.Set("cowling.note", "Cracked at the hinge.")
	if got := v.post(walk+"/results", form); got.status != http.StatusSeeOther {
		t.Fatalf("%d %s", got.status, got.body)
	}
	review := v.get(walk + "/review")
	if !strings.Contains(review.body, "Cracked at the hinge.") {
		t.Errorf("the review hides the finding: %s", review.body)
	}
	got := v.post(walk+"/complete", url.Values{"once": {hidden(t, review, "once")}})
	if got.status != http.StatusUnprocessableEntity || !strings.Contains(got.body, "It cannot be completed yet") || strings.Count(got.body, "it is not done.") < 50 {
		t.Errorf("complete at once: %d", got.status)
	}
	result := state(t, c.walk(walk), "cowling").Results[0].ID
	finding := url.Values{"once": {hidden(t, review, "once")}}
	before := len(c.squawks(trainer.ID))
	for range 2 {
		if got := v.post(walk+"/findings/"+result.String(), finding); got.status != http.StatusSeeOther {
			t.Errorf("file: %d %s", got.status, got.body)
		}
	}
	if got := v.post(walk+"/findings/"+result.String(), url.Values{"once": {hidden(t, v.get(walk+"?station=nose"), "once")}}); got.status != http.StatusConflict {
		t.Errorf("file it again: %d", got.status)
	}
	filed := c.squawks(trainer.ID)
	if len(filed) != before+1 || !strings.Contains(filed[0].Words, "Cracked at the hinge.") {
		t.Errorf("%d squawks more: %+v", len(filed)-before, filed[0])
	}
	stations := map[walkaround.Station]bool{}
	for _, s := range c.walk(walk).Review.Standings {
		stations[s.Check.Station] = true
	}
	for station := range stations {
		rest := v.station(walk, string(station))
		for _, s := range c.walk(walk).Review.Standings {
			if s.Check.Station == station && s.State == walkaround.Open {
				rest.Set(s.Check.ID+".outcome", "skipped")
				rest.Set(s.Check.ID+".note", "Only the cowling was asked for.")
			}
		}
		if got := v.post(walk+"/results", rest); got.status != http.StatusSeeOther {
			t.Fatalf("%s: %d %s", station, got.status, got.body)
		}
	}
	for range 2 {
		review = v.get(walk + "/review")
		if strings.Contains(review.body, "Complete the walkaround") {
			if got := v.post(walk+"/complete", url.Values{"once": {hidden(t, review, "once")}}); got.status != http.StatusSeeOther {
				t.Errorf("complete: %d %s", got.status, got.body)
			}
		}
	}
	if !strings.Contains(review.body, "Completed") || !strings.Contains(review.body, "Only the cowling was asked for.") {
		t.Errorf("after completion: %s", review.body)
	}
	w := c.walk(walk).Walkaround
	if w.State != walkaround.Completed || w.CompletedBy != "Wren Talbot" || len(w.LeftOpen) < 80 {
		t.Errorf("%+v", w)
	}
}

// TestAnAircraftWithoutAChecklist holds that its page says what is missing, and that nothing begins.
func TestAnAircraftWithoutAChecklist(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	aircraft := c.enter(c.base("WILLOW", "Willow"), "N012TW", "Tansy")
	v := c.signIn(pilot)
	path := "/aircraft/" + aircraft.String() + "/walkaround"
	if got := v.get(path); got.status != http.StatusOK || !strings.Contains(got.body, "has no checklist yet") || strings.Contains(got.body, "Begin</button>") {
		t.Errorf("%d %s", got.status, got.body)
	}
	v.get("/organization")
	if got := v.post(path, url.Values{"once": {"AAAAAAAAAAAAAAAAAAAAAA"}}); got.status != http.StatusConflict {
		t.Errorf("begin all the same: %d", got.status)
	}
}

// markedWalk is a walkaround by a checklist that says markup, at a place of that name, with markup found.
func (c *club) markedWalk(aircraft techlog.ID) string {
	c.t.Helper()
	c.checklist(aircraft, hangar.ChecklistEntry{Type: markup, Checks: []walkaround.Check{
		{ID: "spinner", Station: walkaround.Nose, Way: walkaround.Look, Words: markup, Means: walkaround.Condition},
	}})
	walk, result := newID(), newID()
	_, err := c.service.StartWalkaround(c.t.Context(), c.who, hangar.WalkaroundStart{ID: walk, Aircraft: aircraft, Place: markup}, nil,
		func(hangar.WalkaroundView) ([]byte, error) { return nil, nil })
	if err != nil {
		c.t.Fatal(err)
	}
	_, err = c.service.ReportResults(c.t.Context(), c.who, hangar.WalkaroundReport{Walkaround: walk, Results: []walkaround.Result{
		{ID: result, Check: "spinner", Said: walkaround.Answer{Outcome: walkaround.Finding, Note: markup}, MadeAt: c.clock()},
	}}, nil, func(hangar.ReportedWalkaround) ([]byte, error) { return nil, nil })
	if err != nil {
		c.t.Fatal(err)
	}
	return "/walkarounds/" + walk.String()
}
