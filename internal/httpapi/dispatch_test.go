package httpapi_test

import (
	"fmt"
	"net/http"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// toJudge is a plan as it is only judged.
func toJudge(p client.FlightPlan) client.FlightToJudge {
	return client.FlightToJudge{Aircraft: p.Aircraft, From: p.From, To: p.To, Departs: p.Departs, Arrives: p.Arrives, Legs: p.Legs, Rules: p.Rules, Facts: p.Facts}
}

// Civil twilight of 21 December at 1°17' N, 103°50' E, in UTC: it ends at 11:27, and begins at 22:39. U.S. Naval Observatory, Civil
// Twilight for 2023, Singapore; as kept in klausbrunner/solarpositioning, src/test/resources/sunrise/raw/singapore-civil.txt. In that
// week both are later by half a minute a day: the year of the table makes no minute.
var (
	islandDusk = time.Date(2026, 12, 21, 11, 27, 0, 0, time.UTC)
	islandDawn = time.Date(2026, 12, 21, 22, 39, 0, 0, time.UTC)
)

func about(t *testing.T, what string, got, want time.Time) {
	t.Helper()
	if got.Sub(want).Abs() > 90*time.Second {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

// island is a base where twilight is printed, and a flight for hire of two legs over it, of which the second goes on into the
// night: 16:00 to 17:00, and 18:30 to 20:00 by the clocks there.
func (f fleet) island(t *testing.T, r *rig) (client.Base, client.FlightPlan) {
	t.Helper()
	base := created[client.Base](t, r, asked{method: "POST", path: "/v1/bases", body: marshal(t, client.BaseEntry{
		Code: "ISL", Name: "Island Field", Lat: 1 + 17.0/60, Lon: 103 + 50.0/60, Zone: "Asia/Singapore",
	})})
	p := f.nightFlight()
	p.From, p.To, p.Departs, p.Arrives = client.ID{}, client.ID{}, time.Time{}, time.Time{}
	here := client.PlannedPlace{Base: &base.Id}
	at := func(hour, minute int) time.Time { return time.Date(2026, 12, 21, hour-8, minute, 0, 0, time.UTC) }
	p.Legs = &[]client.LegPlan{
		{From: here, To: here, Departs: at(16, 0), Arrives: at(17, 0)},
		{From: here, To: here, Departs: at(18, 30), Arrives: at(20, 0)},
	}
	return base, p
}

// TestNightBeginsOnTheWay is a flight that goes on into the night with a landing light deferred: how much of it may go, when it has
// to leave, what releases it, and what becomes of that when the part is on order.
func TestNightBeginsOnTheWay(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	r := x.rig
	_, plan := x.fleet.island(t, r)
	light := x.deferLight(t, noon.AddDate(0, 2, 0))
	flight := created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, plan)})
	path := "/v1/flights/" + flight.Id.String() + "/outlook"
	o := shownTo[client.FlightOutlook](t, r, asked{method: "GET", path: path})
	if o.Permits || o.Verdict != "grounded" || o.Zone != "Asia/Singapore" || o.Flight != flight.Id.String() || len(o.Legs) != 2 || o.Rules == "" || o.Caution == "" {
		t.Fatalf("%+v", o)
	}
	stop := o.Legs[1].Stop
	if !o.Legs[0].Permits || o.Legs[0].Stop != nil || stop == nil || !stop.Part || !slices.Contains(stop.Becomes, "night begins") {
		t.Fatalf("%+v", o.Legs)
	}
	about(t, "night begins", stop.At, islandDusk)
	if !slices.ContainsFunc(stop.Findings, func(f casefile.Finding) bool { return f.Citation == "14 CFR 91.205(c)(4)" && f.Defect == "00001" }) {
		t.Errorf("it is not said why: %+v", stop.Findings)
	}
	if !strings.Contains(stop.Words, "Leg 2 is permitted until 19:2") || !strings.Contains(stop.Words, "(Asia/Singapore)") {
		t.Error(stop.Words)
	}
	if o.Part.Legs != 1 || o.Part.PartOf != 2 || !o.Part.Until.Equal(stop.At) {
		t.Errorf("the largest part: %+v", o.Part)
	}
	d := o.Departures
	if d.Permits || d.Planned != nil || d.Before == nil || d.After == nil || d.Zone != "Asia/Singapore" {
		t.Fatalf("%+v", d)
	}
	about(t, "leave by", d.Before.To, islandDusk.Add(-4*time.Hour))
	about(t, "leave not before", d.After.From, islandDawn)
	if !strings.HasPrefix(d.Words, "Leave by 15:2") {
		t.Error(d.Words)
	}
	if rel := o.Release; rel == nil || rel.Beside || !reflect.DeepEqual(rel.Sets, [][]string{{"00001"}}) || rel.Earliest != nil || len(rel.NotKnown) != 1 {
		t.Errorf("released by %+v", o.Release)
	}

	// Planned anew for the latest departure it may go; a minute later it may not.
	for _, c := range []struct {
		by    time.Duration
		holds bool
	}{{0, false}, {time.Minute, true}} {
		later := plan
		legs := slices.Clone(*plan.Legs)
		for i := range legs {
			move := d.Before.To.Add(c.by).Sub((*plan.Legs)[0].Departs)
			legs[i].Departs, legs[i].Arrives = legs[i].Departs.Add(move), legs[i].Arrives.Add(move)
		}
		later.Legs = &legs
		if got := created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, later)}); got.Hold.Holds != c.holds {
			t.Errorf("leaving at %v it is %s", legs[0].Departs, got.Hold.Verdict)
		}
	}

	// Maintenance says when the part comes. The verdict hangs on nothing of it.
	expect := func(role techlog.Role, version int, body string) answered {
		return r.ask(t, asked{method: "POST", path: "/v1/squawks/" + light.String() + "/moves", body: body, header: ifMatch(version), token: r.tokens[role]})
	}
	if got := expect(techlog.Pilot, 2, `{"step": "expect", "words": "soon", "expected": "2026-12-10"}`); got.status != http.StatusForbidden {
		t.Errorf("a pilot says when parts come: %d", got.status)
	}
	said := decoded[client.FiledSquawk](t, expect(techlog.Mechanic, 2, `{"step": "expect", "words": "The bulb is on order.", "expected": "2026-12-10"}`), 200)
	if e := said.Squawk.Expected; e == nil || e.On != "2026-12-10" || e.Words != "The bulb is on order." || len(said.Changes) != 0 || said.Squawk.State != "deferred" || said.Squawk.Deferral == nil {
		t.Errorf("%+v", said)
	}
	o = shownTo[client.FlightOutlook](t, r, asked{method: "GET", path: path})
	rel := o.Release
	midnight := time.Date(2026, 12, 10, 5, 0, 0, 0, time.UTC) // at the aircraft's base, in New York
	if rel.Earliest == nil || !rel.Earliest.Equal(midnight) || len(rel.NotKnown) != 0 || rel.Squawks[0].Expected == nil || !rel.Squawks[0].Alone {
		t.Errorf("%+v", rel)
	}
	if !strings.Contains(rel.Words, "Nothing is released by itself") {
		t.Error(rel.Words)
	}
	late := decoded[client.FiledSquawk](t, expect(techlog.MaintenanceControl, 3, `{"step": "expect", "words": "Nobody knows any longer."}`), 200)
	if late.Squawk.Expected != nil {
		t.Errorf("%+v", late.Squawk)
	}
	story := shownTo[client.SquawkStory](t, r, asked{method: "GET", path: "/v1/squawks/" + light.String()})
	if h := story.History; len(h) != 4 || h[2].Step != "expect" || h[2].Expected == nil || *h[2].Expected != "2026-12-10" || h[3].Expected != nil {
		t.Errorf("%+v", h)
	}
	for body, rule := range map[string]string{
		`{"step": "confirm", "words": "Seen.", "expected": "2026-12-10"}`: "of-this-step",
		`{"step": "expect", "words": "Soon.", "expected": "next week"}`:   "format",
		`{"step": "expect", "words": " ", "expected": "2026-12-10"}`:      "required",
	} {
		if got := expect(techlog.Mechanic, 4, body); got.status < 400 || rule != "of-this-step" && got.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d %s", body, got.status, got.body)
		}
	}
}

