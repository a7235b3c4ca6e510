package hangar_test

import (
	"testing"

	"tiedown/internal/casefile"
	"tiedown/internal/hangar"
	"tiedown/internal/techlog"
)

// TestAVORCheckIsOneWithinTolerance: a check that is signed with kind, place and error (14 CFR 91.171(d)) serves where its
// error is within 91.171(b) or (c); one that is not is none, and the one before serves no longer.
func TestAVORCheckIsOneWithinTolerance(t *testing.T) {
	t.Parallel()
	for _, try := range []struct {
		kind   string
		errs   float64
		within bool
	}{
		{"test-signal", 4, true},
		{"test-signal", 4.1, false},
		{"ground-checkpoint", 4, true},
		{"ground-checkpoint", 4.5, false},
		{"airborne-checkpoint", 6, true},
		{"airborne-checkpoint", 6.1, false},
		{"airway-radial", 6, true},
		{"airway-radial", 7, false},
		{"dual-system", 4, true},
		{"dual-system", 5, false},
	} {
		t.Run(try.kind, func(t *testing.T) {
			t.Parallel()
			c := newClub(t)
			c.withProver()
			pilot := c.enroll("pilot", pilotOf("private", "airplane single-engine-land"))
			flight := c.plan(30, func(p *hangar.FlightPlan) { p.Rules, p.Facts.Navigation = "ifr", &[]string{"vor"} }).Flight.ID
			was := c.flight(flight).Hold.Verdict
			c.changeFacts(func(f *casefile.Facts) { f.VORChecked = "2026-12-01" })
			c.holds(flight, "grounded")
			act := casefile.Act{
				Action: "inspect", Inspection: "vor-check", Extent: "both receivers", Completed: "2027-01-10",
				VORCheck: &casefile.VORCheck{Kind: try.kind, Place: "Home field", ErrorDegrees: try.errs},
			}
			signed := c.sign(pilot, techlog.ID{}, act)
			if text, err := techlog.ActOf(signed.Signature.Text); err != nil || text.VORCheck == nil || *text.VORCheck != *act.VORCheck {
				t.Errorf("signed was %+v, %v", text.VORCheck, err)
			}
			if try.within {
				c.holds(flight, was)
				return
			}
			c.holds(flight, "undetermined")
			if f := c.facts(); f.VORChecked != "" {
				t.Errorf("checked %s", f.VORChecked)
			}
		})
	}
}

// TestAVORCheckSaysHowItWasMade: without kind, place and error it is no entry, and nothing else has them.
func TestAVORCheckSaysHowItWasMade(t *testing.T) {
	t.Parallel()
	c := newClub(t)
	c.withProver()
	pilot := c.enroll("pilot", pilotOf("private", "airplane single-engine-land"))
	act := casefile.Act{Action: "inspect", Inspection: "vor-check", Extent: "both receivers", Completed: "2027-01-10"}
	refused(t, c.preview(pilot, techlog.ID{}, act), "act.vor_check", "vor-check")
	act.VORCheck = &casefile.VORCheck{Kind: "by ear", ErrorDegrees: 1}
	refused(t, c.preview(pilot, techlog.ID{}, act), "act.vor_check.place", "required")
	act.VORCheck.Place = "Home field"
	refused(t, c.preview(pilot, techlog.ID{}, act), "act.vor_check.kind", "known-check")
	act.VORCheck = &casefile.VORCheck{Kind: "dual-system", Place: "Home field", ErrorDegrees: -1}
	refused(t, c.preview(pilot, techlog.ID{}, act), "act.vor_check.error_degrees", "range")
	other := inspectionOf("transponder-test", 4312.4)
	other.VORCheck, other.TotalTimeHours, other.Airworthy = &casefile.VORCheck{Kind: "dual-system", Place: "Home field"}, nil, nil
	refused(t, c.preview(pilot, techlog.ID{}, other), "act.vor_check", "vor-check")
}
