package airworthiness

// Outcome says how one finding came out.
type Outcome uint8

// The outcomes. The zero value is OutcomeUnknown, never a pass.
const (
	OutcomeUnknown  Outcome = iota // a fact is missing
	OutcomePassed                  // the step or row is satisfied, or asks nothing of this flight
	OutcomeBreached                // a requirement is not met
	OutcomeRelieved                // a requirement is not met, but a relief lifts it
	OutcomeLimited                 // met for the flights that keep to the limitation, open for the others
	OutcomeUndone                  // a deferral step has not been done
	OutcomeNoted                   // something the pilot must know
)

var outcomeNames = [...]string{"unknown", "passed", "breached", "relieved", "limited", "undone", "noted"}

func (o Outcome) String() string { return outcomeNames[o] }

// OutcomeNames lists the names of the outcomes.
func OutcomeNames() []string { return outcomeNames[:] }

// Finding is one step or row as it came out. It is small, so that a determination does not allocate; Plan.Explain
// turns it into words.
type Finding struct {
	Step    Step
	Outcome Outcome
	Verdict Verdict
	source  source
	Defect  int16 // place of the defect in Determination.Order, or -1
	row     int32 // place in the table that source names, or -1
	relief  int32 // place of the relief, or -1
	Need    int16 // how many must work, or -1
	Have    int16 // how many work, or -1
	open    mask  // conditions that are unknown and matter
}

// source names the table of a finding's row.
type source uint8

const (
	fromStep source = iota
	fromEligibility
	fromRow
	fromProcedure
	fromDate // the flight gives no date
)

// Determination is the answer for a set of defects and a flight. Reuse one to avoid allocation. Until Determine has
// filled it, its verdict is undetermined.
type Determination struct {
	Verdict  Verdict
	Findings []Finding
	Order    []int // the defects in the order in which the findings speak of them

	failed, removed bitset
	touched         bitset // rows that a failed unit bears on
	state           state
}

// add records a finding and lets it worsen the verdict.
func (d *Determination) add(f Finding) {
	d.Findings = append(d.Findings, f)
	d.Verdict = Worst(d.Verdict, f.Verdict)
}
