package techlog

import (
	"fmt"
	"time"

	"tiedown/internal/casefile"
)

// SquawkState is where a squawk stands.
type SquawkState string

// The states of a squawk.
const (
	Reported SquawkState = "reported"
	Deferred SquawkState = "deferred"
	Closed   SquawkState = "closed"
)

// SquawkStates lists every state.
func SquawkStates() []SquawkState { return []SquawkState{Reported, Deferred, Closed} }

// SquawkStep is a step in the life of a squawk.
type SquawkStep string

// The steps of a squawk.
const (
	StepReport SquawkStep = "report"
	StepNote   SquawkStep = "note"
	StepDefer  SquawkStep = "defer"
	StepClose  SquawkStep = "close"
	StepReopen SquawkStep = "reopen"
)

// SquawkSteps lists every step.
func SquawkSteps() []SquawkStep {
	return []SquawkStep{StepReport, StepNote, StepDefer, StepClose, StepReopen}
}

// transitions is the life of a squawk: from a state, by a step, to a state. What is not in it is refused.
var transitions = map[SquawkState]map[SquawkStep]SquawkState{
	"":       {StepReport: Reported},
	Reported: {StepNote: Reported, StepDefer: Deferred, StepClose: Closed},
	Deferred: {StepNote: Deferred, StepClose: Closed, StepReopen: Reported},
	Closed:   {StepNote: Closed, StepReopen: Reported},
}

// Next returns the state that a step leads to, or an error of kind conflict.
func (s SquawkState) Next(step SquawkStep) (SquawkState, error) {
	next, ok := transitions[s][step]
	if !ok {
		return s, Errorf(KindConflict, "a squawk that is %s cannot be taken through the step %s", s, step)
	}
	return next, nil
}

// Squawk is one reported discrepancy.
type Squawk struct {
	ID         ID
	Aircraft   ID
	Number     int    // of the aircraft, from 1
	Kind       string // inoperative or condition
	Unit       string // installed unit, if it is one
	Item       string // catalog item, when no unit is meant
	Words      string // what was seen, in the reporter's words
	State      SquawkState
	Deferral   *Deferral
	ReportedBy string
	ReportedAt time.Time
	Version    int
}

// Deferral is the record that lets an inoperative item stay.
type Deferral struct {
	ID           ID
	Basis        string // citation of the path taken, such as 14 CFR 91.213(d)
	Method       string // removed or deactivated
	Placard      string // the words on the placard
	Entry        string // reference of the maintenance record entry
	DeterminedBy string // who determined that it is no hazard, with kind and number of the certificate as written
	DeterminedAt time.Time
	Considered   []string // labels of the other open squawks that the determination was made in view of
	RemovedOn    string   // YYYY-MM-DD; empty unless removed
	Until        time.Time
}

// HistoryEntry is one entry of a squawk's history. Entries are only ever added.
type HistoryEntry struct {
	Squawk ID
	Number int // of the squawk, from 1
	At     time.Time
	By     string
	Step   SquawkStep
	State  SquawkState // after the step
	Words  string
}

// Defect is the squawk as the engine reads it.
func (s *Squawk) Defect() casefile.Defect {
	d := casefile.Defect{ID: s.Label(), Kind: s.Kind, Unit: s.Unit, Item: s.Item, Words: s.Words}
	if s.State == Deferred && s.Deferral != nil {
		until := s.Deferral.Until
		// The database keeps no deferral without placard, entry and determination.
		d.Deferral = &casefile.Deferral{
			Method: s.Deferral.Method, MethodDone: true, Placarded: s.Deferral.Placard != "", Recorded: s.Deferral.Entry != "",
			HazardDetermined: s.Deferral.DeterminedBy != "", HazardConsidered: s.Deferral.Considered, RemovedOn: s.Deferral.RemovedOn, Until: &until,
		}
	}
	return d
}

// Label names the squawk to people: its number, padded so that labels sort as numbers do.
func (s *Squawk) Label() string { return fmt.Sprintf("%05d", s.Number) }

// Open reports whether the squawk bears on flights.
func (s *Squawk) Open() bool { return s.State != Closed }
