package httpapi_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"tiedown/api/client"
	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

func annual() casefile.Act {
	return casefile.Act{
		Action: "inspect", Inspection: "annual-inspection", Extent: "43 appendix D, whole aircraft.", Completed: "2026-11-25",
		TotalTimeHours: new(4321.5), Airworthy: new(true),
	}
}

func (c *crew) path() string { return "/v1/aircraft/" + c.aircraft.Id.String() }

// TestAnAnnualInspectionDisposesOfWhatWasDeferred: nothing is carried on in silence (14 CFR 91.405(c)).
func TestAnAnnualInspectionDisposesOfWhatWasDeferred(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	s := c.confirmed(t, dark)
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(outOfUse("deactivated"))).Squawk
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(deferring())).Squawk
	c.clock.advance(24 * time.Hour)

	inspection := annual()
	inspection.Completed = "2026-11-26"
	got := c.trySign(t, techlog.Mechanic, c.path(), c.byMechanic(inspection))
	if got.status != 422 || !strings.Contains(string(got.body), "squawk 00001 was left inoperative") {
		t.Fatalf("in silence: %d %s", got.status, got.body)
	}
	soon := noon.AddDate(0, 0, 20)
	again := casefile.Act{Action: "carry-on", Until: &soon, Found: "Looked at, though not at the inspection."}
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(again)).Squawk
	if got := c.trySign(t, techlog.Mechanic, c.path(), c.byMechanic(inspection)); strings.Join(got.faults(t), "") != "disposes-of-deferred act.inspection" {
		t.Errorf("by a determination that names no inspection: %d %s", got.status, got.body)
	}
	end := time.Date(2027, 11, 30, 12, 0, 0, 0, time.UTC)
	on := casefile.Act{Action: "carry-on", Until: &end, Found: "Still isolated and placarded; no hazard.", Inspection: "annual-inspection"}
	signed := c.sign(t, techlog.Mechanic, s, c.byMechanic(on))
	if d := signed.Squawk.Deferral; !d.Until.Equal(end) || *d.Signature != signed.Signature.Id || d.Placard != "Inoperative" {
		t.Errorf("carried on: %+v", d)
	}
	c.refused(t, "a pilot inspects", c.trySign(t, techlog.Pilot, c.path(), c.byPilot(inspection)), 403, "forbidden")
	lacking := inspection
	lacking.TotalTimeHours = nil
	if got := c.trySign(t, techlog.Mechanic, c.path(), c.byMechanic(lacking)); got.status != 422 || !strings.Contains(string(got.body), "43.11(a)(2)") {
		t.Errorf("without total time: %d %s", got.status, got.body)
	}
	record := decoded[client.SignedRecord](t, c.trySign(t, techlog.Mechanic, c.path(), c.byMechanic(inspection)), 201)
	if record.AircraftVersion == nil || *record.AircraftVersion != 2 || record.Squawk != nil {
		t.Errorf("%+v", record)
	}
	a := decoded[client.Aircraft](t, c.ask(t, asked{method: "GET", path: c.path()}), 200)
	if a.Facts.AnnualInspected != "2026-11-26" || *a.Facts.HoursSinceInspection != 0 {
		t.Errorf("the aircraft: %+v", a.Facts)
	}
	list := decoded[client.Signatures](t, c.ask(t, asked{method: "GET", path: c.path() + "/signatures"}), 200)
	if len(list.Signatures) != 1 || list.Signatures[0].Id != record.Signature.Id {
		t.Errorf("listed: %+v", list)
	}
}

// TestWithoutTheAuthorizationNoAnnual: a mechanic without it inspects by 100 hours only, and what lapsed is gone.
func TestWithoutTheAuthorizationNoAnnual(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	ended := client.CertificateEntry{
		Person: client.ID(c.persons[techlog.Mechanic]), Name: "test mechanic", Kind: "inspection-authorization", Number: "M-0000002",
		ValidFrom: "2025-04-01", ValidUntil: new("2027-03-31"), Ended: new(true),
	}
	q := asked{
		method: "PUT", path: "/v1/certificates/" + c.authorization.String(), body: marshal(t, ended), header: ifMatch(1),
		token: c.hands[techlog.MaintenanceControl],
	}
	decoded[client.HeldCertificate](t, c.ask(t, q), http.StatusOK)
	c.refused(t, "annual", c.trySign(t, techlog.Mechanic, c.path(), c.byMechanic(annual())), 403, "forbidden")
	hundred := annual()
	hundred.Inspection = "hundred-hour-inspection"
	act := c.byMechanic(hundred)
	act.Declared.Part = "whole"
	decoded[client.SignedRecord](t, c.trySign(t, techlog.Mechanic, c.path(), act), 201)
	transponder := casefile.Act{Action: "inspect", Inspection: "transponder-test", Extent: "43 appendix F.", Completed: "2026-11-25"}
	c.refused(t, "a mechanic tests the transponder", c.trySign(t, techlog.Mechanic, c.path(), c.byMechanic(transponder)), 403, "forbidden")

	q.header = ifMatch(2)
	c.refused(t, "an ended certificate is followed", c.ask(t, q), 409, "conflict")
}

