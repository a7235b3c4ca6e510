package techlog

import (
	"slices"

	"tiedown/internal/casefile"
)

// SquawkStep is a step in the life of a squawk.
type SquawkStep string

// The steps of a squawk. Those that are signed have the name of the act.
const (
	StepReport    SquawkStep = "report"
	StepNote      SquawkStep = "note"
	StepConfirm   SquawkStep = "confirm"
	StepDuplicate SquawkStep = "duplicate"
	StepExpect    SquawkStep = "expect"
	StepOutOfUse  SquawkStep = "out-of-use"
	StepDefer     SquawkStep = "defer"
	StepExtend    SquawkStep = "extend"
	StepCarryOn   SquawkStep = "carry-on"
	StepWork      SquawkStep = "work"
	StepReturn    SquawkStep = "return-to-service"
	StepFlown     SquawkStep = "check-flight"
	StepCorrect   SquawkStep = "correct"
	StepClose     SquawkStep = "close"
	StepReopen    SquawkStep = "reopen"
)

// SquawkSteps lists every step.
func SquawkSteps() []SquawkStep {
	return []SquawkStep{
		StepReport, StepNote, StepConfirm, StepDuplicate, StepExpect, StepOutOfUse, StepDefer, StepExtend, StepCarryOn, StepWork, StepReturn, StepFlown,
		StepCorrect, StepClose, StepReopen,
	}
}

// SignedSteps lists the steps that somebody signs. Of these a deferral may also be carried over from paper.
func SignedSteps() []SquawkStep {
	return []SquawkStep{StepOutOfUse, StepDefer, StepExtend, StepCarryOn, StepWork, StepReturn, StepFlown, StepCorrect}
}

// transitions is the life of a squawk: from a state, by a step, to a state. What is not in it is refused. A return to
// service that asks for a check flight leaves the squawk reported until that has been flown.
var transitions = map[SquawkState]map[SquawkStep]SquawkState{
	"": {StepReport: Reported},
	Reported: {
		StepNote: Reported, StepConfirm: Reported, StepDuplicate: Closed, StepExpect: Reported, StepOutOfUse: Reported, StepDefer: Deferred,
		StepWork: Reported, StepReturn: Closed, StepFlown: Closed, StepCorrect: Reported, StepClose: Closed,
	},
	Deferred: {
		StepNote: Deferred, StepExpect: Deferred, StepExtend: Deferred, StepCarryOn: Deferred, StepWork: Deferred, StepReturn: Closed, StepCorrect: Deferred,
		StepClose: Closed, StepReopen: Reported,
	},
	Closed: {StepNote: Closed, StepCorrect: Closed, StepReopen: Reported},
}

// Next returns the state that a step leads to, or an error of kind conflict.
func (s SquawkState) Next(step SquawkStep) (SquawkState, error) {
	next, ok := transitions[s][step]
	if !ok {
		return s, Errorf(KindConflict, "a squawk that is %s cannot be taken through the step %s", s, step)
	}
	return next, nil
}

// guard is what must be so before a step, beside the state.
type guard struct {
	holds func(*Squawk) bool
	says  string // what is wrong where it does not hold
}

var (
	confirmed  = guard{func(s *Squawk) bool { return s.Confirmed }, "its item or condition has not been confirmed yet"}
	equipment  = guard{func(s *Squawk) bool { return s.Kind == "inoperative" }, "it is about a condition, which cannot be deferred"}
	oneSubject = guard{func(s *Squawk) bool { return (s.Unit == "") != (s.Item == "") }, "it does not name what is inoperative"}
	notFlown   = guard{func(s *Squawk) bool { return !s.AwaitsCheckFlight() }, "the work awaits its check flight"}
	awaiting   = guard{(*Squawk).AwaitsCheckFlight, "it awaits no check flight"}
	finished   = guard{func(s *Squawk) bool { return s.Progress.Work != nil && s.Progress.Work.Result != "" }, "no finished work is on record"}
	untouched  = guard{func(s *Squawk) bool { return s.Progress == Progress{} }, "work on it has been signed already"}
	underMEL   = guard{func(s *Squawk) bool { return s.Deferral != nil && s.Deferral.Discovered != "" }, "it is not deferred under an MEL"}
	extendable = guard{func(s *Squawk) bool { return s.Deferral != nil && s.Deferral.ExtendedUntil == "" }, "its interval has been extended once already"}
)