// TestAnotherAircraftForTheFlight finds the other aircraft for a flight that is held, and says why not of those that may not go.
func TestAnotherAircraftForTheFlight(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	r := x.rig
	flight := created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, x.fleet.nightFlight())})
	path := "/v1/flights/" + flight.Id.String() + "/alternatives"
	if none := shownTo[client.Alternatives](t, r, asked{method: "GET", path: path}); len(none.Aircraft) != 0 || none.Permits != 0 || none.Caution == "" {
		t.Errorf("with one aircraft: %+v", none)
	}
	sound, dark := x.addAircraft(t, "N0SND"), x.addAircraft(t, "N0DRK")
	created[client.FiledSquawk](t, r, asked{method: "POST", path: "/v1/aircraft/" + dark.Id.String() + "/squawks", body: `{"kind": "inoperative", "unit": "ldg", "words": "dark"}`})
	found := shownTo[client.Alternatives](t, r, asked{method: "GET", path: path})
	if len(found.Aircraft) != 2 || found.Permits != 1 || found.Free != 1 || found.Flight != flight.Id.String() {
		t.Fatalf("%+v", found)
	}
	first, second := found.Aircraft[0], found.Aircraft[1]
	if first.Aircraft != sound.Id.String() || !first.Permits || !first.SameBase || first.Registration != "N0SND" || len(first.InTheWay) != 0 {
		t.Errorf("%+v", first)
	}
	if second.Aircraft != dark.Id.String() || second.Permits || second.Verdict != "grounded" ||
		!slices.ContainsFunc(second.InTheWay, func(w client.RowInTheWay) bool { return w.Citation == "14 CFR 91.205(c)(4)" && w.Defect == "00001" }) {
		t.Errorf("%+v", second)
	}
	created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, func() client.FlightPlan {
		p := x.fleet.nightFlight()
		p.Aircraft = sound.Id
		return p
	}())})
	if busy := shownTo[client.Alternatives](t, r, asked{method: "GET", path: path}).Aircraft[0]; !busy.Permits || len(busy.Busy) != 1 || busy.Busy[0].Kind != "flight" {
		t.Errorf("%+v", busy)
	}
}

