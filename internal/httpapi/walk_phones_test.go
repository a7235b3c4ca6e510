package httpapi_test

import (
	"net/http"
	"slices"
	"testing"
	"time"

	"tiedown/api/client"
)

// standing is how one check of a review stands.
func standing(t *testing.T, r client.WalkaroundReview, check string) client.CheckStanding {
	t.Helper()
	i := slices.IndexFunc(r.Checks, func(s client.CheckStanding) bool { return s.Check.ID == check })
	if i < 0 {
		t.Fatalf("no check %s", check)
	}
	return r.Checks[i]
}

// TestTwoPhonesOnOneWalkaround holds that results come together, that repeats change nothing, that contradictions are
// shown until somebody settles them, and that what arrives late is taken down all the same.
func TestTwoPhonesOnOneWalkaround(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	start := w.start(t, `{"freezing_moisture": false}`)
	id := start.Walkaround.Id
	one := result("tire-left", `"outcome": "good"`)
	if got := w.reported(t, id, false, one, one); got.Taken != 1 || got.Progress.Done != 1 {
		t.Errorf("the same result twice in one report: %+v", got)
	}
	if got := w.reported(t, id, false, one); got.Taken != 0 || got.Progress.Done != 1 || got.Walkaround.Version != 2 {
		t.Errorf("the same report again: %+v", got)
	}
	other := result("tire-left", `"outcome": "finding", "note": "cord shows"`)
	got := w.reported(t, id, false, other)
	if got.Progress.Contested != 1 || len(got.Contested) != 1 || len(got.Contested[0].Results) != 2 || len(got.Findings) != 1 {
		t.Fatalf("two phones that contradict each other: %+v", got)
	}
	rest := goodResults(start, "tire-left")
	if got := w.report(t, id, true, rest...); got.status != http.StatusUnprocessableEntity || !slices.Equal(got.faults(t), []string{"contested complete.tire-left"}) {
		t.Errorf("%d %v", got.status, got.faults(t))
	}
	w.reported(t, id, false, rest...)
	results := got.Contested[0].Results
	settled := w.reported(t, id, true, result("tire-left", `"outcome": "finding", "note": "cord shows, both looked", "replaces": ["`+results[0].Id.String()+`", "`+results[1].Id.String()+`"]`))
	if settled.Walkaround.State != "completed" || len(settled.Findings) != 1 || len(settled.NotDone) != 0 {
		t.Errorf("%+v", settled)
	}
	s := standing(t, w.review(t, id), "tire-left")
	if s.State != "finding" || len(s.Results) != 3 || !s.Results[0].Replaced || !s.Results[1].Replaced || s.Results[2].Replaced {
		t.Errorf("%+v", s)
	}

	// The other phone ends it as well, and has one more result.
	if again := w.reported(t, id, true); again.Walkaround.Version != settled.Walkaround.Version {
		t.Errorf("ended twice: %+v", again.Walkaround)
	}
	late := w.reported(t, id, false, result("spinner", `"outcome": "finding", "note": "crack at the back plate"`))
	if s := standing(t, w.review(t, id), "spinner"); !s.Results[1].Late || s.State != "contested" || late.Walkaround.State != "completed" || len(late.Findings) != 2 {
		t.Errorf("late: %+v, %+v", s, late.Findings)
	}
}

// TestAStartIsKnownByItsIdentifier holds that a start whose answer was lost can be sent again, by whichever phone.
func TestAStartIsKnownByItsIdentifier(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	body := `{"id": "` + newID().String() + `", "flight": "` + w.day.Id.String() + `", "freezing_moisture": false}`
	first, again := w.start(t, body), w.start(t, body)
	if first.Walkaround.Id != again.Walkaround.Id || again.Walkaround.Version != 1 || len(again.Checks) != 90 {
		t.Errorf("%+v, then %+v", first.Walkaround, again.Walkaround)
	}
	w.reported(t, first.Walkaround.Id, false, result("door", `"outcome": "good"`))
	if resumed := w.start(t, body); resumed.Progress.Done != 1 {
		t.Errorf("on another phone: %+v", resumed.Progress)
	}
	path := "/v1/aircraft/" + w.aircraft.Id.String() + "/walkarounds"
	for what, q := range map[string]asked{
		"for another flight":        {method: "POST", path: path, body: `{"id": "` + first.Walkaround.Id.String() + `"}`},
		"for a flight of another's": {method: "POST", path: path, body: `{"flight": "` + w.otherFlight(t).Id.String() + `"}`},
		"for a cancelled flight":    {method: "POST", path: path, body: `{"flight": "` + w.cancelled(t).String() + `"}`},
	} {
		if got := w.ask(t, q); got.status != http.StatusConflict {
			t.Errorf("%s: %d %s", what, got.status, got.body)
		}
	}
	list := answerTo[client.Walkarounds](t, w.rig, asked{method: "GET", path: "/v1/walkarounds?flight=" + w.day.Id.String()}, http.StatusOK)
	if len(list.Walkarounds) != 1 {
		t.Errorf("%d walkarounds", len(list.Walkarounds))
	}
}