// guards is the table of guards.
var guards = map[SquawkStep][]guard{
	StepConfirm:   {untouched},
	StepDuplicate: {untouched},
	StepOutOfUse:  {confirmed, equipment, oneSubject, notFlown},
	StepDefer:     {equipment, oneSubject, notFlown},
	StepExtend:    {underMEL, extendable},
	StepWork:      {confirmed},
	StepReturn:    {confirmed, finished, notFlown},
	StepFlown:     {awaiting},
}

// Take takes the squawk through a step to its next version: the state moves, the guards hold. What the step leaves with
// the squawk is the caller's to add. Kind conflict.
func (s *Squawk) Take(step SquawkStep) error {
	next, err := s.State.Next(step)
	if err != nil {
		return err
	}
	for _, g := range guards[step] {
		if !g.holds(s) {
			return Errorf(KindConflict, "squawk %s cannot be taken through the step %s: %s", s.Label(), step, g.says)
		}
	}
	if step == StepReopen {
		s.Progress, s.DuplicateOf = Progress{}, ID{}
	}
	s.State = next
	s.Version++
	if next != Deferred {
		s.Deferral = nil
	}
	if next == Closed {
		s.Expected = nil
	}
	return nil
}

// WaitsFor says of a step that guards refuse whether time may open it: a condition is never deferred, and what no MEL has
// deferred is never extended; but what has not been confirmed or worked on may still be.
func (s *Squawk) WaitsFor(step SquawkStep) bool {
	switch step {
	case StepOutOfUse, StepDefer:
		return s.Kind == "inoperative"
	case StepExtend:
		return underMEL.holds(s)
	case StepFlown:
		return s.Progress.Approved != nil
	default:
		return true
	}
}

// Sign leaves what a signed act says with the squawk, which has been taken through its step. was is the deferral until
// then, basis the citation of the path that a new one takes, and deferral its identifier.
func (s *Squawk) Sign(act *casefile.Act, signature *Signature, was *Deferral, basis string, deferral ID) {
	switch SquawkStep(act.Action) {
	case StepOutOfUse:
		s.Progress.OutOfUse = &OutOfUse{
			signature.ID, act.Method, act.Placard, act.Entry, act.RemovedOn, act.InvolvesMaintenance, act.MaintenanceProcedure,
		}
	case StepDefer, StepCarryOn, StepExtend:
		s.Deferral = deferralOf(act, signature, was, s.Progress.OutOfUse)
		s.Deferral.ID = deferral
		if SquawkStep(act.Action) == StepDefer {
			s.Deferral.Basis = basis
		}
	case StepWork:
		s.Progress.Work = &Worked{signature.ID, act.Work, act.Result, act.Data, act.Completed, act.PartsAwaited}
		s.Progress.Approved = nil
	case StepReturn:
		s.Progress.Approved = &Approved{signature.ID, act.CheckFlightRequired}
		if act.CheckFlightRequired != nil && *act.CheckFlightRequired {
			s.State = Reported
		}
	default: // a check flight closes, a correction changes nothing
	}
}

// deferralOf is the deferral that an act makes, or makes out of an earlier one.
func deferralOf(act *casefile.Act, by *Signature, was *Deferral, out *OutOfUse) *Deferral {
	var d Deferral
	if was != nil {
		d = *was
	}
	d.Until, d.ExtendedUntil, d.Signature = *act.Until, act.ExtendedUntil, by.ID
	if SquawkStep(act.Action) != StepExtend {
		d.DeterminedBy, d.DeterminedAt, d.Considered = by.By(), by.At, slices.Clone(act.Considered)
	}
	if SquawkStep(act.Action) == StepDefer {
		d.Method, d.Placard, d.Entry = act.Method, act.Placard, act.Entry
		d.RemovedOn, d.Discovered, d.InvolvesMaintenance = act.RemovedOn, act.Discovered, act.InvolvesMaintenance
		if out != nil {
			d.MaintenanceDone = out.MaintenanceProcedure != nil && *out.MaintenanceProcedure
		}
	}
	return &d
}
