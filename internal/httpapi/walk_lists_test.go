package httpapi_test

import (
	"maps"
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
)

// TestChecksAppearWithTheFlight holds that which checks apply follows the flight, while the walkaround is under way.
func TestChecksAppearWithTheFlight(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	start := w.start(t, `{"flight": "`+w.day.Id.String()+`", "freezing_moisture": false}`)
	conditional := func(r client.WalkaroundReview) []string {
		var names []string
		for _, s := range r.Checks {
			if s.Applies && s.Because != nil {
				names = append(names, s.Check.ID)
			}
		}
		return names
	}
	if got := conditional(start); len(got) != 0 {
		t.Errorf("by day in the clear: %v", got)
	}
	plan := client.FlightPlan{
		Aircraft: w.aircraft.Id, From: w.aircraft.Base, To: w.aircraft.Base, Rules: "ifr", Departs: noon.Add(36 * time.Hour), Arrives: noon.Add(37 * time.Hour),
		Facts: &w.day.Facts,
	}
	answerTo[client.Flight](t, w.rig, asked{method: "PUT", path: "/v1/flights/" + w.day.Id.String(), header: ifMatch(1), body: marshal(t, plan)}, http.StatusOK)
	want := []string{
		"panel-lights", "flashlight", "position-light-right", "position-light-left", "pitot-heat", "landing-light", "position-light-tail",
	}
	if got := conditional(w.review(t, start.Walkaround.Id)); !slices.Equal(got, want) {
		t.Errorf("IFR by night: %v, want %v", got, want)
	}
	unknown := w.start(t, `{"flight": "`+w.night.Id.String()+`"}`)
	if s := standing(t, unknown, "pitot-heat"); !s.Applies || *s.Because != "nobody has said whether the flight is under instrument flight rules, or in visible moisture near freezing" &&
		*s.Because != "nobody has said whether the flight is in visible moisture near freezing" {
		t.Errorf("nobody has said anything of the weather: %+v", s)
	}
}

// TestAnAirframesOwnChecklist holds that an aircraft without a system has no check of it, that one with a change of its own
// has that, and that a walkaround goes on with the checklist that it began with.
func TestAnAirframesOwnChecklist(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	plain := w.trainer(t, w.aircraft.Base, "N098TW")
	configuration := plain.Configuration
	configuration.Units = slices.DeleteFunc(slices.Clone(configuration.Units), func(u client.Unit) bool { return u.ID == "pitot-heat" || u.ID == "stall-warning" })
	answerTo[client.Aircraft](t, w.rig, asked{
		method: "PUT", path: "/v1/aircraft/" + plain.Id.String() + "/configuration", header: ifMatch(1), body: marshal(t, configuration),
	}, http.StatusOK)
	if got := answerTo[client.AirframeChecklist](t, w.rig, asked{method: "GET", path: "/v1/aircraft/" + plain.Id.String() + "/checklist"}, http.StatusOK); got.Version != 0 || got.Template != nil || len(got.Checks) != 0 {
		t.Errorf("nobody has said which checklist it has: %+v", got)
	}
	made := w.giveChecklist(t, plain.Id, `{"drop": ["chocks"], "put": [{"after": "spinner", "check":
		{"id": "ski-cables", "station": "nose", "way": "look", "words": "Ski cables", "means": "condition", "required": true}}]}`)
	dropped := map[string]bool{}
	for _, d := range made.Dropped {
		dropped[d.ID] = true
	}
	if want := map[string]bool{"pitot-heat": true, "stall-warning": true, "chocks": true}; !maps.Equal(dropped, want) || len(made.Checks) != 88 {
		t.Errorf("%d checks, without %v", len(made.Checks), made.Dropped)
	}
	at := slices.IndexFunc(made.Checks, func(c client.Check) bool { return c.ID == "ski-cables" })
	if at < 1 || made.Checks[at-1].ID != "spinner" {
		t.Errorf("the check of its own is at %d", at)
	}

	path := "/v1/aircraft/" + plain.Id.String() + "/walkarounds"
	begun := created[client.WalkaroundReview](t, w.rig, asked{method: "POST", path: path, body: `{}`})
	answerTo[client.ChecklistTemplate](t, w.rig, asked{
		method: "PUT", path: "/v1/checklist-templates/" + w.template.Id.String(), header: ifMatch(1), body: twoChecks,
	}, http.StatusOK)
	next := created[client.WalkaroundReview](t, w.rig, asked{method: "POST", path: path, body: `{}`})
	if was := w.review(t, begun.Walkaround.Id); len(was.Checks) != 88 || was.TemplateVersion != 1 || len(next.Checks) != 3 || next.TemplateVersion != 2 {
		t.Errorf("the one that had begun has %d checks, the next %d", len(was.Checks), len(next.Checks))
	}
	for what, c := range map[string]struct{ body, want string }{
		"a template that is none":    {`{"template": "` + newID().String() + `"}`, "known-template template"},
		"a check that is none":       {`{"template": "` + w.template.Id.String() + `", "changes": {"drop": ["spinner"]}}`, "known-check changes.drop[0]"},
		"a serial number of spaces":  {`{"template": "` + w.template.Id.String() + `", "serial": "T 7"}`, "form serial"},
		"nothing left of a template": {`{"template": "` + w.template.Id.String() + `", "changes": {"drop": ["door", "oil"]}}`, "length changes"},
	} {
		got := w.ask(t, asked{method: "PUT", path: "/v1/aircraft/" + plain.Id.String() + "/checklist", header: ifMatch(1), body: c.body})
		if got.status != http.StatusUnprocessableEntity || !slices.Equal(got.faults(t), []string{c.want}) {
			t.Errorf("%s: %d %v, want %s", what, got.status, got.faults(t), c.want)
		}
	}
}