// otherFlight is planned with another aircraft.
func (w *walk) otherFlight(t *testing.T) client.Flight {
	t.Helper()
	was := w.aircraft
	defer func() { w.aircraft = was }()
	w.aircraft = w.trainer(t, was.Base, "N099TW")
	return w.plan(t, 50*time.Hour, false)
}

func (w *walk) cancelled(t *testing.T) client.ID {
	t.Helper()
	f := w.plan(t, 60*time.Hour, false)
	answerTo[client.Flight](t, w.rig, asked{method: "POST", path: "/v1/flights/" + f.Id.String() + "/cancellation", header: ifMatch(1)}, http.StatusOK)
	return f.Id
}

// TestBadResultsAreRefusedAtOnce holds that every fault of a report is told, and that nothing of it is taken down.
func TestBadResultsAreRefusedAtOnce(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	id := w.start(t, `{}`).Walkaround.Id
	taken := newID().String()
	w.reported(t, id, false, `{"id": "`+taken+`", "check": "door", "made_at": "2026-11-25T12:00:00Z", "outcome": "good"}`)
	got := w.report(t, id, false,
		result("spinner", `"outcome": "good"`),
		result("door", `"outcome": "finding"`),
		result("oil-level", `"outcome": "good"`),
		result("tires", `"outcome": "good"`),
		result("fuel-sump-left", `"color": "blue", "value": 3`),
		result("registration", `"present": true`),
		result("hobbs", `"value": 12.345`),
		result("door", `"outcome": "good", "replaces": ["`+newID().String()+`"]`),
		`{"id": "`+taken+`", "check": "door", "made_at": "2026-11-25T12:00:00Z", "outcome": "skipped", "note": "ice"}`,
	)
	want := []string{
		"required results[1].note", "required results[2].value", "known-check results[3].check", "way results[4].value", "required results[4].water",
		"required results[4].sediment", "required results[5].until", "precision results[6].value", "known-result results[7].replaces[0]",
		"unique results[8].id",
	}
	if got.status != http.StatusUnprocessableEntity || !slices.Equal(got.faults(t), want) {
		t.Errorf("%d\n got %q\nwant %q", got.status, got.faults(t), want)
	}
	if r := w.review(t, id); r.Progress.Done != 1 || r.Walkaround.Version != 2 {
		t.Errorf("%+v, %+v", r.Progress, r.Walkaround)
	}
}

// TestAFindingIsFiledAsOneSees holds that a squawk may say otherwise than its finding proposes, and that only a finding
// that stands has one.
func TestAFindingIsFiledAsOneSees(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	id := w.start(t, `{}`).Walkaround.Id
	reported := w.reported(t, id, false, result("beacon", `"outcome": "finding", "note": "dark"`), result("tire-left", `"outcome": "finding", "note": "flat"`))
	path := func(result client.ID) string {
		return "/v1/walkarounds/" + id.String() + "/results/" + result.String() + "/squawk"
	}
	tire, beacon := reported.Findings[0].Result, reported.Findings[1].Result
	filed := created[client.FiledSquawk](t, w.rig, asked{method: "POST", path: path(beacon), body: `{"item": "beacon", "words": "Beacon dark, bulb whole."}`})
	if filed.Squawk.Unit != nil || *filed.Squawk.Item != "beacon" || filed.Squawk.Words != "Beacon dark, bulb whole." || filed.Squawk.Kind != "inoperative" {
		t.Errorf("%+v", filed.Squawk)
	}
	if got := w.ask(t, asked{method: "POST", path: path(tire), body: `{"unit": "no-such", "kind": "condition"}`}); got.status != 422 || !slices.Equal(got.faults(t), []string{"installed unit"}) {
		t.Errorf("%d %s", got.status, got.body)
	}
	if got := w.ask(t, asked{method: "POST", path: path(client.ID(newID())), body: `{}`}); got.status != http.StatusNotFound {
		t.Errorf("no such result: %d %s", got.status, got.body)
	}
	w.reported(t, id, false, result("tire-left", `"outcome": "good", "note": "was another aircraft's", "replaces": ["`+tire.String()+`"]`))
	if got := w.ask(t, asked{method: "POST", path: path(tire), body: `{}`}); got.status != http.StatusConflict {
		t.Errorf("a finding that was settled: %d %s", got.status, got.body)
	}
}
