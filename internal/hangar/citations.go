package hangar

import (
	"fmt"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// Citations gives the citation of every row that a hold can name: the rows of the book, the steps that came out without
// a row, and the rows of an aircraft's own documents, which stand under the citation of their step.
func (b Book) Citations() (map[string]string, error) {
	plan, err := b.Rules.Plan(&airworthiness.Aircraft{})
	if err != nil {
		return nil, fmt.Errorf("citations: %w", err)
	}
	citations := map[string]string{}
	for i, step := range airworthiness.StepNames() {
		// A finding of a step and nothing else explains itself by the step's own row.
		e := plan.Explain(&airworthiness.Finding{Step: airworthiness.Step(i)})
		citations[step], citations["own:"+step] = e.Citation, e.Citation
	}
	citations[airworthiness.OwnItem] = casefile.OwnRule
	for _, r := range b.Rules.Rules() {
		citations[r.ID] = r.Citation
	}
	return citations, nil
}
