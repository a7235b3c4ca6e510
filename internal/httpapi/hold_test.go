package httpapi_test

import (
	"slices"
	"testing"

	"tiedown/api/client"
	"tiedown/internal/techlog"
)

// TestASquawkHoldsAtOnce holds that whoever has the answer to a squawk finds its holds in flights and status.
func TestASquawkHoldsAtOnce(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	pilot := r.as(t, techlog.Pilot)
	planned, err := pilot.PlanFlightWithResponse(t.Context(), nil, f.nightFlight())
	if err != nil || planned.JSON201 == nil {
		t.Fatalf("plan: %v, %s", err, planned.Body)
	}
	flight := *planned.JSON201
	if flight.Hold.Holds || flight.Determination == nil || !flight.Determination.Permits {
		t.Fatalf("the flight is held before anything is wrong: %s", planned.Body)
	}
	before := statusVerdict(t, r, f, "night-vfr")

	filed, err := pilot.FileSquawkWithResponse(t.Context(), f.aircraft.Id, nil, client.SquawkReport{
		Kind: client.SquawkKindInoperative, Unit: new("ldg"), Words: "landing light stays dark",
	})
	if err != nil || filed.JSON201 == nil {
		t.Fatalf("file: %v, %s", err, filed.Body)
	}
	if c := filed.JSON201.Changes; len(c) != 1 || c[0].Flight != flight.Id || c[0].Is == c[0].Was {
		t.Errorf("changes %v, want the one flight", c)
	}

	shown, err := pilot.ShowFlightWithResponse(t.Context(), flight.Id)
	if err != nil || shown.JSON200 == nil {
		t.Fatalf("show: %v", err)
	}
	if h := shown.JSON200.Hold; !h.Holds || !slices.ContainsFunc(h.Rows, func(row client.HoldRow) bool { return row.Citation == "14 CFR 91.205(c)(4)" }) {
		t.Errorf("hold %+v, want one by 14 CFR 91.205(c)(4)", h)
	}
	if d := shown.JSON200.Determination; d == nil || d.Permits || string(shown.JSON200.Hold.Verdict) != d.Verdict {
		t.Errorf("determination %+v does not agree with the hold %+v", d, shown.JSON200.Hold)
	}
	held, err := pilot.ListFlightsWithResponse(t.Context(), &client.ListFlightsParams{Held: new(true)})
	if err != nil || held.JSON200 == nil || len(held.JSON200.Flights) != 1 || held.JSON200.Flights[0].Id != flight.Id {
		t.Errorf("held flights: %v, %s", err, held.Body)
	}
	if l := held.JSON200.Flights[0]; l.Determination != nil || l.Hold.Verdict != shown.JSON200.Hold.Verdict || l.Version != flight.Version {
		t.Errorf("in the list: %+v", l)
	}
	free, err := pilot.ListFlightsWithResponse(t.Context(), &client.ListFlightsParams{Held: new(false)})
	if err != nil || free.JSON200 == nil || len(free.JSON200.Flights) != 0 {
		t.Errorf("flights that are not held: %v, %s", err, free.Body)
	}
	if after := statusVerdict(t, r, f, "night-vfr"); after == before {
		t.Errorf("night VFR is %s as before", after)
	}
}

func statusVerdict(t *testing.T, r *rig, f fleet, kind string) string {
	t.Helper()
	s, err := r.as(t, techlog.Scheduler).ShowStatusWithResponse(t.Context(), f.aircraft.Id, nil)
	if err != nil || s.JSON200 == nil {
		t.Fatalf("status: %v, %s", err, s.Body)
	}
	if len(s.JSON200.Kinds) != 4 {
		t.Fatalf("%d kinds of operation, want 4", len(s.JSON200.Kinds))
	}
	for _, k := range s.JSON200.Kinds {
		if k.Kind == kind {
			return k.Verdict
		}
	}
	t.Fatalf("no kind %s in the status", kind)
	return ""
}
