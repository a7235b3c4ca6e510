package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/techlog"
)

// TestAWholeWalkaround walks an aircraft of ninety checks before a night flight for hire, skips three, is told which, finds
// four squawks of four kinds, files them, and looks at what they hold.
func TestAWholeWalkaround(t *testing.T) {
	t.Parallel()
	w := newWalk(t)
	start := w.start(t, `{"id": "`+newID().String()+`", "flight": "`+w.night.Id.String()+`", "place": "north ramp", "freezing_moisture": false}`)
	id := start.Walkaround.Id
	applies := applying(start)
	for name, want := range map[string]bool{"landing-light": true, "position-light-left": true, "panel-lights": true, "pitot-heat": false, "life-vests": false} {
		if slices.Contains(applies, name) != want {
			t.Errorf("%s applies to a night flight in the clear: %v", name, !want)
		}
	}
	if start.Progress.Checks < 70 || start.Progress.Open != start.Progress.Checks || len(start.NotDone) != start.Progress.Checks {
		t.Fatalf("%+v, %d not done", start.Progress, len(start.NotDone))
	}

	// One by one, then the rest at once; four things are wrong, and three are not looked at.
	skipped := []string{"spinner", "antennas", "brake-right"}
	found := map[string]string{
		"oil-level": `"value": 4.5`, "tire-left": `"outcome": "finding", "note": "cord shows"`,
		"landing-light": `"outcome": "finding", "note": "stays dark"`, "registration": `"present": false`,
	}
	first := w.reported(t, id, false, result("door", `"outcome": "good"`))
	if first.Taken != 1 || first.Progress.Done != 1 || len(first.NotDone) != 0 {
		t.Errorf("%+v", first)
	}
	var batch []string
	for name, said := range found {
		batch = append(batch, result(name, said))
	}
	batch = append(batch, goodResults(start, append(skipped, "door", "oil-level", "tire-left", "landing-light", "registration")...)...)
	refused := w.report(t, id, true, batch...)
	var missing []string
	for _, f := range refused.faults(t) {
		missing = append(missing, strings.TrimPrefix(f, "required-check complete."))
	}
	slices.Sort(missing)
	if slices.Sort(skipped); refused.status != http.StatusUnprocessableEntity || !slices.Equal(missing, skipped) {
		t.Fatalf("%d: told of %v, want %v", refused.status, missing, skipped)
	}
	if again := w.review(t, id); again.Progress.Done != 1 {
		t.Errorf("what was refused was taken down: %+v", again.Progress)
	}
	all := w.reported(t, id, false, batch...)
	if all.Taken != len(batch) || all.Progress.Finding != 4 || all.Progress.Open != 3 {
		t.Errorf("%+v", all.Progress)
	}
	if review := w.review(t, id); len(review.NotDone) != 3 || review.NotDone[0].Check != "brake-right" || review.NotDone[0].Station != "right-wing" {
		t.Errorf("not done: %+v", review.NotDone)
	}
	done := w.reported(t, id, true, result("spinner", `"outcome": "good"`),
		result("antennas", `"outcome": "skipped", "note": "cover frozen to the roof"`), result("brake-right", `"outcome": "skipped", "note": "wheel fairing on"`))
	if done.Walkaround.State != "completed" || !slices.Equal(done.Walkaround.LeftOpen, []string{"brake-right", "antennas"}) || len(done.NotDone) != 2 ||
		*done.NotDone[0].Because != "wheel fairing on" {
		t.Errorf("%+v\n%+v", done.Walkaround, done.NotDone)
	}
	w.checkHolds(t, id, done.Findings)
}

