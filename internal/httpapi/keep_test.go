package httpapi_test

import (
	"slices"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/casefile"
)

// TestPapersAndWhatIsDueHoldFlights enters an aircraft whose papers are in order, lets its registration run out and a
// directive fall due, and sees flights held, with citations, and the status say so; put right, the flights are released.
func TestPapersAndWhatIsDueHoldFlights(t *testing.T) {
	t.Parallel()
	r := newDueRig(t)
	a := r.enter(t, func(*client.AircraftEntry) {})
	flight := r.plan(t, a, "2026-11-28 09:00", 2, 1, false)
	if flight.Hold.Holds {
		t.Fatalf("held before anything is wrong: %+v", flight.Hold)
	}
	change := func(papers func(*casefile.Facts)) client.Aircraft {
		now := shownTo[client.Aircraft](t, r.rig, asked{method: "GET", path: "/v1/aircraft/" + a.Id.String()})
		facts := trainer(r.fleet.home.Id).Facts
		papers(&facts)
		return shownTo[client.Aircraft](t, r.rig, asked{
			method: "PATCH", path: "/v1/aircraft/" + a.Id.String(), body: marshal(t, map[string]any{"facts": facts}), header: ifMatch(now.Version),
		})
	}
	hold := func() client.Hold {
		return shownTo[client.Flight](t, r.rig, asked{method: "GET", path: "/v1/flights/" + flight.Id.String()}).Hold
	}
	cites := func(h client.Hold, citation string) bool {
		return slices.ContainsFunc(h.Rows, func(row client.HoldRow) bool { return row.Citation == citation })
	}

	change(func(f *casefile.Facts) { f.Papers.Registration.Through = "2026-11-27" })
	if h := hold(); !h.Holds || h.Verdict != "grounded" || !cites(h, "14 CFR 91.203(a)") {
		t.Errorf("the registration has run out: %+v", h)
	}
	change(func(f *casefile.Facts) { f.Papers = nil })
	if h := hold(); !h.Holds || h.Verdict != "undetermined" || !cites(h, "14 CFR 91.9(b)") {
		t.Errorf("nobody has looked at the papers: %+v", h)
	}
	change(func(f *casefile.Facts) {
		f.Upkeep.Items = []casefile.UpkeepItem{
			{ID: "selector", Kind: "directive", What: "fuel selector inspection", Citation: "directive 2031-01 (invented)", First: &casefile.DueAt{Through: "2026-11-20"}},
			{ID: "oil", Kind: "own", What: "oil change", First: &casefile.DueAt{Through: "2026-11-20"}},
		}
	})
	if h := hold(); !h.Holds || h.Verdict != "grounded" || !cites(h, "14 CFR 39.7") || !cites(h, casefile.OwnRule) {
		t.Errorf("a directive and an item of the house have fallen due: %+v", h)
	}
	status := shownTo[casefile.Status](t, r.rig, asked{method: "GET", path: "/v1/aircraft/" + a.Id.String() + "/status"})
	for _, k := range status.Kinds {
		named := func(f casefile.Finding) bool {
			return f.Item == "selector" && f.Citation == "14 CFR 39.7; directive 2031-01 (invented)"
		}
		if k.Verdict != "grounded" || !slices.ContainsFunc(k.Findings, named) {
			t.Errorf("%s does not name the directive: %+v", k.Kind, k.Findings)
		}
	}
	change(func(*casefile.Facts) {})
	if h := hold(); h.Holds {
		t.Errorf("everything is in order again: %+v", h)
	}
}