// TestChecklistsAsCSV holds that what is downloaded can be sent again, and that faults are told with their lines.
func TestChecklistsAsCSV(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	got := w.ask(t, asked{method: "GET", path: "/v1/checklist-templates/" + w.template.Id.String() + "/csv"})
	if got.status != http.StatusOK || strings.Count(string(got.body), "\n") != 91 {
		t.Fatalf("%d, %d lines", got.status, strings.Count(string(got.body), "\n"))
	}
	again := created[client.ChecklistTemplate](t, w.rig, asked{
		method: "POST", path: "/v1/checklist-templates", body: marshal(t, client.ChecklistEntry{Type: "Tansy 140 Trainer", Csv: new(string(got.body))}),
	})
	if marshal(t, again.Checks) != marshal(t, w.template.Checks) {
		t.Error("what was downloaded is another checklist")
	}
	spoilt := strings.Replace(strings.Replace(string(got.body), "oil-level,nose,measure", "oil-level,nose,weigh", 1), ",5.5,8,", ",five,8,", 1)
	refused := w.ask(t, asked{method: "POST", path: "/v1/checklist-templates", body: marshal(t, client.ChecklistEntry{Type: " ", Csv: &spoilt})})
	p := refused.problem(t)
	if refused.status != http.StatusUnprocessableEntity || p.Faults == nil || len(*p.Faults) < 3 {
		t.Fatalf("%d %s", refused.status, refused.body)
	}
	lines := map[string]int{}
	for _, f := range *p.Faults {
		lines[f.Rule+" "+f.Field] = f.Line
	}
	line := 2 + slices.IndexFunc(w.template.Checks, func(c client.Check) bool { return c.ID == "oil-level" })
	if lines["type csv.rows["+itoa(line-2)+"].at_least"] != line || lines["enum csv.rows["+itoa(line-2)+"].way"] != line {
		t.Errorf("%v, want line %d", lines, line)
	}
	if _, told := lines["required type"]; !told {
		t.Errorf("the missing type is not told: %v", lines)
	}
}

