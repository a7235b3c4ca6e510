package techlog_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tiedown/internal/casefile"
	"tiedown/internal/techlog"
)

// lifeOf is the life of a squawk, written down once more: what each step makes of a squawk in each state.
const lifeOf = `
	step               none      reported  deferred  closed
	report             reported  -         -         -
	note               -         reported  deferred  closed
	confirm            -         reported  -         -
	duplicate          -         closed    -         -
	expect             -         reported  deferred  -
	out-of-use         -         reported  -         -
	defer              -         deferred  -         -
	extend             -         -         deferred  -
	carry-on           -         -         deferred  -
	work               -         reported  deferred  -
	return-to-service  -         closed    closed    -
	check-flight       -         closed    -         -
	correct            -         reported  deferred  closed
	close              -         closed    closed    -
	reopen             -         -         reported  reported
`

// TestLifeOfASquawk walks every state by every step.
func TestLifeOfASquawk(t *testing.T) {
	t.Parallel()
	rows := strings.Split(strings.TrimSpace(lifeOf), "\n")
	states := strings.Fields(rows[0])[1:]
	seen := []techlog.SquawkStep{}
	for _, row := range rows[1:] {
		cells := strings.Fields(row)
		step := techlog.SquawkStep(cells[0])
		seen = append(seen, step)
		for i, want := range cells[1:] {
			state := techlog.SquawkState(strings.Replace(states[i], "none", "", 1))
			next, err := state.Next(step)
			if want == "-" {
				if techlog.KindOf(err) != techlog.KindConflict || next != state {
					t.Errorf("%q by %s: %q, %v; want it refused as a conflict", state, step, next, err)
				}
			} else if err != nil || next != techlog.SquawkState(want) {
				t.Errorf("%q by %s: %q, %v; want %q", state, step, next, err, want)
			}
		}
	}
	if !slices.Equal(seen, techlog.SquawkSteps()) || len(states) != len(techlog.SquawkStates())+1 {
		t.Errorf("the table has the steps %v", seen)
	}
}

// situation is a squawk with what bears on the guards.
type situation struct {
	name   string
	squawk techlog.Squawk
	allows string // the steps that it can be taken through
}

func situations() []situation {
	base := techlog.Squawk{Number: 1, Kind: "inoperative", Unit: "beacon", State: techlog.Reported, Version: 1}
	with := func(change func(*techlog.Squawk)) techlog.Squawk {
		s := base
		change(&s)
		return s
	}
	done := &techlog.Worked{Work: "repair", Result: "repaired"}
	awaits := techlog.Progress{Work: done, Approved: &techlog.Approved{CheckFlightRequired: new(true)}}
	deferred := func(d techlog.Deferral) techlog.Squawk {
		return with(func(s *techlog.Squawk) { s.State, s.Confirmed, s.Deferral = techlog.Deferred, true, &d })
	}
	return []situation{
		{"as reported", base, "note expect confirm duplicate defer correct close"},
		{"confirmed", with(func(s *techlog.Squawk) { s.Confirmed = true }), "note expect confirm duplicate out-of-use defer work correct close"},
		{"a condition", with(func(s *techlog.Squawk) { s.Kind, s.Confirmed = "condition", true }), "note expect confirm duplicate work correct close"},
		{"about nothing", with(func(s *techlog.Squawk) { s.Unit, s.Confirmed = "", true }), "note expect confirm duplicate work correct close"},
		{"out of use", with(func(s *techlog.Squawk) {
			s.Confirmed, s.Progress.OutOfUse = true, &techlog.OutOfUse{}
		}), "note expect out-of-use defer work correct close"},
		{"waiting for parts", with(func(s *techlog.Squawk) {
			s.Confirmed, s.Progress.Work = true, &techlog.Worked{Work: "repair"}
		}), "note expect out-of-use defer work correct close"},
		{"repaired", with(func(s *techlog.Squawk) {
			s.Confirmed, s.Progress.Work = true, done
		}), "note expect out-of-use defer work return-to-service correct close"},
		{"not flown yet", with(func(s *techlog.Squawk) { s.Confirmed, s.Progress = true, awaits }), "note expect work check-flight correct close"},
		{"deferred", deferred(techlog.Deferral{}), "note expect carry-on work correct close reopen"},
		{"deferred under an MEL", deferred(techlog.Deferral{Discovered: "2031-05-04"}), "note expect extend carry-on work correct close reopen"},
		{"extended once", deferred(techlog.Deferral{Discovered: "2031-05-04", ExtendedUntil: "2031-05-10"}), "note expect carry-on work correct close reopen"},
		{"closed", with(func(s *techlog.Squawk) { s.State, s.Confirmed = techlog.Closed, true }), "note correct reopen"},
	}
}

