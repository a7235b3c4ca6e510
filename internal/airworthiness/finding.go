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
	fromDate    // the flight gives no date
	fromSubject // the squawk names no installed unit
)

// Determination is the answer for a set of defects and a flight. Reuse one to avoid allocation. Until Determine has
// filled it, its verdict is undetermined.
type Determination struct {
	Verdict  Verdict
	Findings []Finding
	Order    []int // the defects in the order in which the findings speak of them

	on       Date     // the flight's
	state    state    // what is known of every condition, save those on a deferral
	standing Standing // when the caller has made none
}

// blank is a finding that has yet to be filled in. Its outcome and verdict are those of a missing fact.
var blank = Finding{Defect: -1, row: -1, relief: -1, Need: -1, Have: -1}

// next records a finding about a defect, or -1 for the aircraft as such, for the caller to fill in where it lies.
func (d *Determination) next(step Step, defect int16) *Finding {
	d.Findings = append(d.Findings, blank)
	f := &d.Findings[len(d.Findings)-1]
	f.Step, f.Defect = step, defect
	return f
}

// pass records that a step is satisfied.
func (d *Determination) pass(step Step, defect int16) *Finding {
	f := d.next(step, defect)
	f.Outcome, f.Verdict = OutcomePassed, Clear
	return f
}

// worst is the verdict of the worst finding.
func (d *Determination) worst() Verdict {
	var found uint8 // a bit a verdict
	for i := range d.Findings {
		found |= 1 << d.Findings[i].Verdict
	}
	worst := Clear
	for v := range severity {
		if found&(1<<v) != 0 {
			worst = Worst(worst, Verdict(v))
		}
	}
	return worst
}
