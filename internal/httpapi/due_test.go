package httpapi_test

import (
	"net/http"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// dueRig is an aircraft on which things come due. The tests happen on Wednesday, 25 November 2026.
type dueRig struct {
	*rig
	fleet fleet
}

func newDueRig(t *testing.T) *dueRig {
	t.Helper()
	r := newRig(t)
	return &dueRig{r, r.fleet(t)}
}

// enter adds an aircraft with other facts than the trainer's.
func (r *dueRig) enter(t *testing.T, change func(*client.AircraftEntry)) client.Aircraft {
	t.Helper()
	a := trainer(r.fleet.home.Id)
	a.Registration = "N0DUE"
	change(&a)
	return created[client.Aircraft](t, r.rig, asked{method: "POST", path: "/v1/aircraft", body: marshal(t, a)})
}

// plan intends a flight from the home field in local time.
func (r *dueRig) plan(t *testing.T, a client.Aircraft, departs string, window, hours float64, forHire bool) client.Flight {
	t.Helper()
	zone, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Fatal(err)
	}
	at, err := time.ParseInLocation("2006-01-02 15:04", departs, zone)
	if err != nil {
		t.Fatal(err)
	}
	p := r.fleet.nightFlight()
	p.Aircraft, p.Departs, p.Arrives = a.Id, at, at.Add(time.Duration(window*float64(time.Hour)))
	p.Facts.ForHire, p.Facts.InstructionProvidedAircraft, p.Facts.Hours = &forHire, new(false), &hours
	return created[client.Flight](t, r.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, p)})
}

func (r *dueRig) due(t *testing.T, a client.Aircraft) casefile.DueList {
	t.Helper()
	return shownTo[casefile.DueList](t, r.rig, asked{method: "GET", path: "/v1/aircraft/" + a.Id.String() + "/due"})
}

func itemOf(t *testing.T, l casefile.DueList, id string) casefile.DueItem {
	t.Helper()
	i := slices.IndexFunc(l.Items, func(i casefile.DueItem) bool { return i.ID == id })
	if i < 0 {
		t.Fatalf("no item %s", id)
	}
	return l.Items[i]
}

// TestWhatComesDueNamesTheFlight holds the projection over planned flights (14 CFR 91.409(b), eCFR title 14 issue
// 2026-08-24): 97.1 hours since the inspection and 1.5 on the first flight leave 1.4 for the second.
func TestWhatComesDueNamesTheFlight(t *testing.T) {
	t.Parallel()
	r := newDueRig(t)
	a := r.enter(t, func(a *client.AircraftEntry) { a.Facts.HoursSinceInspection = new(97.1) })
	private := r.plan(t, a, "2026-11-29 10:00", 2, 1, false)
	second := r.plan(t, a, "2026-11-28 13:00", 3, 2, true)
	first := r.plan(t, a, "2026-11-28 09:00", 2, 1.5, true)
	l := r.due(t, a)
	if l.Flights != 3 || l.On != "2026-11-25" || l.Zone != "America/New_York" || l.Registration != "N0DUE" || l.Caution == "" {
		t.Errorf("%+v", l)
	}
	i := itemOf(t, l, "hundred-hour")
	if i.State != "serves" || i.Left.Hours == nil || *i.Left.Hours != 2.9 || i.Meter != "since-last" || i.Citation != "14 CFR 91.409(b)" {
		t.Errorf("%+v", i)
	}
	const says = "The 100-hour inspection falls due 1.4 h into the second flight of Saturday 28 November 2026."
	if out := i.RunsOut; out == nil || out.Says != says || out.Flight != second.Id.String() || !out.Certain || out.Nth != 2 || *out.IntoHours != 1.4 {
		t.Errorf("want %s\nhave %+v", says, i.RunsOut)
	}
	if len(i.Holds) != 1 || i.Holds[0].Flight != second.Id.String() || !i.Holds[0].Certain || !slices.Equal(i.Holds[0].Rows, []string{"hundred-hour-hire"}) {
		t.Errorf("it stops the second flight, and neither %s nor the private one, %s: %+v", first.Id, private.Id, i.Holds)
	}
	if i := itemOf(t, l, "annual"); i.Due.Through != "2027-02-28" || i.RunsOut != nil || len(i.Holds) != 0 || *i.Left.Days != 95 {
		t.Errorf("%+v", i)
	}
}