// TestGuards holds, for squawks in every situation, which steps they can be taken through.
func TestGuards(t *testing.T) {
	t.Parallel()
	for _, c := range situations() {
		for _, step := range techlog.SquawkSteps() {
			s := c.squawk
			err := s.Take(step)
			if may := slices.Contains(strings.Fields(c.allows), string(step)); may != (err == nil) {
				t.Errorf("%s, %s: %v, want allowed %v", c.name, step, err, may)
			}
			if err != nil && (techlog.KindOf(err) != techlog.KindConflict || s.Version != c.squawk.Version || s.State != c.squawk.State) {
				t.Errorf("%s, %s: %v left %+v", c.name, step, err, s)
			}
			if err == nil && s.Version != c.squawk.Version+1 {
				t.Errorf("%s, %s: version %d", c.name, step, s.Version)
			}
		}
	}
}

// TestWhatASignedStepLeaves follows the facts that signed acts leave with a squawk.
func TestWhatASignedStepLeaves(t *testing.T) {
	t.Parallel()
	until := time.Date(2031, 6, 1, 0, 0, 0, 0, time.UTC)
	sig := &techlog.Signature{ID: techlog.ID{7}, Name: "M. Chanic", CertificateKind: "mechanic", CertificateNumber: "1", At: until.AddDate(0, -1, 0)}
	s := techlog.Squawk{Kind: "inoperative", Unit: "beacon", State: techlog.Reported, Confirmed: true, Version: 1}
	step := func(act casefile.Act) {
		t.Helper()
		was := s.Deferral
		if err := s.Take(techlog.SquawkStep(act.Action)); err != nil {
			t.Fatal(err)
		}
		s.Sign(&act, sig, was, "the basis", techlog.ID{9})
	}
	step(casefile.Act{Action: "out-of-use", Method: "deactivated", Placard: "Inoperative", MaintenanceProcedure: new(true)})
	step(casefile.Act{
		Action: "defer", Basis: "mel", Method: "deactivated", Placard: "Inoperative", Entry: "log 1", Until: &until, Discovered: "2031-05-01",
		InvolvesMaintenance: new(true),
	})
	d := s.Defect().Deferral
	if d == nil || !d.MaintenanceProcedureDone || d.Discovered != "2031-05-01" || d.Extended || !*d.InvolvesMaintenance || !d.HazardDetermined {
		t.Errorf("the engine reads %+v", d)
	}
	longer := until.AddDate(0, 0, 5)
	step(casefile.Act{Action: "extend", Until: &longer, ExtendedUntil: "2031-06-05"})
	if d := s.Defect().Deferral; !d.Extended || d.ExtendedUntil != "2031-06-05" || !d.Until.Equal(longer) || d.Discovered != "2031-05-01" {
		t.Errorf("extended, the engine reads %+v", d)
	}
	if s.Deferral.DeterminedBy != "M. Chanic, mechanic certificate 1" || s.Deferral.Basis != "the basis" {
		t.Errorf("%+v", s.Deferral)
	}
	step(casefile.Act{Action: "work", Work: "repair", Result: "repaired"})
	step(casefile.Act{Action: "return-to-service", CheckFlightRequired: new(true)})
	if s.State != techlog.Reported || !s.AwaitsCheckFlight() || s.Deferral != nil {
		t.Errorf("awaiting its check flight: %+v", s)
	}
	step(casefile.Act{Action: "check-flight"})
	if s.State != techlog.Closed || s.Open() {
		t.Errorf("flown: %+v", s)
	}
}

// TestAConditionIsClearedByWhatIsApproved: work alone clears nothing, nor does what has yet to be flown.
func TestAConditionIsClearedByWhatIsApproved(t *testing.T) {
	t.Parallel()
	s := techlog.Squawk{Kind: "condition", State: techlog.Reported}
	if s.Defect().Found != nil {
		t.Error("nothing was found yet")
	}
	s.Progress.Work = &techlog.Worked{Work: "repair"}
	if s.Defect().Found != nil {
		t.Error("unfinished work reads as found")
	}
	for result, want := range map[string]string{"repaired": "repaired", "within-limits": "within-limits", "could-not-reproduce": "within-limits"} {
		s.Progress = techlog.Progress{Work: &techlog.Worked{Work: "repair", Result: result, Data: "manual"}}
		if f := s.Defect().Found; f == nil || f.Result != want || f.Approved {
			t.Errorf("%s: %+v", result, f)
		}
		s.Progress.Approved = &techlog.Approved{CheckFlightRequired: new(true)}
		if f := s.Defect().Found; f.Approved {
			t.Errorf("%s, not flown: %+v", result, f)
		}
		s.Progress.Approved.CheckFlightRequired = new(false)
		if f := s.Defect().Found; !f.Approved || f.Data != "manual" {
			t.Errorf("%s, approved: %+v", result, f)
		}
	}
}