// TestACertificateThatLapsesBetweenPageAndClick is refused, at midnight of the aircraft's base and not of the server.
func TestACertificateThatLapsesBetweenPageAndClick(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	last := client.CertificateEntry{Kind: "pilot", Number: "P-0000009", Grade: new("private"), Ratings: &[]string{"airplane single-engine-land"}, ValidFrom: "2026-11-26", ValidUntil: new("2026-11-26")}
	id := c.certificate(t, techlog.Pilot, last)
	s := c.confirmed(t, dark)
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(outOfUse("deactivated"))).Squawk
	act := deferring()
	act.Certificate = id.String()

	midnight := time.Date(2026, 11, 26, 5, 0, 0, 0, time.UTC) // in New York; in UTC the 26th is five hours old
	c.clock.advance(midnight.Add(-time.Microsecond).Sub(noon))
	c.refused(t, "a microsecond before its first day", c.show(t, techlog.Pilot, at(s), act), 403, "forbidden")
	c.clock.advance(time.Microsecond)
	decoded[client.ShownRecord](t, c.show(t, techlog.Pilot, at(s), act), 200)

	c.clock.advance(24*time.Hour - time.Microsecond) // the last microsecond of its last day
	shown := decoded[client.ShownRecord](t, c.show(t, techlog.Pilot, at(s), act), 200)
	q := c.request(t, techlog.Pilot, at(s), shown, act)
	c.clock.advance(time.Microsecond)
	before := c.prover.Asked()
	c.refused(t, "after midnight", c.ask(t, q), 403, "forbidden")
	if c.prover.Asked() != before {
		t.Error("a proof was spent on what was refused")
	}
	if got := c.story(t, s); got.Squawk.State != "reported" || len(got.Signatures) != 1 {
		t.Errorf("something was written: %+v", got)
	}
}

// TestACorrectionIsANewEntry: the old one stays as it was, and the new one names it.
func TestACorrectionIsANewEntry(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	s := c.confirmed(t, dark)
	work := c.sign(t, techlog.Mechanic, s, c.byMechanic(repaired()))
	wrong := work.Signature.Id.String()
	right := casefile.Act{Action: "correct", Corrects: wrong, Words: "The part number of the lamp is L-1."}
	c.refused(t, "a pilot corrects a mechanic's entry", c.trySign(t, techlog.Pilot, at(s), c.byPilot(right)), 403, "forbidden")
	corrected := c.sign(t, techlog.Mechanic, *work.Squawk, c.byMechanic(right))
	if corrected.Signature.Corrects == nil || corrected.Signature.Corrects.String() != wrong {
		t.Errorf("%+v", corrected.Signature)
	}
	again := right
	again.Corrects = corrected.Signature.Id.String()
	c.refused(t, "a correction is corrected", c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(again)), 409, "conflict")
	again.Corrects = newID().String()
	c.refused(t, "nothing is corrected", c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(again)), 404, "not-found")
	story := c.story(t, s)
	if story.Signatures[0].Text != work.Signature.Text || story.Signatures[0].Digest != work.Signature.Digest || len(story.Signatures) != 2 {
		t.Errorf("%+v", story.Signatures)
	}
}