// TestOfAnUnknownAircraftNothingIsNotDue holds that where nothing is on record every item is listed, none of them as not due,
// each with what to supply.
func TestOfAnUnknownAircraftNothingIsNotDue(t *testing.T) {
	t.Parallel()
	r := newDueRig(t)
	a := r.enter(t, func(a *client.AircraftEntry) {
		a.Facts = casefile.Facts{Category: "airplane", Certificate: "standard", Basis: "other"}
		a.Configuration = nil
	})
	flight := r.plan(t, a, "2026-11-28 09:00", 2, 1, true)
	l := r.due(t, a)
	if len(l.Items) < 10 {
		t.Errorf("only %d items", len(l.Items))
	}
	for _, i := range l.Items {
		if i.State != "not-known" || i.Missing == "" || !strings.HasPrefix(i.Says, "Not known: supply ") || len(i.Stops) == 0 || i.RunsOut != nil {
			t.Errorf("%+v", i)
		}
		for _, h := range i.Holds {
			if h.Certain || h.Flight != flight.Id.String() {
				t.Errorf("%s: %+v", i.ID, h)
			}
		}
	}
	for _, id := range []string{"annual", "hundred-hour", "directive", "life-limit", "elt-inspection"} {
		if len(itemOf(t, l, id).Holds) != 1 {
			t.Errorf("%s may stop the flight, and does not say so", id)
		}
	}
}

// TestOwnPapersOverHTTP enters directives, life limits and an item of the house, and sees them come due.
func TestOwnPapersOverHTTP(t *testing.T) {
	t.Parallel()
	r := newDueRig(t)
	a := r.enter(t, func(a *client.AircraftEntry) {
		a.Facts.Upkeep = &casefile.Upkeep{
			ReadAt: new(noon), Hours: new(4312.4), Complete: new(true),
			Items: []casefile.UpkeepItem{
				{
					ID: "selector", Kind: "directive", What: "fuel selector inspection", Citation: "directive 2031-01 (invented)",
					Every: &casefile.Every{Months: 12, Hours: 100}, Done: []casefile.WorkDone{{On: "2026-02-10", Hours: new(4213.9)}},
				},
				{ID: "hose", Kind: "life-limit", What: "fuel hose", First: &casefile.DueAt{Through: "2026-11-27"}},
				{ID: "oil", Kind: "own", What: "oil change", Every: &casefile.Every{Hours: 50}, Done: []casefile.WorkDone{{On: "2026-10-01", Hours: new(4262.0)}}, Stops: []string{"for-hire"}},
			},
		}
	})
	r.plan(t, a, "2026-11-26 09:00", 2, 1, false)
	later := r.plan(t, a, "2026-11-28 09:00", 2, 1, true)
	l := r.due(t, a)
	for id, want := range map[string]struct{ state, says, out string }{
		"selector": {
			"serves", "Serves through 10 February 2027 or to 4313.9 h of time in service, whichever comes first: 77 days and 1.5 h are left.",
			"The fuel selector inspection falls due 0.5 h into the first flight of Saturday 28 November 2026.",
		},
		"hose": {"serves", "Serves through 27 November 2026: 2 days are left.", "The fuel hose has fallen due when the first flight of Saturday 28 November 2026 departs."},
		"oil":  {"due", "Has fallen due: it served to 4312 h of time in service.", "The oil change has fallen due when the first flight of Thursday 26 November 2026 departs."},
	} {
		i := itemOf(t, l, id)
		if i.State != want.state || i.Says != want.says || i.RunsOut == nil || i.RunsOut.Says != want.out {
			t.Errorf("%s: %+v, %+v", id, i, i.RunsOut)
		}
		if len(i.Holds) != 1 || i.Holds[0].Flight != later.Id.String() {
			t.Errorf("%s: it stops the flight for hire on Saturday: %+v", id, i.Holds)
		}
	}
	if i := itemOf(t, l, "hundred-hour"); i.Meter != "aircraft" || *i.Due.Hours != 4370.9 { // 41.5 h since
		t.Errorf("%+v", i)
	}
	for _, id := range []string{"directive", "life-limit"} {
		if slices.ContainsFunc(l.Items, func(i casefile.DueItem) bool { return i.ID == id }) {
			t.Errorf("everything is on record, and %s is asked for", id)
		}
	}
}

