package httpapi_test

import (
	"net/http"
	"slices"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/techlog"
)

// TestABlockHoldsWhatItOverlaps is an aircraft that is booked for maintenance, whatever its state: made, moved, cancelled, and a
// flight that moves into it.
func TestABlockHoldsWhatItOverlaps(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	flight := created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, f.nightFlight())}) // from 36 h to 37 h after noon
	path := "/v1/flights/" + flight.Id.String()
	shown := func() client.Flight { return shownTo[client.Flight](t, r, asked{method: "GET", path: path}) }
	held := func() int {
		return len(shownTo[client.Flights](t, r, asked{method: "GET", path: "/v1/flights?held=true"}).Flights)
	}
	entry := func(from, until time.Duration) string {
		return marshal(t, client.BlockEntry{From: noon.Add(from), Until: new(noon.Add(until)), Kind: client.BlockKindMaintenance, Words: "Oil change."})
	}
	blocks := "/v1/aircraft/" + f.aircraft.Id.String() + "/blocks"
	mechanic := r.tokens[techlog.Mechanic]

	// Up to the departure, and from the landing on, nothing overlaps.
	for _, c := range [][2]time.Duration{{30 * time.Hour, 36 * time.Hour}, {37 * time.Hour, 40 * time.Hour}} {
		if b := created[client.BlockedAircraft](t, r, asked{method: "POST", path: blocks, body: entry(c[0], c[1]), token: mechanic}); len(b.Changes) != 0 {
			t.Errorf("a block from %v to %v changes %+v", c[0], c[1], b.Changes)
		}
	}
	b := created[client.BlockedAircraft](t, r, asked{method: "POST", path: blocks, body: entry(30*time.Hour, 36*time.Hour+time.Second), token: mechanic})
	if len(b.Changes) != 1 || b.Changes[0].Flight != flight.Id || b.Changes[0].Was != b.Changes[0].Is || !*b.Changes[0].Blocked || *b.Changes[0].WasBlocked {
		t.Errorf("it changes %+v", b.Changes)
	}
	if h := shown().Hold; !h.Holds || h.Verdict != "clear" || h.Blocks == nil || !slices.Equal(*h.Blocks, []client.ID{b.Block.Id}) || held() != 1 {
		t.Errorf("the hold is %+v, %d are held", h, held())
	}

	// A block that is moved away releases, and one until further notice holds.
	path2 := "/v1/blocks/" + b.Block.Id.String()
	moved := answerTo[client.BlockedAircraft](t, r, asked{method: "PUT", path: path2, header: ifMatch(1), body: entry(30*time.Hour, 36*time.Hour), token: mechanic}, http.StatusOK)
	if h := shown().Hold; len(moved.Changes) != 1 || *moved.Changes[0].Blocked || !*moved.Changes[0].WasBlocked || h.Holds || h.Blocks != nil || held() != 0 {
		t.Errorf("after %+v the hold is %+v", moved.Changes, h)
	}
	open := answerTo[client.BlockedAircraft](t, r, asked{
		method: "PUT", path: path2, header: ifMatch(2), body: `{"from": "2026-11-26T00:00:00Z", "kind": "away", "words": "At the paint shop."}`, token: mechanic,
	}, http.StatusOK)
	if open.Block.Until != nil || len(open.Changes) != 1 || !shown().Hold.Holds {
		t.Errorf("until further notice: %+v", open)
	}

	// A flight that moves out of it, or is planned beside it, is free; the answer that plans says so.
	p := f.nightFlight()
	p.Departs, p.Arrives = noon.Add(8*time.Hour), noon.Add(9*time.Hour)
	out := answerTo[client.Flight](t, r, asked{method: "PUT", path: path, header: ifMatch(1), body: marshal(t, p)}, http.StatusOK)
	if out.Hold.Blocks != nil || held() != 0 {
		t.Errorf("moved out: %+v", out.Hold)
	}
	in := created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, f.nightFlight())})
	if in.Hold.Blocks == nil || !in.Hold.Holds {
		t.Errorf("planned into it: %+v", in.Hold)
	}
	cancelled := answerTo[client.BlockedAircraft](t, r, asked{method: "POST", path: path2 + "/cancellation", header: ifMatch(3), token: mechanic}, http.StatusOK)
	if !cancelled.Block.Cancelled || len(cancelled.Changes) != 1 || cancelled.Changes[0].Flight != in.Id || held() != 0 {
		t.Errorf("cancelled: %+v", cancelled)
	}

	list := shownTo[client.Blocks](t, r, asked{method: "GET", path: blocks}).Blocks
	all := shownTo[client.Blocks](t, r, asked{method: "GET", path: blocks + "?cancelled=true"}).Blocks
	if len(list) != 2 || len(all) != 3 || !all[2].Cancelled || all[2].By != "test mechanic" {
		t.Errorf("listed %+v, all %+v", list, all)
	}
	events, err := r.store.Events(t.Context(), r.club, 0, 100)
	var kinds []string
	for _, e := range events {
		if e.Subject == techlog.ID(b.Block.Id) {
			kinds = append(kinds, e.Kind)
		}
	}
	if err != nil || !slices.Equal(kinds, []string{"block.made", "block.changed", "block.changed", "block.cancelled"}) {
		t.Errorf("events %v, %v", kinds, err)
	}
	for what, body := range map[string]string{
		"after-from until": entry(2*time.Hour, 2*time.Hour), "future until": entry(-2*time.Hour, -time.Hour),
		"required words": `{"from": "2026-11-26T00:00:00Z", "kind": "away", "words": " "}`,
	} {
		got := r.ask(t, asked{method: "POST", path: blocks, body: body, token: mechanic})
		if faults := got.faults(t); got.status != http.StatusUnprocessableEntity || !slices.Equal(faults, []string{what}) {
			t.Errorf("%d %v, want %s", got.status, faults, what)
		}
	}
}

