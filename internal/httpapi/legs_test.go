package httpapi_test

import (
	"fmt"
	"net/http"
	"slices"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/techlog"
)

// outAndBack plans a sightseeing flight for hire from home to a place without a base and back: out by day, and back so long
// after. The sun sets at home at about 21:37 UTC.
func (f fleet) outAndBack(back time.Time) client.FlightPlan {
	p := f.nightFlight()
	out := noon.Add(28 * time.Hour) // 16 h UTC of the next day
	lake := client.PlannedPlace{Lat: new(40.4), Lon: new(-75.2), Name: new("Lake")}
	p.From, p.To, p.Departs, p.Arrives = client.ID{}, client.ID{}, time.Time{}, time.Time{}
	p.Legs = &[]client.LegPlan{
		{From: client.PlannedPlace{Base: &f.home.Id}, To: lake, Departs: out, Arrives: out.Add(time.Hour)},
		{From: lake, To: client.PlannedPlace{Base: &f.home.Id}, Departs: back, Arrives: back.Add(time.Hour)},
	}
	return p
}

// TestTheWayHomeAfterSunset is a flight that may go out and may not come home, and what becomes of it.
func TestTheWayHomeAfterSunset(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	pilot := r.as(t, techlog.Pilot)
	evening := noon.Add(36 * time.Hour)
	flight := created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, f.outAndBack(evening))})
	if flight.Hold.Holds || len(flight.Legs) != 2 || *flight.From != f.home.Id || *flight.To != f.home.Id || !flight.Arrives.Equal(evening.Add(time.Hour)) {
		t.Fatalf("as planned: %+v", flight)
	}
	out, home := flight.Legs[0], flight.Legs[1]
	if *out.Light.Night || !*home.Light.Night || out.Determination == nil || home.Determination == nil {
		t.Errorf("out %+v, home %+v", out, home)
	}
	if out.From.Base == nil || *out.From.Base != f.home.Id || *out.From.Ident != "HOM" || out.From.Name != "Home Field" || out.To.Base != nil || out.To.Ident != nil ||
		out.To.Name != "Lake" || out.To.Lat != 40.4 || home.From != out.To {
		t.Errorf("out %+v %+v, home %+v", out.From, out.To, home.From)
	}

	filed, err := pilot.FileSquawkWithResponse(t.Context(), f.aircraft.Id, nil, client.SquawkReport{
		Kind: client.SquawkKindInoperative, Unit: new("ldg"), Words: "landing light stays dark",
	})
	if err != nil || filed.JSON201 == nil || len(filed.JSON201.Changes) != 1 {
		t.Fatalf("file: %v, %s", err, filed.Body)
	}
	named := func(l client.FlightLeg) bool {
		return slices.ContainsFunc(l.Rows, func(row client.HoldRow) bool { return row.Citation == "14 CFR 91.205(c)(4)" })
	}
	shown := shownTo[client.Flight](t, r, asked{method: "GET", path: "/v1/flights/" + flight.Id.String()})
	out, home = shown.Legs[0], shown.Legs[1]
	if out.Verdict != "defer-first" || home.Verdict != "grounded" || shown.Hold.Verdict != "grounded" || named(out) || !named(home) {
		t.Errorf("held: out %+v, home %+v, the flight %+v", out, home, shown.Hold)
	}
	if out.Determination.Verdict != "defer-first" || home.Determination.Verdict != "grounded" || shown.Determination.Verdict != "grounded" {
		t.Errorf("in words: out %s, home %s, the flight %s", out.Determination.Verdict, home.Determination.Verdict, shown.Determination.Verdict)
	}
	listed := shownTo[client.Flights](t, r, asked{method: "GET", path: "/v1/flights?held=true"}).Flights
	if len(listed) != 1 || len(listed[0].Legs) != 2 || listed[0].Legs[1].Verdict != "grounded" || listed[0].Legs[1].Determination != nil {
		t.Errorf("listed: %+v", listed)
	}

	// Whoever comes home by day has but the deferral to make.
	day := answerTo[client.Flight](t, r, asked{
		method: "PUT", path: "/v1/flights/" + flight.Id.String(), header: ifMatch(1), body: marshal(t, f.outAndBack(noon.Add(32*time.Hour))),
	}, http.StatusOK)
	if day.Hold.Verdict != "defer-first" || day.Legs[1].Verdict != "defer-first" || day.Version != 2 {
		t.Errorf("by day: %+v", day.Hold)
	}
	// A flight of one leg has one, however it was planned.
	one := created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, f.nightFlight())})
	if len(one.Legs) != 1 || one.Legs[0].Verdict != one.Hold.Verdict || !slices.Equal(one.Legs[0].Rows, one.Hold.Rows) || !one.Legs[0].Departs.Equal(one.Departs) {
		t.Errorf("of one leg: %+v", one)
	}
}

// TestOneFormOfPlan holds that a plan says where and when in one form, and each place in one way.
func TestOneFormOfPlan(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	home := `{"base": "` + f.home.Id.String() + `"}`
	plan := func(more string) string {
		return `{"aircraft": "` + f.aircraft.Id.String() + `", "rules": "vfr"` + more + `}`
	}
	leg := func(from, to string) string {
		return fmt.Sprintf(`, "legs": [{"from": %s, "to": %s, "departs": "2026-11-26T16:00:00Z", "arrives": "2026-11-26T17:00:00Z"}]`, from, to)
	}
	for what, c := range map[string]struct {
		body string
		want []string
	}{
		"neither":        {plan(""), []string{"required arrives", "required departs", "required from", "required to"}},
		"half":           {plan(`, "from": "` + f.home.Id.String() + `", "departs": "2026-11-26T16:00:00Z"`), []string{"required arrives", "required to"}},
		"both":           {plan(leg(home, home) + `, "to": "` + f.home.Id.String() + `"`), []string{"one-form to"}},
		"no legs":        {plan(`, "legs": []`), []string{"length legs"}},
		"no place":       {plan(leg(home, `{}`)), []string{"place legs[0].to"}},
		"two places":     {plan(leg(`{"base": "`+f.home.Id.String()+`", "name": "Lake"}`, home)), []string{"one-place legs[0].from"}},
		"half a place":   {plan(leg(`{"lat": 40, "name": "Lake"}`, `{"lat": 40, "lon": -75}`)), []string{"place legs[0].from", "place legs[0].to"}},
		"another planet": {plan(leg(home, `{"lat": 91, "lon": 0, "name": "Lake"}`)), []string{"range legs[0].to.lat"}},
		"no such base":   {plan(leg(home, `{"base": "`+newID().String()+`"}`)), []string{"known-base legs[0].to"}},
		"no such field":  {plan(leg(home, `{"airfield": "X"}`)), []string{"unknown-field legs[0].to.airfield"}},
	} {
		got := r.ask(t, asked{method: "POST", path: "/v1/flights", body: c.body})
		if faults := got.faults(t); got.status != http.StatusUnprocessableEntity || !slices.Equal(slices.Sorted(slices.Values(faults)), c.want) {
			t.Errorf("%s: %d %v, want %v", what, got.status, faults, c.want)
		}
	}
}
