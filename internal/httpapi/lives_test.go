package httpapi_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
	"tiedown/internal/testrig/printed"
)

// The acts of the stories. Each is whole; a story changes what it is about.

var inAMonth = noon.AddDate(0, 1, 0)

func outOfUse(method string) casefile.Act {
	a := casefile.Act{
		Action: "out-of-use", Method: method, Placard: "Inoperative", Entry: "airframe log 12",
		Done: "Breaker pulled and collared, lamp circuit isolated.", Completed: "2026-11-25",
	}
	if method == "removed" {
		a.RemovedOn = "2026-11-25"
	}
	return a
}

func deferring(considered ...string) casefile.Act {
	return casefile.Act{
		Action: "defer", Basis: "without-mel", Method: "deactivated", Placard: "Inoperative", Entry: "airframe log 12", Until: &inAMonth,
		Considered: considered,
	}
}

func repaired() casefile.Act {
	return casefile.Act{
		Action: "work", Work: "replace", Result: "repaired", Found: "Filament open.", Done: "Lamp replaced, ground check good.",
		Data: "maintenance manual 33-40", Completed: "2026-11-25", PartsUsed: []casefile.UsedPart{{Part: "lamp", Number: "L-0"}},
	}
}

func returning() casefile.Act {
	return casefile.Act{
		Action: "return-to-service", Done: "Lamp replaced, ground check good.", Completed: "2026-11-25", CheckFlightRequired: new(false),
	}
}

const dark = `{"kind": "inoperative", "unit": "beacon", "words": "beacon is dark"}`

// TestALifeFromReportToReturn: a pilot defers with the determination of a rated person, a mechanic repairs and returns.
func TestALifeFromReportToReturn(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	flight := created[client.Flight](t, c.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, c.nightFlight())})
	light := `{"kind": "inoperative", "unit": "ldg", "words": "landing light dark"}`

	s := c.report(t, light)
	c.refused(t, "before it is confirmed", c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(outOfUse("deactivated"))), 409, "conflict")
	c.refused(t, "a pilot confirms", c.move(t, techlog.Pilot, s, client.SquawkMove{Step: "confirm", Words: "Seen."}), 403, "forbidden")
	got := c.move(t, techlog.Mechanic, s, client.SquawkMove{Step: "confirm", Words: "Seen."})
	s = decoded[client.FiledSquawk](t, got, http.StatusOK).Squawk

	c.refused(t, "deferred before it is out of use", c.trySign(t, techlog.Pilot, at(s), c.byPilot(deferring())), 422, "invalid")
	refusal := c.show(t, techlog.Pilot, at(s), c.byPilot(outOfUse("deactivated")))
	c.refused(t, "a pilot deactivates under the strict policy", refusal, 403, "forbidden")
	if rows := refusal.problem(t).Rows; rows == nil || (*rows)[0].Citation == "" || (*rows)[0].Words == "" {
		t.Errorf("the refusal cites nothing: %s", refusal.body)
	}
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(outOfUse("deactivated"))).Squawk
	if v := c.verdict(t, flight.Id); v != "grounded" && v != "defer-first" {
		t.Errorf("before the deferral the flight is %s", v)
	}

	c.refused(t, "the scheduler determines", c.trySign(t, techlog.Scheduler, at(s), c.byPilot(deferring())), 403, "forbidden")
	signed := c.sign(t, techlog.Pilot, s, c.byPilot(deferring()))
	s = *signed.Squawk
	d := s.Deferral
	if s.State != "deferred" || d == nil || d.Signature == nil || *d.Signature != signed.Signature.Id ||
		!strings.Contains(d.DeterminedBy, "pilot certificate P-0000001") || signed.Signature.CertificateNumber != "P-0000001" {
		t.Fatalf("deferred: %+v, signed %+v", s, signed.Signature)
	}
	if v := c.verdict(t, flight.Id); v != "grounded" { // for hire at night the light is required
		t.Errorf("the flight at night for hire is %s", v)
	}
	papers := c.ask(t, asked{method: "GET", path: "/v1/aircraft/" + c.aircraft.Id.String() + "/deferred-items"})
	if !strings.Contains(string(papers.body), "P-0000001") {
		t.Errorf("the list in the aircraft does not name who signed: %s", papers.body)
	}
	list := c.ask(t, asked{method: "GET", path: "/v1/aircraft/" + c.aircraft.Id.String() + "/deferred-items?format=pdf"})
	says(t, printed.Open(t, list.body), "P-0000001", "airframe log 12", "Inoperative")
	placard := c.ask(t, asked{method: "GET", path: at(s) + "/placard"})
	says(t, printed.Open(t, placard.body), "INOPERATIVE", "N0TRN")

	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(repaired())).Squawk
	if s.State != "deferred" || s.Result == nil || *s.Result != "repaired" {
		t.Fatalf("worked on: %+v", s)
	}
	c.refused(t, "a pilot approves the mechanic's work", c.trySign(t, techlog.Pilot, at(s), c.byPilot(returning())), 403, "forbidden")
	signed = c.sign(t, techlog.Mechanic, s, c.byMechanic(returning()))
	if signed.Squawk.State != "closed" || len(signed.Changes) != 1 || signed.Changes[0].Is != "clear" {
		t.Errorf("returned: %+v", signed)
	}
	if v := c.verdict(t, flight.Id); v != "clear" {
		t.Errorf("after the return the flight is %s", v)
	}
	story := c.story(t, s)
	var steps []string
	for _, e := range story.History {
		steps = append(steps, string(e.Step))
	}
	if got := strings.Join(steps, " "); got != "report confirm out-of-use defer work return-to-service" || len(story.Signatures) != 4 {
		t.Errorf("the story: %s, %d signatures", got, len(story.Signatures))
	}
}

