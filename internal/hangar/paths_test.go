package hangar_test

import (
	"errors"
	"strings"
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestByTheTextOfTheRuleAPilotDefersAlone: where no maintenance is involved and the operator goes by the text of the rule,
// the determination is enough; where it is, or nobody says, it is not.
func TestByTheTextOfTheRuleAPilotDefersAlone(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	pilot := c.enroll("pilot", pilotOf("private", "airplane single-engine-land"))
	s := c.squawk("inoperative", "landing-light", "").Squawk
	c.confirm(s.ID)
	alone := actsOn(nil, techlog.ID{})["defer"]
	alone.InvolvesMaintenance = new(false)
	refused(t, c.preview(pilot, s.ID, alone), "act.method", "signed-entry")
	c.must(c.service.ChangeCompanyRules(t.Context(), c.who, techlog.CompanyRules{Policy: casefile.Policy{Deactivation: "rule-text"}}, nil, keep(&techlog.CompanyRules{})))
	for _, involves := range []*bool{nil, new(true)} {
		a := alone
		a.InvolvesMaintenance = involves
		refused(t, c.preview(pilot, s.ID, a), "act.method", "signed-entry")
	}
	signed := c.sign(pilot, s.ID, alone)
	flight := c.plan(24, nil)
	if d := signed.Squawk.Defect().Deferral; d == nil || d.InvolvesMaintenance == nil || *d.InvolvesMaintenance || flight.Answer().Verdict != "clear" {
		t.Errorf("the engine reads %+v, the flight is %s", d, flight.Answer().Verdict)
	}
}

// TestAMajorRepairTakesTheAuthorization, the approved data and the form.
func TestAMajorRepairTakesTheAuthorization(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	mechanic := c.enroll("mechanic", mechanicOf("airframe", "powerplant"))
	authorized := c.enroll("authorized", mechanicOf("airframe", "powerplant"), techlog.Certificate{Kind: techlog.InspectionAuthorization, Until: "2027-03-31"})
	s := c.squawk("condition", "", "wing-skin").Squawk
	c.confirm(s.ID)
	work := actsOn(nil, techlog.ID{})["work"]
	work.Work = "major-repair"
	c.sign(mechanic, s.ID, work)
	preview := func(m member, change func(*casefile.Act)) error {
		a := m.by(actsOn(nil, techlog.ID{})["return"])
		a.GroundTests = "rigging checked"
		change(&a)
		_, err := c.service.Preview(t.Context(), m.Principal, hangar.ToSign{Squawk: s.ID, Act: a})
		return err
	}
	whole := func(a *casefile.Act) { a.Form, a.Declared.ApprovedData = "repair form of 10 January 2027", new(true) }
	if got := kindOf(t, preview(mechanic, whole)); got != "no" {
		t.Errorf("without the authorization: %s", got)
	}
	if got := kindOf(t, preview(authorized, func(a *casefile.Act) { a.Form = "form" })); got != "no" {
		t.Errorf("without approved data: %s", got)
	}
	err := preview(authorized, func(a *casefile.Act) { a.Declared.ApprovedData = new(true) })
	if refused(t, err, "act", "entry"); err == nil || !strings.Contains(err.Error(), "43.9(d)") {
		t.Errorf("without the form: %v", err)
	}
	if err := preview(authorized, whole); err != nil {
		t.Errorf("whole: %v", err)
	}
	c.wait(90 * 24 * 60 * 60 * 1e9) // past 31 March
	if got := kindOf(t, preview(authorized, whole)); got != "no" {
		t.Errorf("after the authorization has run out: %s", got)
	}
}

// TestCertificatesThatSayNothingAreRefused names every fault of what is entered.
func TestCertificatesThatSayNothingAreRefused(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	good := mechanicOf("airframe")
	good.Person, good.Name, good.Number, good.From = newID(), "M. Chanic", "1", "2026-01-01"
	for _, tt := range []struct {
		field, rule string
		change      func(*techlog.Certificate)
	}{
		{"person", "required", func(k *techlog.Certificate) { k.Person = techlog.ID{} }},
		{"person", "member", func(*techlog.Certificate) {}},
		{"name", "required", func(k *techlog.Certificate) { k.Name = " " }},
		{"kind", "known-kind", func(k *techlog.Certificate) { k.Kind = "captain" }},
		{"number", "required", func(k *techlog.Certificate) { k.Number = "" }},
		{"ratings[0]", "known-rating", func(k *techlog.Certificate) { k.Ratings = []string{"wings"} }},
		{"ratings[1]", "known-rating", func(k *techlog.Certificate) { k.Ratings = []string{"airframe", "airframe"} }},
		{"trained[0]", "known-rating", func(k *techlog.Certificate) { k.Trained = []string{"glider"} }},
		{"grade", "pilot-only", func(k *techlog.Certificate) { k.Grade = "private" }},
		{"grade", "known-grade", func(k *techlog.Certificate) { k.Kind, k.Grade = techlog.PilotCertificate, "captain" }},
		{"valid_from", "date", func(k *techlog.Certificate) { k.From = "1 May" }},
		{"valid_until", "date", func(k *techlog.Certificate) { k.Until = "never" }},
		{"valid_until", "after-from", func(k *techlog.Certificate) { k.Until = "2025-12-31" }},
		{"valid_until", "required", func(k *techlog.Certificate) { k.Kind, k.Ratings = techlog.InspectionAuthorization, nil }},
		{"recent_from", "date", func(k *techlog.Certificate) { k.RecentFrom = "" }},
		{"recent_until", "after-from", func(k *techlog.Certificate) { k.RecentUntil = "2026-11-30" }},
		{"recent_until", "within-18-months", func(k *techlog.Certificate) { k.RecentUntil = "2028-06-02" }},
		{"recent_from", "mechanic-only", func(k *techlog.Certificate) { k.Kind, k.Grade, k.Ratings = techlog.PilotCertificate, "sport", nil }},
	} {
		k := good
		tt.change(&k)
		_, err := c.service.KeepCertificate(t.Context(), c.who, k, nil, keep(&k))
		refused(t, err, tt.field, tt.rule)
	}
	for _, tt := range []struct {
		field, rule string
		change      func(*techlog.Standing)
	}{
		{"kind", "known-kind", func(s *techlog.Standing) { s.Kind = "admires" }},
		{"person", "member", func(*techlog.Standing) {}},
		{"aircraft", "required", func(s *techlog.Standing) { s.Kind = techlog.Owns }},
		{"valid_until", "after-from", func(s *techlog.Standing) { s.Until = "2025-12-31" }},
	} {
		s := techlog.Standing{Person: newID(), Name: "M. Chanic", Kind: techlog.Flies, From: "2026-01-01"}
		tt.change(&s)
		_, err := c.service.KeepStanding(t.Context(), c.who, s, nil, keep(&s))
		refused(t, err, tt.field, tt.rule)
	}
	if all, err := c.service.Certificates(t.Context(), c.who, techlog.ID{}, hangar.Page{Limit: 9}); err != nil || len(all) > 0 {
		t.Errorf("%d certificates, %v: something was written", len(all), err)
	}
}

// TestActsThatSayTooMuchOrTooLittleAreRefused: every field of an action is asked for, and no other is taken.
func TestActsThatSayTooMuchOrTooLittleAreRefused(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		of, field, rule string
		change          func(*casefile.Act)
	}{
		{"defer", "act.action", "known-action", func(a *casefile.Act) { a.Action = "bless" }},
		{"defer", "act.placard", "required", func(a *casefile.Act) { a.Placard = "" }},
		{"defer", "act.placard", "required", func(a *casefile.Act) { a.Placard = " \n" }},
		{"defer", "act.done", "of-this-action", func(a *casefile.Act) { a.Done = "something" }},
		{"defer", "act.method", "known-word", func(a *casefile.Act) { a.Method = "ignored" }},
		{"defer", "act.removed_on", "required", func(a *casefile.Act) { a.Method = "removed" }},
		{"defer", "act.removed_on", "removed-only", func(a *casefile.Act) { a.RemovedOn = "2027-01-01" }},
		{"defer", "act.discovered", "required", func(a *casefile.Act) { a.Basis = casefile.ByMEL }},
		{"work", "act.completed", "required", func(a *casefile.Act) { a.Completed = "" }},
		{"work", "act.completed", "date", func(a *casefile.Act) { a.Completed = "yesterday" }},
		{"work", "act.parts_awaited", "not-finished", func(a *casefile.Act) { a.PartsAwaited = []casefile.AwaitedPart{{Part: "lamp"}} }},
		{"work", "act.parts_used[0].part", "required", func(a *casefile.Act) { a.PartsUsed = []casefile.UsedPart{{}} }},
		{"work", "act.declared.part", "known-word", func(a *casefile.Act) { a.Declared = &casefile.Declared{Part: "soul"} }},
		{"work", "act.declared.paragraph", "range", func(a *casefile.Act) { a.Declared = &casefile.Declared{Paragraph: 32} }},
		{"annual", "act.total_time_hours", "range", func(a *casefile.Act) { a.TotalTimeHours = new(-1.0) }},
		{"out-of-use", "act.elt.make", "required", func(a *casefile.Act) { a.ELT = &casefile.RemovedELT{Model: "m", SerialNumber: "s", Reason: "r"} }},
	} {
		a := actsOn(nil, techlog.ID{})[tt.of]
		tt.change(&a)
		refused(t, a.Check(), tt.field, tt.rule)
	}
	for name, a := range actsOn(nil, techlog.ID{}) {
		if err := a.Check(); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
	var faults casefile.Faults
	if err := (&casefile.Act{Action: "defer"}).Check(); !errors.As(err, &faults) || len(faults) != 5 {
		t.Errorf("an empty deferral: %v, want its five fields asked for", err)
	}
}

// TestWhatAnInspectionEnters: its day, unless a newer one is on record, and hours only from today.
func TestWhatAnInspectionEnters(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	authorized := c.enroll("authorized", mechanicOf("airframe", "powerplant"), techlog.Certificate{Kind: techlog.InspectionAuthorization, Until: "2027-03-31"})
	station := c.enroll("station", techlog.Certificate{Kind: techlog.RepairStation, Ratings: []string{"airframe", "radio-class-3"}})
	acts := actsOn(nil, techlog.ID{})
	facts := func() casefile.Facts {
		a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
		if err != nil {
			t.Fatal(err)
		}
		return a.Facts
	}
	was := facts()
	on := func(kind, day string) casefile.Act {
		a := acts[kind]
		a.Completed = day
		return a
	}
	c.sign(authorized, techlog.ID{}, on("annual", "2026-01-01"))
	if f := facts(); f.AnnualInspected != was.AnnualInspected || *f.HoursSinceInspection != *was.HoursSinceInspection {
		t.Errorf("an older one: %+v", f)
	}
	c.sign(authorized, techlog.ID{}, on("annual", "2027-01-09"))
	if f := facts(); f.AnnualInspected != "2027-01-09" || f.HoursSinceInspection != nil {
		t.Errorf("that of yesterday: %+v", f)
	}
	not := on("annual", "2027-01-10")
	not.Airworthy, not.Words = new(false), "cracked bracket"
	c.sign(authorized, techlog.ID{}, not)
	c.sign(authorized, techlog.ID{}, acts["static-system-test"])
	if f := facts(); f.AnnualInspected != "2027-01-09" || f.AltimeterTested != was.AltimeterTested {
		t.Errorf("what was not approved, or not whole: %+v", f)
	}
	c.sign(authorized, techlog.ID{}, acts["hundred-hour"])
	c.sign(station, techlog.ID{}, acts["altimeter-and-static-test"])
	c.sign(station, techlog.ID{}, acts["transponder-test"])
	if f := facts(); *f.HoursSinceInspection != 0 || f.AltimeterTested != "2027-01-10" || f.TransponderTested != "2027-01-10" {
		t.Errorf("%+v", f)
	}
	a, err := c.service.Aircraft(t.Context(), c.who, c.aircraft)
	if err != nil || a.Version != 8 {
		t.Errorf("version %d after seven signatures, %v", a.Version, err)
	}
}

// TestADeterminationIsMadeAgainForTheSet: what comes in later was not considered, until somebody considers it.
func TestADeterminationIsMadeAgainForTheSet(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	mechanic := c.enroll("mechanic", mechanicOf("airframe"))
	flight := c.plan(24, nil).Flight.ID
	first := c.squawk("inoperative", "landing-light", "").Squawk
	c.confirm(first.ID)
	acts := actsOn(nil, techlog.ID{})
	c.sign(mechanic, first.ID, acts["out-of-use"])
	c.sign(mechanic, first.ID, acts["defer"])
	c.holds(flight, "clear")

	second := c.squawk("inoperative", "exhaust-gas-temperature", "").Squawk
	c.confirm(second.ID)
	acts = actsOn([]string{labelOf(1)}, techlog.ID{})
	c.sign(mechanic, second.ID, acts["out-of-use"])
	c.sign(mechanic, second.ID, acts["defer"])
	c.holds(flight, "defer-first")
	again := acts["carry-on"]
	again.Inspection = ""
	refused(t, c.preview(mechanic, first.ID, again), "act.considered", "every-open-squawk")
	again.Considered = []string{labelOf(2)}
	signed := c.sign(mechanic, first.ID, again)
	c.holds(flight, "clear")
	if d := signed.Squawk.Deferral; d.Method != "deactivated" || d.Entry != "log 1" || len(d.Considered) != 1 {
		t.Errorf("%+v", d)
	}
}