// TestMetersAgainstTheBook holds that nothing enters the book silently that contradicts it.
func TestMetersAgainstTheBook(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	path := "/v1/aircraft/" + w.aircraft.Id.String() + "/meters"
	enter := func(body string) answered { return w.ask(t, asked{method: "POST", path: path, body: body}) }
	wantFaults := func(what, body string, want ...string) {
		t.Helper()
		if got := enter(body); got.status != http.StatusUnprocessableEntity || !slices.Equal(got.faults(t), want) {
			t.Errorf("%s: %d %v, want %v", what, got.status, got.faults(t), want)
		}
	}
	wantFaults("nothing", `{}`, "required document")
	wantFaults("a flight before there is a total", `{"air_hours": 1.2}`, "known-total air_hours")
	created[client.Meters](t, w.rig, asked{method: "POST", path: path, body: `{"hobbs": 2103.3, "tach": 1875.2, "time_in_service": 1750.5}`})

	// A walkaround: the hour meter has gone on by one step, the tachometer by more than anybody entered.
	id := w.start(t, `{}`).Walkaround.Id
	r := w.reported(t, id, false, result("hobbs", `"value": 2103.4`), result("tach", `"value": 1875.7`))
	if len(r.Findings) != 1 || r.Findings[0].Class != "record" || !strings.Contains(r.Findings[0].Words, "0.5 h") {
		t.Errorf("%+v", r.Findings)
	}
	book := w.meters(t)
	if book["hobbs"].Hours != 2103.4 || *book["hobbs"].Walkaround != id || book["tach"].Hours != 1875.2 || book["time-in-service"].Hours != 1750.5 {
		t.Errorf("%+v", book)
	}

	// A flight of 1.1 h in the air, 1.4 h on the hour meter.
	w.clock.advance(2 * time.Hour)
	wantFaults("typos", `{"hobbs": 2013.5, "tach": 18766, "time_in_service": 1, "air_hours": 1}`, "one-form air_hours", "step-back hobbs", "implausible tach")
	flown := created[client.Meters](t, w.rig, asked{
		method: "POST", path: path, body: `{"hobbs": 2104.8, "tach": 1876.4, "air_hours": 1.1, "flight": "` + w.day.Id.String() + `"}`,
	})
	if len(flown.Meters) != 3 {
		t.Errorf("%+v", flown)
	}
	book = w.meters(t)
	if book["hobbs"].Hours != 2104.8 || book["tach"].Hours != 1876.4 || book["time-in-service"].Hours != 1751.6 || *book["time-in-service"].Flight != w.day.Id {
		t.Errorf("%+v", book)
	}
	wantFaults("a step back", `{"tach": 0}`, "step-back tach")
	created[client.Meters](t, w.rig, asked{method: "POST", path: path, body: `{"tach": 0, "because": "tachometer replaced, airframe log page 90"}`})
	if e := w.meters(t)["tach"]; e.Hours != 0 || e.Because == nil || e.Number != 3 {
		t.Errorf("%+v", e)
	}
}

// TestWhatWasEnteredBeforeIsShown: every version of a type's checklist, and every entry of a meter, newest first, by pages.
func TestWhatWasEnteredBeforeIsShown(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	check := func(words string) string {
		return `{"type": "Tern 2", "checks": [{"id": "door", "station": "cabin", "way": "look", "words": "` + words + `", "means": "condition"}]}`
	}
	template := created[client.ChecklistTemplate](t, c.rig, asked{method: "POST", path: "/v1/checklist-templates", body: check("Doors")})
	path := "/v1/checklist-templates/" + template.Id.String()
	answerTo[client.ChecklistTemplate](t, c.rig, asked{method: "PUT", path: path, header: ifMatch(1), body: check("Doors and windows")}, 200)
	first := shownTo[client.ChecklistVersions](t, c.rig, asked{method: "GET", path: path + "/versions?limit=1"})
	if len(first.Versions) != 1 || first.Versions[0].Version != 2 || first.Versions[0].Checks[0].Words != "Doors and windows" {
		t.Errorf("%+v", first)
	}
	all := shownTo[client.ChecklistVersions](t, c.rig, asked{method: "GET", path: path + "/versions"})
	if len(all.Versions) != 2 || all.Versions[1].Version != 1 || all.Versions[1].Checks[0].Words != "Doors" {
		t.Errorf("%+v", all)
	}
	for _, hours := range []string{"5000", "5000.5"} {
		created[client.Meters](t, c.rig, asked{method: "POST", path: c.path() + "/meters", body: `{"hobbs": ` + hours + `}`})
		c.clock.advance(time.Hour)
	}
	book := shownTo[client.Meters](t, c.rig, asked{method: "GET", path: c.path() + "/meters/hobbs"})
	if len(book.Meters) != 2 || book.Meters[0].Hours != 5000.5 || book.Meters[1].Hours != 5000 {
		t.Errorf("%+v", book)
	}
	if none := shownTo[client.Meters](t, c.rig, asked{method: "GET", path: c.path() + "/meters/tach"}); len(none.Meters) != 0 {
		t.Errorf("%+v", none)
	}
	if got := c.rig.ask(t, asked{method: "GET", path: "/v1/checklist-templates/" + newID().String() + "/versions"}); got.status != 404 {
		t.Errorf("versions of nothing: %d", got.status)
	}
}