// TestFlightsSinceTheMeterWasRead holds that a planned flight counts from when the meters were read, and no longer once they
// have been read again.
func TestFlightsSinceTheMeterWasRead(t *testing.T) {
	t.Parallel()
	r := newDueRig(t)
	a := r.enter(t, func(a *client.AircraftEntry) {
		a.Facts.Upkeep = &casefile.Upkeep{ReadAt: new(noon), Hours: new(4000.0)}
		a.Facts.HoursSinceInspection = new(98.5)
	})
	r.plan(t, a, "2026-11-25 08:00", 2, 1, true) // an hour from now
	r.plan(t, a, "2026-11-26 09:00", 2, 1, true)
	r.clock.advance(12 * time.Hour)
	l := r.due(t, a)
	const says = "The 100-hour inspection falls due 0.5 h into the first flight of Thursday 26 November 2026."
	if out := itemOf(t, l, "hundred-hour").RunsOut; l.Flights != 2 || out == nil || out.Says != says {
		t.Errorf("the flight of this morning has not been read off the meter yet: %d flights, %+v", l.Flights, out)
	}
	facts := a.Facts
	facts.Upkeep = &casefile.Upkeep{ReadAt: new(noon.Add(11 * time.Hour)), Hours: new(4000.8)}
	facts.HoursSinceInspection = new(99.3)
	got := r.ask(t, asked{
		method: "PATCH", path: "/v1/aircraft/" + a.Id.String(), body: marshal(t, map[string]any{"facts": facts}), header: ifMatch(1),
	})
	if got.status != http.StatusOK {
		t.Fatalf("%d %s", got.status, got.body)
	}
	l = r.due(t, a)
	const again = "The 100-hour inspection falls due 0.7 h into the first flight of Thursday 26 November 2026."
	if out := itemOf(t, l, "hundred-hour").RunsOut; l.Flights != 1 || out == nil || out.Says != again {
		t.Errorf("the meters have been read since: %d flights, %+v", l.Flights, out)
	}
}

// TestABadRecordOfUpkeepIsRefusedWhole holds that faults are told at once, and that nothing of the record is kept.
func TestABadRecordOfUpkeepIsRefusedWhole(t *testing.T) {
	t.Parallel()
	r := newDueRig(t)
	a := r.enter(t, func(*client.AircraftEntry) {})
	facts := a.Facts
	facts.Upkeep = &casefile.Upkeep{Hours: new(10.0), Items: []casefile.UpkeepItem{
		{ID: "a", Kind: "directive", What: "selector", Every: &casefile.Every{Hours: 100}},
		{ID: "a", Kind: "own", What: "oil", Done: []casefile.WorkDone{{On: "2026-01-01", Hours: new(11.0)}}},
	}}
	path := "/v1/aircraft/" + a.Id.String()
	got := r.ask(t, asked{method: "PATCH", path: path, body: marshal(t, map[string]any{"facts": facts}), header: ifMatch(1)})
	want := []string{
		"required facts.upkeep.read_at", "at-least-since-inspection facts.upkeep.hours", "required facts.upkeep.items[0].citation",
		"unique facts.upkeep.items[1].id", "at-most-meter facts.upkeep.items[1].done[0].hours",
	}
	if have := got.faults(t); got.status != http.StatusUnprocessableEntity || !slices.Equal(have, want) {
		t.Errorf("%d: want %q\nhave %q", got.status, want, have)
	}
	kept := shownTo[client.Aircraft](t, r.rig, asked{method: "GET", path: path})
	if kept.Version != 1 || len(kept.Facts.Upkeep.Items) != 0 {
		t.Errorf("something was kept: %+v", kept)
	}
}

// TestWhoMaySeeWhatComesDue holds that everybody of the organization may, and that a stranger's aircraft does not exist.
func TestWhoMaySeeWhatComesDue(t *testing.T) {
	t.Parallel()
	r := newDueRig(t)
	path := "/v1/aircraft/" + r.fleet.aircraft.Id.String() + "/due"
	for _, role := range techlog.Roles() {
		if got := r.ask(t, asked{method: "GET", path: path, token: r.tokens[role]}); got.status != http.StatusOK {
			t.Errorf("%s: %d %s", role, got.status, got.body)
		}
	}
	if got := r.ask(t, asked{method: "GET", path: path, token: r.other}); got.status != http.StatusNotFound {
		t.Errorf("a stranger: %d %s", got.status, got.body)
	}
}
