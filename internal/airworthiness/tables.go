package airworthiness

// Step is one step of the decision, in the order of 14 CFR 91.213(d).
type Step uint8

// The steps. StepAircraft gathers what bears on the flight without any defect.
const (
	StepAircraft          Step = iota // requirements on the aircraft and the flight as such
	StepNature                        // is it an instrument or item of equipment at all
	StepPath                          // is 91.213(d) open to this aircraft, or does an MEL govern
	StepMEL                           // what the MEL says of the item (91.213(a), (c))
	StepTypeCertification             // (d)(2)(i)
	StepEquipmentList                 // (d)(2)(ii)
	StepRegulation                    // (d)(2)(iii)
	StepCompany                       // what the organization asks for beyond the regulation
	StepDirective                     // (d)(2)(iv)
	StepDisposition                   // (d)(3)
	StepHazard                        // (d)(4)
	StepLapse                         // 91.405(c)
	StepPilot                         // 91.7(b)
	steps
)

var stepNames = [steps]string{
	"aircraft", "nature", "path", "mel", "type-certification", "equipment-list", "regulation", "company", "directive",
	"disposition", "hazard", "lapse", "pilot",
}

func (s Step) String() string { return stepNames[s] }

// StepNames lists the names of the steps in order.
func StepNames() []string { return stepNames[:] }

// Tables is the regulation as data, before it is compiled. Every slice is one table; every element is one row.
type Tables struct {
	Items             []ItemRow
	Conditions        []Words
	Steps             []StepRow
	Practice          []PracticeRow
	Terms             []TermRow
	Eligibility       []EligibilityRow
	TypeCertification []RequirementRow // VFR-day lists by certification basis: they prefill, and can only forbid
	Requirements      []RequirementRow
	Reliefs           []ReliefRow
	Procedure         []ProcedureRow
	Interactions      []InteractionRow
	Intervals         []IntervalRow // repair intervals of MELs
	Permits           []PermitRow   // what a special flight permit lifts, and when
	Preventive        []PreventiveRow
	Who               []WhoRow
	Tasks             []TaskRow
	Records           []RecordRow
}

// Origin is what every row of regulation carries.
type Origin struct {
	ID       string
	Citation string
	Words    string // the row's own words
	Status   string // verified, infer, memory: how well the row's content has been read
	Source   string // where it was read
	From, To Date   // in force from From until the day before To; zero is open
}

// ItemRow is one kind of equipment, part or furnishing.
type ItemRow struct {
	Item     string
	Name     string
	Synonyms []string
	JASC     string
	Nature   string   // equipment, condition, furnishing
	ServesAs []string // other items whose job it does
	Source   string
}

// StepRow gives a step its citation, and its words when it passes.
type StepRow struct {
	Step     string
	Citation string
	Words    string
}

// EligibilityRow opens 91.213(d) to a class of aircraft.
type EligibilityRow struct {
	Origin
	When string
}

// RequirementRow demands equipment, or a condition, when its own conditions hold.
type RequirementRow struct {
	Origin
	Item     string // what must work; empty when Must is given
	Quantity string // a number, all, all-installed (all but those removed), note, or each-engine, each-tank, each-seat, each-front-seat, each-occupant, each-person, each-required-crew
	Must     string // what must hold
	When     string
}

// ReliefRow lifts requirements where its conditions hold.
type ReliefRow struct {
	Origin
	Relieves   []string
	When       string
	Limitation string // what the relief binds the flight to; empty: the requirement does not apply at all
}

// ProcedureRow is one thing that must have been done before an item is deferred.
type ProcedureRow struct {
	Origin
	Step      string
	When      string
	Must      string
	Otherwise Verdict // the verdict while it has not been done
}

// InteractionRow tells what two squawks, each fine on its own, do to each other. It asks that both deferrals consider the
// other, and then binds the flight or tells the pilot.
type InteractionRow struct {
	Origin
	First, Second string // items, one on each side; "a|b": either, or what does its job
	When          string // conditions of the aircraft and the flight
	Limitation    string // what the two together bind the flight to; empty: the pilot is told
}
