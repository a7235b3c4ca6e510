package oracle

import (
	"slices"

	"tiedown/internal/casefile"
)

// Oracle judges cases with one catalog of items.
type Oracle struct {
	catalog Catalog
	off     string // name of a rule or step that is left out
}

// New is an oracle that knows the items of a catalog.
func New(catalog Catalog) Oracle { return Oracle{catalog: catalog} }

// Without is an oracle that has forgotten one rule, named as in Names.
func (o Oracle) Without(name string) Oracle { return Oracle{catalog: o.catalog, off: name} }

// Names lists all rules and steps, in the order in which they are asked.
func Names() []string {
	var names []string
	for _, st := range steps {
		names = append(names, st.name)
	}
	for _, r := range rules {
		names = append(names, r.name)
	}
	return names
}

// FurtherNames lists those that are asked only of a case which says more than the written form of today.
func FurtherNames() []string {
	names := []string{hazardOfTheSet.name}
	for _, st := range melSteps {
		names = append(names, st.name)
	}
	for _, r := range inspectionRules {
		names = append(names, r.name)
	}
	return names
}

// Judge answers a case.
func (o Oracle) Judge(c casefile.Case) Answer {
	return o.Aircraft(c.Aircraft).Judge(c.Defects, c.Flight)
}

// Judge answers what an aircraft's squawks mean for a flight.
func (a *Aircraft) Judge(defects []casefile.Defect, flight casefile.Flight) Answer {
	s := a.look(defects, flight)
	answer := Answer{Blocks: map[string]Verdict{}}
	for _, d := range s.defects {
		for _, st := range a.steps() {
			if st.name != a.off {
				answer.note(st.citation, s.underPermit(st, d, st.judge(s, d)))
			}
		}
	}
	for _, r := range a.rules() {
		if r.name != a.off {
			answer.note(r.citation, s.excused(r))
		}
	}
	return answer
}

// steps are the questions about each squawk.
func (a *Aircraft) steps() []step {
	if a.more == nil {
		return steps
	}
	return append(slices.Concat(steps, melSteps), hazardOfTheSet)
}

// rules are the rules about the aircraft and the flight.
func (a *Aircraft) rules() []rule {
	if a.more == nil {
		return rules
	}
	more := slices.Concat(rules, inspectionRules)
	for _, r := range a.more.CompanyRules {
		more = append(more, rule{r.Citation, r.ID, func(s *scene) Verdict { return s.judgeCompany(r) }})
	}
	return more
}