// TestALifeOfACondition: found within limits by the mechanic, who signs it and the return.
func TestALifeOfACondition(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	flight := created[client.Flight](t, c.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, c.nightFlight())})
	s := c.confirmed(t, `{"kind": "condition", "item": "tire", "words": "left tire worn"}`)
	c.refused(t, "a condition is deferred", c.trySign(t, techlog.Pilot, at(s), c.byPilot(deferring())), 409, "conflict")
	found := casefile.Act{
		Action: "work", Work: "within-limits", Result: "within-limits", Found: "Tread 2 mm, limit 1 mm.", Data: "maintenance manual 32-40",
		Done: "Measured.", Completed: "2026-11-25",
	}
	c.refused(t, "a pilot inspects", c.trySign(t, techlog.Pilot, at(s), c.byPilot(found)), 403, "forbidden")
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(found)).Squawk
	if v := c.verdict(t, flight.Id); v != "grounded" {
		t.Errorf("without the approval the flight is %s", v)
	}
	lacking := returning()
	lacking.Done = ""
	if got := c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(lacking)); got.status != 422 || !strings.Contains(string(got.body), "43.9(a)(1)") {
		t.Errorf("an entry without a description: %d %s", got.status, got.body)
	}
	signed := c.sign(t, techlog.Mechanic, s, c.byMechanic(returning()))
	if signed.Squawk.State != "closed" || c.verdict(t, flight.Id) != "clear" {
		t.Errorf("%+v", signed.Squawk)
	}
}

// TestALifeThatComesToNothing: what could not be reproduced is a signed entry all the same; then the thing comes back.
func TestALifeThatComesToNothing(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	s := c.confirmed(t, dark)
	waiting := casefile.Act{
		Action: "work", Work: "replace", Found: "Lamp intermittent.",
		PartsAwaited: []casefile.AwaitedPart{{Part: "lamp", Expected: "2026-12-02"}},
	}
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(waiting)).Squawk
	if s.PartsAwaited == nil || (*s.PartsAwaited)[0].Expected != "2026-12-02" {
		t.Errorf("waiting: %+v", s)
	}
	c.refused(t, "returned before it is finished", c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(returning())), 409, "conflict")
	none := repaired()
	none.Work, none.Result, none.Found, none.PartsUsed = "within-limits", "could-not-reproduce", "Works in every position of the switch.", nil
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(none)).Squawk
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(returning())).Squawk
	if s.State != "closed" || s.Result == nil || *s.Result != "could-not-reproduce" {
		t.Errorf("%+v", s)
	}
	back := decoded[client.FiledSquawk](t, c.move(t, techlog.Pilot, s, client.SquawkMove{Step: "reopen", Words: "Dark again."}), 200).Squawk
	if back.State != "reported" || back.Work != nil || back.Approved != nil {
		t.Errorf("reopened: %+v", back)
	}
	c.refused(t, "returned by the old work", c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(returning())), 409, "conflict")
}