// TestManyFlightsInOneRequest judges flights at once and holds the answers against planning the same, field by field.
func TestManyFlightsInOneRequest(t *testing.T) {
	t.Parallel()
	x := newExercise(t)
	r := x.rig
	x.deferLight(t, noon.AddDate(0, 2, 0))
	_, legs := x.fleet.island(t, r)
	day, ended, nowhere, half := x.fleet.nightFlight(), x.fleet.nightFlight(), x.fleet.nightFlight(), x.fleet.nightFlight()
	day.Departs, day.Arrives = noon.Add(28*time.Hour), noon.Add(29*time.Hour)
	ended.Departs, ended.Arrives = noon.Add(-2*time.Hour), noon.Add(-time.Hour)
	nowhere.To = client.ID(newID())
	half.To = client.ID{}
	plans := []client.FlightPlan{x.fleet.nightFlight(), day, legs, ended, nowhere, half}
	body := client.FlightsToJudge{}
	for i, p := range plans {
		j := toJudge(p)
		j.Ref = new(fmt.Sprint("number ", i))
		body.Flights = append(body.Flights, j)
	}
	judged := shownTo[client.Judgements](t, r, asked{method: "POST", path: "/v1/judgements", body: marshal(t, body), token: r.tokens[techlog.Mechanic]})
	if len(judged.Judgements) != len(plans) || judged.Rules == "" || judged.Caution == "" || !judged.AsOf.Equal(noon) {
		t.Fatalf("%+v", judged)
	}
	cited := map[string]string{}
	for _, row := range judged.Rows {
		cited[row.Row] = row.Citation
	}
	for i, p := range plans {
		j := judged.Judgements[i]
		if j.Ref == nil || *j.Ref != fmt.Sprint("number ", i) {
			t.Errorf("the answer %d is of %v", i, j.Ref)
		}
		got := r.ask(t, asked{method: "POST", path: "/v1/flights", body: marshal(t, p)})
		if got.status != http.StatusCreated {
			var told []string
			for _, f := range *j.Faults {
				told = append(told, f.Rule+" "+f.Field)
			}
			if want := got.faults(t); !slices.Equal(told, want) || j.Verdict != nil {
				t.Errorf("%d: %v, planned %v", i, told, want)
			}
			continue
		}
		planned := decoded[client.Flight](t, got, http.StatusCreated)
		var rows []string
		for _, row := range planned.Hold.Rows {
			rows = append(rows, row.Row)
			if cited[row.Row] != row.Citation {
				t.Errorf("%s is cited as %q, want %q", row.Row, cited[row.Row], row.Citation)
			}
		}
		if j.Faults != nil || *j.Verdict != planned.Hold.Verdict || *j.Holds != planned.Hold.Holds || !slices.Equal(*j.Rows, rows) {
			t.Errorf("%d: %+v, planned %+v", i, j, planned.Hold)
		}
		if len(planned.Legs) > 1 {
			for n, leg := range *j.Legs {
				if leg.Verdict != planned.Legs[n].Verdict || len(leg.Rows) != len(planned.Legs[n].Rows) {
					t.Errorf("%d, leg %d: %+v, planned %+v", i, n+1, leg, planned.Legs[n])
				}
			}
		} else if j.Legs != nil {
			t.Errorf("%d: %+v", i, j)
		}
	}
	if *judged.Judgements[0].Verdict != "grounded" || *judged.Judgements[1].Verdict != "clear" || judged.Judgements[3].Faults == nil || judged.Judgements[5].Faults == nil {
		t.Errorf("%+v", judged.Judgements)
	}
}