// TestACheckFlightIsFlownFirst: work on flight controls asks for it, and until it is flown nothing flies (91.407(b)).
func TestACheckFlightIsFlownFirst(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	flight := created[client.Flight](t, c.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, c.nightFlight())})
	s := c.confirmed(t, `{"kind": "condition", "item": "aileron-hinge", "words": "play in the left hinge"}`)
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(repaired())).Squawk
	if got := c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(returning())); strings.Join(got.faults(t), "") != "check-flight act.ground_tests" {
		t.Errorf("without check flight or tests: %d %s", got.status, got.body)
	}
	a := returning()
	a.CheckFlightRequired = new(true)
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(a)).Squawk
	if !s.AwaitsCheckFlight || s.State != "reported" || c.verdict(t, flight.Id) != "grounded" {
		t.Errorf("approved, not flown: %+v", s)
	}
	alone := c.nightFlight()
	alone.Facts.OnlyRequiredCrew, alone.Facts.Occupants, alone.Facts.Persons = true, new(1), new(1)
	check := created[client.Flight](t, c.rig, asked{method: "POST", path: "/v1/flights", body: marshal(t, alone)})
	if check.Hold.Verdict != "clear" {
		t.Errorf("the check flight itself is %s", check.Hold.Verdict)
	}
	flown := casefile.Act{Action: "check-flight", Done: "Controls free and correct, no roll-off at any speed.", Completed: "2026-11-25"}
	c.refused(t, "a mechanic flies", c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(flown)), 403, "forbidden")
	s = *c.sign(t, techlog.Pilot, s, c.byPilot(flown)).Squawk
	if s.State != "closed" || s.AwaitsCheckFlight || c.verdict(t, flight.Id) != "clear" {
		t.Errorf("flown: %+v", s)
	}
}

// TestAnMELDeferralWithItsExtension: the interval without the day of discovery, the procedure (M), one extension.
func TestAnMELDeferralWithItsExtension(t *testing.T) {
	t.Parallel()
	c := newRig(t).crew(t)
	c.standing(t, techlog.Mechanic, client.StandingEntry{Kind: "operates", ValidFrom: "2026-01-01"})
	entry := trainer(c.home.Id)
	entry.Registration, entry.Facts.MELAuthorized = "N0MEL", new(true)
	entry.Configuration.MEL = casefile.MEL{OnRecord: new(true), Document: "MEL 1", Authority: "certificate", Rows: []casefile.MELRow{
		{Item: "beacon", Installed: new(1), Required: new(0), Category: "B", OperationsProcedure: new(false), MaintenanceProcedure: new(true)},
		{Item: "elt", Installed: new(1), Required: new(0), Category: "D", OperationsProcedure: new(false), MaintenanceProcedure: new(false)},
	}}
	c.aircraft = created[client.Aircraft](t, c.rig, asked{method: "POST", path: "/v1/aircraft", body: marshal(t, entry)})
	s := c.confirmed(t, dark)

	out := outOfUse("deactivated")
	plain := deferring()
	plain.Basis, plain.Discovered = "mel", "2026-11-25"
	limit := time.Date(2026, 11, 29, 5, 0, 0, 0, time.UTC) // three days without that of discovery, to midnight in New York
	plain.Until = &limit
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(out)).Squawk
	if got := c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(plain)); strings.Join(got.faults(t), "") != "maintenance-procedure act.method" {
		t.Errorf("without the procedure: %d %s", got.status, got.body)
	}
	out.MaintenanceProcedure = new(true)
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(out)).Squawk
	late := limit.Add(time.Second)
	plain.Until = &late
	if got := c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(plain)); strings.Join(got.faults(t), "") != "limit act.until" {
		t.Errorf("a second too late: %d %s", got.status, got.body)
	}
	plain.Until = &limit
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(plain)).Squawk
	if d := s.Deferral; d.MaintenanceDone == nil || d.Discovered == nil || *d.Discovered != "2026-11-25" {
		t.Errorf("%+v", d)
	}
	longer := limit.AddDate(0, 0, 3)
	extend := casefile.Act{Action: "extend", Until: &longer, ExtendedUntil: "2026-12-01", Data: "MEL program, record 7"}
	c.refused(t, "a pilot extends", c.trySign(t, techlog.Pilot, at(s), c.byPilot(extend)), 403, "forbidden")
	s = *c.sign(t, techlog.Mechanic, s, c.byMechanic(extend)).Squawk
	if d := s.Deferral; d.ExtendedUntil == nil || *d.ExtendedUntil != "2026-12-01" || !d.Until.Equal(longer) {
		t.Errorf("%+v", d)
	}
	c.refused(t, "twice", c.trySign(t, techlog.Mechanic, at(s), c.byMechanic(extend)), 409, "conflict")

	elt := c.confirmed(t, `{"kind": "inoperative", "unit": "elt", "words": "fails its self-test"}`)
	elt = *c.sign(t, techlog.Mechanic, elt, c.byMechanic(outOfUse("deactivated"))).Squawk
	elt = *c.sign(t, techlog.Mechanic, elt, c.byMechanic(plain)).Squawk
	if got := c.trySign(t, techlog.Mechanic, at(elt), c.byMechanic(extend)); got.status != 422 || !strings.Contains(string(got.body), "extendable") {
		t.Errorf("category D is extended: %d %s", got.status, got.body)
	}
}