// TestADuplicateHidesNothing: only what says the same of the same may close for another.
func TestADuplicateHidesNothing(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	first, second := c.report(t, dark), c.report(t, dark)
	other := c.report(t, `{"kind": "condition", "unit": "beacon", "words": "lens cracked"}`)
	dup := func(s client.Squawk, of client.ID) answered {
		return c.move(t, techlog.MaintenanceControl, s, client.SquawkMove{Step: "duplicate", Words: "Said twice.", Of: &of})
	}
	c.refused(t, "of itself", dup(second, second.Id), 422, "invalid")
	c.refused(t, "of something else", dup(other, first.Id), 409, "conflict")
	closed := decoded[client.FiledSquawk](t, dup(second, first.Id), 200).Squawk
	if closed.State != "closed" || closed.DuplicateOf == nil || *closed.DuplicateOf != first.Id {
		t.Errorf("%+v", closed)
	}
	c.refused(t, "of a closed one", dup(first, second.Id), 422, "invalid")
}

// TestAnELTThatIsTakenOut: its own placard, the entry of 91.207(f)(10), and 90 days from the initial removal.
func TestAnELTThatIsTakenOut(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	s := c.confirmed(t, `{"kind": "inoperative", "unit": "elt", "words": "fails its self-test"}`)
	out := outOfUse("removed")
	if got := c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(out)); strings.Join(got.faults(t), ", ") != "required act.elt, elt-words act.placard" {
		t.Errorf("%d %s", got.status, got.body)
	}
	out.Placard, out.ELT = "ELT not installed.", &casefile.RemovedELT{Make: "Wren", Model: "W1", SerialNumber: "0007", Reason: "repair"}
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(out)).Squawk
	late := time.Date(2027, 2, 24, 5, 0, 0, 1000, time.UTC) // 90 days end with 23 February in New York
	a := deferring()
	a.Method, a.Placard, a.RemovedOn, a.Until = "removed", "ELT not installed.", "2026-11-25", &late
	if got := c.trySign(t, techlog.Pilot, at(s), c.byPilot(a)); got.status != 422 || !strings.Contains(string(got.body), "91.207(f)(10)") {
		t.Errorf("a microsecond too late: %d %s", got.status, got.body)
	}
	last := late.Add(-time.Microsecond)
	a.Until = &last
	s = *c.sign(t, techlog.Pilot, s, c.byPilot(a)).Squawk
	if s.State != "deferred" || !s.Deferral.Until.Equal(last) || *s.Deferral.RemovedOn != "2026-11-25" {
		t.Errorf("%+v", s.Deferral)
	}
}

// TestAPilotWhoOperatesMaintains: the holder of a private certificate replaces a bulb of the listed lights and approves it,
// and nothing that is not listed (43.3(g), 43.7(f), appendix A(c)(17)).
func TestAPilotWhoOperatesMaintains(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	bulb := repaired()
	bulb.Work = "preventive-maintenance"
	bulb.Declared = &casefile.Declared{Paragraph: 17, WithinLimits: new(true), Complex: new(false), DidWork: new(true)}
	s := c.confirmed(t, `{"kind": "inoperative", "unit": "nav-left", "words": "left position light dark"}`)
	c.refused(t, "who rents it", c.trySign(t, techlog.Pilot, at(s), c.byPilot(bulb)), 403, "forbidden")
	c.standing(t, techlog.Pilot, client.StandingEntry{Kind: "operates", Aircraft: &c.aircraft.Id, ValidFrom: "2026-01-01"})
	c.refused(t, "of use under other parts nothing is known", c.trySign(t, techlog.Pilot, at(s), c.byPilot(bulb)), 403, "forbidden")
	known := c.aircraft.Facts
	known.AirCarrierUse = new(false)
	got := c.ask(t, asked{method: "PATCH", path: c.path(), body: marshal(t, map[string]any{"facts": known}), header: ifMatch(1)})
	decoded[client.Aircraft](t, got, http.StatusOK)

	s = *c.sign(t, techlog.Pilot, s, c.byPilot(bulb)).Squawk
	back := returning()
	back.Declared = bulb.Declared
	signed := c.sign(t, techlog.Pilot, s, c.byPilot(back))
	if signed.Squawk.State != "closed" || signed.Signature.CertificateKind != "pilot" {
		t.Errorf("%+v", signed.Squawk)
	}
	listed := false
	for _, row := range signed.Signature.Authority {
		listed = listed || row.Row == "pm-17"
	}
	if !listed {
		t.Errorf("the signature does not rest on the listed paragraph: %+v", signed.Signature.Authority)
	}

	other := c.confirmed(t, dark) // a beacon is not among the lights that are listed
	refusal := c.trySign(t, techlog.Pilot, at(other), c.byPilot(bulb))
	c.refused(t, "what is not listed", refusal, 403, "forbidden")
	if !strings.Contains(string(refusal.body), "preventive-listed-only") {
		t.Errorf("%s", refusal.body)
	}
}