// TestAsManyFlightsAsThereMayBe judges as many flights as one request may have, which are more bytes than others may have, and not one more.
func TestAsManyFlightsAsThereMayBe(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	body := client.FlightsToJudge{}
	for i := range hangar.MaxJudgements + 1 {
		j := toJudge(f.nightFlight())
		j.Departs, j.Arrives = j.Departs.Add(time.Duration(i)*time.Minute), j.Arrives.Add(time.Duration(i)*time.Minute)
		body.Flights = append(body.Flights, j)
	}
	got := r.ask(t, asked{method: "POST", path: "/v1/judgements", body: marshal(t, body)})
	if faults := got.faults(t); got.status != http.StatusUnprocessableEntity || !slices.Equal(faults, []string{"length flights"}) {
		t.Errorf("one too many: %d %v", got.status, faults)
	}
	body.Flights = body.Flights[:hangar.MaxJudgements]
	written := marshal(t, body)
	judged := shownTo[client.Judgements](t, r, asked{method: "POST", path: "/v1/judgements", body: written})
	if len(written) < 2<<20 || len(judged.Judgements) != hangar.MaxJudgements {
		t.Fatalf("%d bytes, %d answers", len(written), len(judged.Judgements))
	}
	verdicts := map[client.Verdict]int{}
	for _, j := range judged.Judgements {
		verdicts[*j.Verdict]++
	}
	if len(verdicts) == 0 || verdicts["clear"] == 0 {
		t.Errorf("%v", verdicts)
	}
	if flights := shownTo[client.Flights](t, r, asked{method: "GET", path: "/v1/flights"}).Flights; len(flights) != 0 {
		t.Errorf("%d flights are planned", len(flights))
	}
}
