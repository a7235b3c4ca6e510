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

	Confirmed   bool // item or condition: somebody of maintenance has looked
	DuplicateOf ID
	Progress    Progress
	Expected    *Expected // nil: nothing is, or nobody knows any longer when
}

// Expected is when maintenance expects that the squawk can be worked off, such as when its parts come. It is told, and
// enters no determination.
type Expected struct {
	On    string // YYYY-MM-DD, at the aircraft's base
	Words string
}

// Progress is the signed work on a squawk so far. Each part repeats what its signed act says, and no more.
type Progress struct {
	OutOfUse *OutOfUse `json:"out_of_use,omitempty"`
	Work     *Worked   `json:"work,omitempty"`
	Approved *Approved `json:"approved,omitempty"`
}

// OutOfUse says how the item was put out of use, approved and placarded.
type OutOfUse struct {
	Signature            ID     `json:"signature"`
	Method               string `json:"method"`
	Placard              string `json:"placard"`
	Entry                string `json:"entry,omitempty"`
	RemovedOn            string `json:"removed_on,omitempty"`
	InvolvesMaintenance  *bool  `json:"involves_maintenance,omitempty"`
	MaintenanceProcedure *bool  `json:"maintenance_procedure,omitempty"`
}

// Worked is the last work on the squawk. Without a result it is not finished.
type Worked struct {
	Signature ID                     `json:"signature"`
	Work      string                 `json:"work"`
	Result    string                 `json:"result,omitempty"`
	Data      string                 `json:"data,omitempty"`
	Completed string                 `json:"completed,omitempty"`
	Awaits    []casefile.AwaitedPart `json:"parts_awaited,omitempty"`
}

// Approved is the return to service after that work.
type Approved struct {
	Signature           ID    `json:"signature"`
	CheckFlightRequired *bool `json:"check_flight_required"`
}

// AwaitsCheckFlight says that the work is approved, and that somebody has yet to fly it (14 CFR 91.407(b)).
func (s *Squawk) AwaitsCheckFlight() bool {
	a := s.Progress.Approved
	return s.State != Closed && a != nil && a.CheckFlightRequired != nil && *a.CheckFlightRequired
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

	Signature           ID     // zero: carried over from paper
	Discovered          string // under an MEL: the day that its interval does not count
	ExtendedUntil       string // the last day of its one extension; empty: it has none
	InvolvesMaintenance *bool  // nil: nobody has said
	MaintenanceDone     bool   // the MEL's procedure (M)
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

	Signature ID     // zero: the step is not signed
	Expected  string // of the step expect, YYYY-MM-DD: the day; empty: it is no longer known
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
			Discovered: s.Deferral.Discovered, Extended: s.Deferral.ExtendedUntil != "", ExtendedUntil: s.Deferral.ExtendedUntil,
			InvolvesMaintenance: s.Deferral.InvolvesMaintenance, MaintenanceProcedureDone: s.Deferral.MaintenanceDone,
		}
	}
	if s.Kind == "condition" && s.State != Deferred {
		d.Found = s.found()
	}
	return d
}

// found is what became of a condition. Work that came to nothing, or that somebody has yet to fly, clears nothing.
func (s *Squawk) found() *casefile.Found {
	work := s.Progress.Work
	if work == nil || work.Result == "" {
		return nil
	}
	f := &casefile.Found{Result: "repaired", Rated: true, Data: work.Data, Approved: s.Progress.Approved != nil && !s.AwaitsCheckFlight()}
	if work.Result != "repaired" {
		f.Result = "within-limits"
	}
	return f
}

// Label names the squawk to people: its number, padded so that labels sort as numbers do.
func (s *Squawk) Label() string { return fmt.Sprintf("%05d", s.Number) }

// Open reports whether the squawk bears on flights.
func (s *Squawk) Open() bool { return s.State != Closed }
