package engines

import (
	aw "tiedown/internal/airworthiness"
)

// Tiedown judges with the airworthiness engine.
type Tiedown struct {
	plan    *aw.Plan
	defects []aw.Defect
	flights []aw.PreparedFlight

	standing aw.Standing
	work     aw.Determination
}

// NewTiedown compiles the case's aircraft and prepares its flights: what is done once.
func NewTiedown(rules *aw.Ruleset, c Case) (*Tiedown, error) {
	plan, err := rules.Plan(&c.Aircraft)
	if err != nil {
		return nil, err
	}
	t := &Tiedown{plan: plan, defects: c.Defects}
	for _, f := range c.Flights {
		t.flights = append(t.flights, rules.Prepare(f))
	}
	return t, nil
}

// Stand counts what the defects leave: what is done once for all flights.
func (t *Tiedown) Stand() { t.plan.Stand(&t.standing, t.defects) }

// Judge gives the whole determination for one flight, after Stand. It is valid until the next call.
func (t *Tiedown) Judge(flight int) *aw.Determination {
	t.plan.Judge(&t.work, &t.standing, &t.flights[flight])
	return &t.work
}

// Decide is Judge without the findings that ask nothing of anybody.
func (t *Tiedown) Decide(flight int) *aw.Determination {
	t.plan.Decide(&t.work, &t.standing, &t.flights[flight])
	return &t.work
}

// Answers puts every determination into the common form.
func (t *Tiedown) Answers() []Answer {
	var answers []Answer
	t.Stand()
	for i := range t.flights {
		d := t.Judge(i)
		a := Answer{Verdict: d.Verdict}
		for j := range d.Findings {
			f := &d.Findings[j]
			finding := Finding{Step: f.Step, Row: t.plan.RowID(f), Outcome: f.Outcome, Verdict: f.Verdict}
			if f.Defect >= 0 {
				finding.Defect = t.defects[d.Order[f.Defect]].ID
			}
			a.Findings = append(a.Findings, finding)
		}
		answers = append(answers, a.sorted())
	}
	return answers
}
