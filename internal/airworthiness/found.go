package airworthiness

import "strings"

// FoundResult is how a condition was cleared.
type FoundResult uint8

// The ways to clear a condition. The zero value clears nothing.
const (
	FoundUnstated FoundResult = iota
	FoundRepaired
	FoundWithinLimits
)

// Found is what became of a condition: repaired, or inspected and found within limits. Only with every part of it does
// the condition no longer stand in the way: the work is done by a person authorized for it (43.3, 43.7), to data (43.13),
// and approved for return to service with an entry (43.5, 43.9; 91.407(a)).
type Found struct {
	Result   FoundResult
	Rated    Truth // by a person rated for it
	Data     Truth // the data used are on record
	Approved Truth // approved for return to service, the entry signed
}

// What a condition lacks to be cleared: a bit each in a finding.
const (
	lacksFound int32 = 1 << iota
	lacksResult
	lacksRated
	lacksData
	lacksApproval
)

var lackWords = []string{
	"nothing yet says that it has been repaired or found within limits",
	"whether it was repaired or found within limits",
	"that a person rated for it did so",
	"the data used",
	"the approval for return to service with its entry",
}

// lacks says what is missing for the condition to be cleared, as bits; none: it is.
func (d *Defect) lacks() int32 {
	if d.Found == nil {
		return lacksFound
	}
	var missing int32
	note := func(there bool, bit int32) {
		if !there {
			missing |= bit
		}
	}
	note(d.Found.Result == FoundRepaired || d.Found.Result == FoundWithinLimits, lacksResult)
	note(d.Found.Rated == Yes, lacksRated)
	note(d.Found.Data == Yes, lacksData)
	note(d.Found.Approved == Yes, lacksApproval)
	return missing
}

// judgeCleared fills in the finding of a squawk that is no instrument or item of equipment.
func (s *subject) judgeCleared(finding *Finding) {
	finding.source, finding.row = fromFound, s.lacks()
	if s.cleared {
		finding.Outcome, finding.Verdict = OutcomePassed, Clear
		finding.Have = int16(s.Found.Result)
		return
	}
	finding.Outcome, finding.Verdict = OutcomeBreached, Grounded
}

func (p *Plan) explainFound(e *Explanation, f *Finding) {
	p.explainStep(e, f)
	switch {
	case f.Outcome == OutcomePassed && FoundResult(f.Have) == FoundRepaired:
		e.Says = "A condition that has been repaired, and approved for return to service."
	case f.Outcome == OutcomePassed:
		e.Says = "A condition that has been inspected and found within limits, and approved for return to service."
	case f.row&lacksFound == 0:
		e.Says += " Missing: " + strings.Join(f.lackWords(), "; ") + "."
	}
}

func (f *Finding) lackWords() []string {
	var words []string
	for i, w := range lackWords {
		if f.row&(1<<i) != 0 {
			words = append(words, w)
		}
	}
	return words
}
