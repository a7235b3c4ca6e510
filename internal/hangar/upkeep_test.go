package hangar_test

import (
	"slices"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

func (c *club) facts() casefile.Facts {
	c.t.Helper()
	a, err := c.service.Aircraft(c.t.Context(), c.who, c.aircraft)
	if err != nil {
		c.t.Fatal(err)
	}
	return a.Facts
}

// changeFacts enters facts by hand.
func (c *club) changeFacts(change func(*casefile.Facts)) {
	c.t.Helper()
	a, err := c.service.Aircraft(c.t.Context(), c.who, c.aircraft)
	if err != nil {
		c.t.Fatal(err)
	}
	change(&a.Facts)
	c.must(c.service.ChangeAircraft(c.t.Context(), c.who, hangar.AircraftChange{Aircraft: a.ID, Version: a.Version, Facts: &a.Facts}, nil, keep(&a)))
}

func upkeepItem(t *testing.T, f casefile.Facts, id string) casefile.UpkeepItem {
	t.Helper()
	i := slices.IndexFunc(f.Upkeep.Items, func(it casefile.UpkeepItem) bool { return it.ID == id })
	if i < 0 {
		t.Fatalf("no item %s", id)
	}
	return f.Upkeep.Items[i]
}

// inspectionOf is a whole act of today.
func inspectionOf(kind string, hours float64, items ...string) casefile.Act {
	return casefile.Act{
		Action: "inspect", Inspection: kind, Extent: "whole", Completed: "2027-01-10", TotalTimeHours: &hours, Airworthy: new(true), Items: items,
	}
}

// TestASignedInspectionReleasesWhatItDid: what an inspection that is signed names is done in the record of upkeep, at the newest
// reading, and the flights that it stopped go (14 CFR 39.7, 91.409(b); the organization's own rule).
func TestASignedInspectionReleasesWhatItDid(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	authorized := c.enroll("authorized", mechanicOf("airframe", "powerplant"), techlog.Certificate{Kind: techlog.InspectionAuthorization, Until: "2027-03-31"})
	flight := c.plan(30, lesson(1.5)).Flight.ID
	c.wait(time.Hour)
	c.enterMeters(hangar.MeterReading{TimeInService: new(4371.5), Because: "a sheet of paper turned up"})
	c.holds(flight, "grounded")
	c.sign(authorized, techlog.ID{}, inspectionOf("hundred-hour-inspection", 4371.5))
	c.holds(flight, "grounded") // the directive and the oil were not named
	signed := c.sign(authorized, techlog.ID{}, inspectionOf("hundred-hour-inspection", 4371.5, "oil-change", "fuel-selector"))
	c.holds(flight, "clear")
	f := c.facts()
	for _, id := range []string{"oil-change", "fuel-selector"} {
		done := upkeepItem(t, f, id).Done
		if last := done[len(done)-1]; len(done) != 2 || last.On != "2027-01-10" || last.Hours == nil || *last.Hours != 4371.5 {
			t.Errorf("%s: %+v", id, done)
		}
	}
	if i := c.dueItem("oil-change"); i.Left.Hours == nil || *i.Left.Hours != 50 || len(i.Holds) != 0 {
		t.Errorf("%+v", i)
	}
	act, err := techlog.ActOf(signed.Signature.Text)
	if err != nil || !slices.Equal(act.Items, []string{"fuel-selector", "oil-change"}) {
		t.Errorf("signed was %+v, %v", act.Items, err)
	}
	if a, _ := c.service.Aircraft(t.Context(), c.who, c.aircraft); a.Version != 3 {
		t.Errorf("version %d after two signatures", a.Version)
	}
}

// TestWhatAnInspectionMayComplete: an inspection completes what its signer may approve, and nothing else.
func TestWhatAnInspectionMayComplete(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	authorized := c.enroll("authorized", mechanicOf("airframe", "powerplant"), techlog.Certificate{Kind: techlog.InspectionAuthorization, Until: "2027-03-31"})
	c.changeFacts(func(f *casefile.Facts) {
		u := *f.Upkeep
		u.Items = append(slices.Clone(u.Items),
			casefile.UpkeepItem{ID: "phase-2", Kind: "program", What: "phase 2", Every: &casefile.Every{Hours: 50}, Done: []casefile.WorkDone{{On: "2026-11-20", Hours: new(4270.9)}}},
			casefile.UpkeepItem{ID: "hose", Kind: "directive", What: "the hose", Citation: "directive 2 (invented)", Ended: true})
		f.Upkeep = &u
	})
	not := inspectionOf("annual-inspection", 4312.4, "oil-change")
	not.Airworthy, not.Words = new(false), "cracked bracket"
	older := inspectionOf("annual-inspection", 4270, "oil-change")
	older.Completed = "2026-11-19"
	whole := inspectionOf("annual-inspection", 4312.4)
	whole.WholeAircraft = new(true)
	for what, try := range map[string]struct {
		act         casefile.Act
		field, rule string
	}{
		"a life limit asks for a replacement":      {inspectionOf("annual-inspection", 4312.4, "fuel-hoses"), "act.items[0]", "of-this-inspection"},
		"a schedule is a program's":                {inspectionOf("annual-inspection", 4312.4, "phase-2"), "act.items[0]", "of-this-inspection"},
		"a directive is no part of a test":         {inspectionOf("static-system-test", 4312.4, "fuel-selector"), "act.items[0]", "of-this-inspection"},
		"an item that there is not":                {inspectionOf("annual-inspection", 4312.4, "fuel-selector", "wings"), "act.items[1]", "known-item"},
		"an item twice":                            {inspectionOf("annual-inspection", 4312.4, "oil-change", "oil-change"), "act.items[1]", "unique"},
		"nothing asks for it any more":             {inspectionOf("annual-inspection", 4312.4, "hose"), "act.items[0]", "open-item"},
		"it was done since":                        {older, "act.items[0]", "newest"},
		"what was not approved completes nothing":  {not, "act.airworthy", "of-an-approval"},
		"only a program has all of the aircraft":   {whole, "act.whole_aircraft", "progressive"},
		"the aircraft is not inspected by program": {inspectionOf("progressive-inspection", 4312.4), "act.inspection", "on-a-program"},
	} {
		if what == "the aircraft is not inspected by program" {
			try.act.WholeAircraft = new(false)
		}
		if what == "a directive is no part of a test" {
			try.act.TotalTimeHours, try.act.Airworthy = nil, nil
		}
		t.Run(what, func(t *testing.T) {
			refused(t, c.preview(authorized, techlog.ID{}, try.act), try.field, try.rule)
		})
	}
}

// TestAProgressiveInspectionMovesItsProgram: a phase that came late counts from when it was due (14 CFR 91.409(d)), and one with
// which the whole aircraft is complete serves for 12 calendar months.
func TestAProgressiveInspectionMovesItsProgram(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	authorized := c.enroll("authorized", mechanicOf("airframe", "powerplant"), techlog.Certificate{Kind: techlog.InspectionAuthorization, Until: "2027-03-31"})
	mechanic := c.enroll("mechanic", mechanicOf("airframe", "powerplant"))
	c.changeFacts(func(f *casefile.Facts) {
		f.AnnualInspected, f.Progressive, f.ProgressiveComplete = "2024-05-01", new(true), "2025-12-20"
		u := *f.Upkeep
		u.Items = append(slices.Clone(u.Items), casefile.UpkeepItem{
			ID: "phase-2", Kind: "program", What: "phase 2", Every: &casefile.Every{Hours: 40}, Done: []casefile.WorkDone{{On: "2026-11-20", Hours: new(4270.9)}},
		})
		f.Upkeep = &u
	})
	flight := c.plan(30, nil).Flight.ID
	c.holds(flight, "grounded")
	act := inspectionOf("progressive-inspection", 4312.4, "phase-2")
	act.WholeAircraft = new(true)
	c.kind(c.preview(mechanic, techlog.ID{}, act), techlog.KindForbidden) // 65.95(a)(2)
	c.sign(authorized, techlog.ID{}, act)
	c.holds(flight, "clear")
	f := c.facts()
	phase := upkeepItem(t, f, "phase-2")
	last := phase.Done[len(phase.Done)-1]
	if f.ProgressiveComplete != "2027-01-10" || *f.HoursSinceInspection != 0 || last.OverflownHours == nil || *last.OverflownHours != 1.5 {
		t.Errorf("%s, %+v", f.ProgressiveComplete, last)
	}
	if i := c.dueItem("phase-2"); i.Due.Hours == nil || *i.Due.Hours != 4350.9 {
		t.Errorf("the next one is due %+v", i.Due)
	}
	for _, id := range []string{"annual", "hundred-hour"} {
		l, err := c.service.Due(t.Context(), c.who, c.aircraft)
		if err != nil || slices.ContainsFunc(l.Items, func(i casefile.DueItem) bool { return i.ID == id }) {
			t.Errorf("%s is asked for, %v", id, err)
		}
	}
}

// TestTheInspectionOfTheELT is signed as maintenance, and releases flights (14 CFR 91.207(d)).
func TestTheInspectionOfTheELT(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	mechanic, pilot := c.enroll("mechanic", mechanicOf("airframe")), c.enroll("pilot", pilotOf("private", "airplane single-engine-land"))
	c.changeFacts(func(f *casefile.Facts) { f.ELTInspected = "2025-12-31" })
	flight := c.plan(30, nil).Flight.ID
	c.holds(flight, "grounded")
	act := casefile.Act{Action: "inspect", Inspection: "elt-inspection", Extent: "mounting, battery, controls, signal", Completed: "2027-01-10"}
	c.kind(c.preview(pilot, techlog.ID{}, act), techlog.KindForbidden)
	c.sign(mechanic, techlog.ID{}, act)
	c.holds(flight, "clear")
	if f := c.facts(); f.ELTInspected != "2027-01-10" {
		t.Errorf("inspected %s", f.ELTInspected)
	}
}
