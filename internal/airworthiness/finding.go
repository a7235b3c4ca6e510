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
	permit  permitMark
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
	fromInteraction

	fromMEL      // a row of the aircraft's MEL; open has a bit a condition of that row
	fromUnlisted // an item, which stands in no row of the MEL
	fromInterval // the repair interval of a row of the aircraft's MEL
	fromFound    // what became of a condition; row tells what is missing
	fromPermit   // a row on special flight permits
)

// Determination is the answer for a set of defects and a flight. Reuse one to avoid allocation. Until Determine has
// filled it, its verdict is undetermined.
type Determination struct {
	Verdict  Verdict
	Findings []Finding
	Order    []int   // the defects in the order in which the findings speak of them
	Permit   *Permit // the special flight permit, when it lifts one of the findings

	brief    bool     // leave out what passed: it explains, and decides nothing
	passing  Finding  // where what passed is filled in when it is left out
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
	if d.brief {
		return &d.passing
	}
	f := d.next(step, defect)
	f.Outcome, f.Verdict = OutcomePassed, Clear
	return f
}

// record keeps a finding that was made beforehand, about a defect.
func (d *Determination) record(f Finding, defect int16) {
	if d.brief && (f.Outcome == OutcomePassed || f.Outcome == OutcomeNoted) {
		return
	}
	f.Defect = defect
	d.Findings = append(d.Findings, f)
}

// worst is the verdict of the worst finding.
func (d *Determination) worst() Verdict {
	return worstOf(d.Findings)
}

func worstOf(findings []Finding) Verdict {
	var found uint8 // a bit a verdict
	for i := range findings {
		found |= 1 << findings[i].Verdict
	}
	worst := Clear
	for v := range severity {
		if found&(1<<v) != 0 {
			worst = Worst(worst, Verdict(v))
		}
	}
	return worst
}
