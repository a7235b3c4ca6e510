package engines

import (
	"cmp"
	"slices"

	aw "tiedown/internal/airworthiness"
)

// Answer is what an engine says of one flight.
type Answer struct {
	Verdict  aw.Verdict
	Findings []Finding
}

// Finding is one finding in a form that all three engines can give.
type Finding struct {
	Defect  string // the squawk's ID, empty where the finding is about the aircraft as such
	Step    aw.Step
	Row     string // identifier of the row, or of the step where no row decided
	Outcome aw.Outcome
	Verdict aw.Verdict
}

// sorted puts the findings in an order that does not depend on the engine: answers are compared as multisets.
func (a Answer) sorted() Answer {
	slices.SortFunc(a.Findings, func(x, y Finding) int {
		return cmp.Or(
			cmp.Compare(x.Defect, y.Defect), cmp.Compare(x.Step, y.Step), cmp.Compare(x.Row, y.Row),
			cmp.Compare(x.Outcome, y.Outcome), cmp.Compare(x.Verdict, y.Verdict),
		)
	})
	return a
}