// checkHolds files four findings, one after the other, and looks at what each holds.
func (w *walk) checkHolds(t *testing.T, id client.ID, findings []client.WalkaroundFinding) {
	t.Helper()
	byCheck := map[string]client.WalkaroundFinding{}
	for _, f := range findings {
		byCheck[f.Check] = f
	}
	// The registration that is missing holds both flights at once; it is found in another jacket before anything is filed.
	for _, flight := range []client.ID{w.day.Id, w.night.Id} {
		if h := w.flight(t, flight).Hold; h.Verdict != "grounded" || len(h.Rows) != 1 || h.Rows[0].Row != "91.203-a-registration" {
			t.Errorf("without registration: %+v", h)
		}
	}
	w.clock.advance(time.Minute)
	w.reported(t, id, false, strings.Replace(result("registration", `"present": true, "until": "2031-06-30"`), "12:00:00Z", "12:01:00Z", 1))
	before := w.flight(t, w.day.Id)
	if before.Hold.Verdict != "clear" || w.flight(t, w.night.Id).Hold.Verdict != "clear" {
		t.Fatalf("before anything is filed: %+v", before.Hold)
	}
	for _, c := range []struct {
		check, class, kind, unit, item, words string
		changes                               map[client.ID]client.Verdict
	}{
		{
			"landing-light", "inoperative", "inoperative", "landing-light", "", "Left wing, Landing light on and off. Stays dark.",
			map[client.ID]client.Verdict{w.day.Id: "defer-first", w.night.Id: "grounded"},
		},
		{
			"oil-level", "servicing", "condition", "", "engine-oil", "Nose, Oil level on the dipstick. 4.5 qt, at least 5.5 qt.",
			map[client.ID]client.Verdict{w.day.Id: "grounded"},
		},
		{"tire-left", "condition", "condition", "", "tire", "Left wing, Main tire: tread, cuts, creep marks. Cord shows.", nil},
		{
			"registration", "record", "condition", "", "", "Cabin, Registration certificate aboard; read the day on which it runs out. It is not aboard.", nil,
		},
	} {
		f := byCheck[c.check]
		if string(f.Class) != c.class || string(f.Kind) != c.kind || given(f.Unit) != c.unit || given(f.Item) != c.item || f.Words != c.words || f.Squawk != nil {
			t.Errorf("%s is proposed as %+v", c.check, f)
		}
		path := "/v1/walkarounds/" + id.String() + "/results/" + f.Result.String() + "/squawk"
		filed := created[client.FiledSquawk](t, w.rig, asked{method: "POST", path: path, body: `{}`, token: w.tokens[techlog.Pilot]})
		changes := map[client.ID]client.Verdict{}
		for _, change := range filed.Changes {
			changes[change.Flight] = change.Is
		}
		if len(changes) != len(c.changes) || changes[w.day.Id] != c.changes[w.day.Id] || changes[w.night.Id] != c.changes[w.night.Id] || filed.Squawk.Words != c.words {
			t.Errorf("%s: %v, want %v: %+v", c.check, changes, c.changes, filed.Squawk)
		}
		if again := w.ask(t, asked{method: "POST", path: path, body: `{}`}); again.status != http.StatusConflict {
			t.Errorf("filed again: %d %s", again.status, again.body)
		}
		// The determination names the squawk, by its label.
		for _, flight := range []client.ID{w.day.Id, w.night.Id} {
			named := slices.ContainsFunc(w.flight(t, flight).Determination.Findings, func(f client.Finding) bool { return f.Defect == filed.Squawk.Label })
			if !named {
				t.Errorf("%s holds nothing of flight %s", c.check, flight)
			}
		}
	}
	if !slices.ContainsFunc(w.flight(t, w.night.Id).Hold.Rows, func(r client.HoldRow) bool { return r.Citation == "14 CFR 91.205(c)(4)" }) {
		t.Errorf("the night flight is held by %+v", w.flight(t, w.night.Id).Hold.Rows)
	}
	for _, f := range w.review(t, id).Findings {
		if f.Squawk == nil {
			t.Errorf("%s has no squawk", f.Check)
		}
	}
}

func (w *walk) flight(t *testing.T, id client.ID) client.Flight {
	t.Helper()
	return answerTo[client.Flight](t, w.rig, asked{method: "GET", path: "/v1/flights/" + id.String()}, http.StatusOK)
}

func given(s *string) string {
	if s == nil {
		return ""
	}
	return *s
}