// TestFlightsAtTheSameTimeAreTold: nobody refuses them, as one may be called off yet.
func TestFlightsAtTheSameTimeAreTold(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	f := r.fleet(t)
	plan := func(in time.Duration) client.Flight {
		p := f.nightFlight()
		p.Departs, p.Arrives = noon.Add(in), noon.Add(in+time.Hour)
		return created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, p)})
	}
	first, second, after := plan(36*time.Hour), plan(36*time.Hour+30*time.Minute), plan(37*time.Hour)
	called := plan(36 * time.Hour)
	answerTo[client.Flight](t, r, asked{method: "POST", path: "/v1/flights/" + called.Id.String() + "/cancellation", header: ifMatch(1)}, http.StatusOK)
	for _, c := range []struct {
		of   client.Flight
		want []client.ID
	}{{first, []client.ID{second.Id}}, {second, []client.ID{first.Id, after.Id}}, {after, []client.ID{second.Id}}, {called, nil}} {
		var told []client.ID
		if got := shownTo[client.Flight](t, r, asked{method: "GET", path: "/v1/flights/" + c.of.Id.String()}); got.Overlaps != nil {
			told = *got.Overlaps
		}
		if !slices.Equal(told, c.want) {
			t.Errorf("at the same time are %v, want %v", told, c.want)
		}
	}
}

// TestThePilotWasShownIt: who was shown what, when, stays as it was; it lifts nothing.
func TestThePilotWasShownIt(t *testing.T) {
	t.Parallel()
	r := newRig(t)
	r.staff(t)
	f := r.fleet(t)
	flight := created[client.Flight](t, r, asked{method: "POST", path: "/v1/flights", body: marshal(t, f.nightFlight())})
	path := "/v1/flights/" + flight.Id.String() + "/shown"
	pilot := r.persons[techlog.Pilot]
	unheld := created[client.Shown](t, r, asked{method: "POST", path: path, body: `{}`, token: r.hands[techlog.Pilot]})
	if unheld.Person != client.ID(pilot) || unheld.Name != "test pilot" || unheld.By != "test pilot" || unheld.Holds || unheld.Verdict != "clear" || len(unheld.Legs) != 1 || !unheld.At.Equal(r.clock.now()) {
		t.Errorf("clear: %+v", unheld)
	}
	r.clock.advance(time.Minute)
	block := created[client.BlockedAircraft](t, r, asked{
		method: "POST", path: "/v1/aircraft/" + f.aircraft.Id.String() + "/blocks", body: `{"from": "2026-11-26T00:00:00Z", "kind": "away", "words": "At the paint shop."}`,
	})
	created[client.FiledSquawk](t, r, asked{
		method: "POST", path: "/v1/aircraft/" + f.aircraft.Id.String() + "/squawks", body: `{"kind": "inoperative", "unit": "ldg", "words": "dark"}`,
	})
	held := created[client.Shown](t, r, asked{method: "POST", path: path, body: `{"person": "` + pilot.String() + `"}`, token: r.tokens[techlog.Scheduler]})
	cites := func(row client.HoldRow) bool { return row.Citation == "14 CFR 91.205(c)(4)" }
	if held.By != "test scheduler" || held.Name != "test pilot" || !held.Holds || held.Verdict != "grounded" || !slices.Equal(held.Blocks, []client.ID{block.Block.Id}) ||
		!slices.ContainsFunc(held.Legs[0].Rows, cites) || held.Legs[0].Summary == "" || held.FlightVersion != 1 {
		t.Errorf("held: %+v", held)
	}
	if h := shownTo[client.Flight](t, r, asked{method: "GET", path: "/v1/flights/" + flight.Id.String()}).Hold; !h.Holds {
		t.Errorf("it is held no more: %+v", h)
	}
	list := shownTo[client.ShownList](t, r, asked{method: "GET", path: path}).Shown
	if len(list) != 2 || marshal(t, list[0]) != marshal(t, unheld) || marshal(t, list[1]) != marshal(t, held) {
		t.Errorf("listed: %+v", list)
	}
	for what, q := range map[string]asked{
		"required person":     {body: `{}`, token: r.tokens[techlog.Scheduler]},
		"known-member person": {body: `{"person": "` + newID().String() + `"}`, token: r.tokens[techlog.Scheduler]},
	} {
		q.method, q.path = "POST", path
		got := r.ask(t, q)
		if faults := got.faults(t); got.status != http.StatusUnprocessableEntity || !slices.Equal(faults, []string{what}) {
			t.Errorf("%d %v, want %s", got.status, faults, what)
		}
	}
}
