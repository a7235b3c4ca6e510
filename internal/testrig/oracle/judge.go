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

// House is what an organization brings to every case of its aircraft: how it reads the rules where they leave a choice,
// and the rules that it keeps beside them.
type House struct {
	Policy casefile.Policy
	Rules  []casefile.CompanyRule
}

// Names lists all rules and steps, in the order in which they are asked.
func Names() []string {
	var names []string
	for _, st := range allSteps {
		names = append(names, st.name)
	}
	for _, r := range allRules {
		names = append(names, r.name)
	}
	for _, c := range couples {
		if c.binds {
			names = append(names, c.name)
		}
	}
	return append(names, companyRules, thePermit, theClearing, thePolicy)
}

// What is no single rule goes by these names.
const (
	companyRules = "company rules"
	thePermit    = "special flight permit"
	theClearing  = "cleared condition"
	thePolicy    = "policy of the text of the rule"
)

var (
	allSteps = slices.Concat(steps, melSteps)
	allRules = slices.Concat(rules, operationRules, inspectionRules, paperRules, keepingRules)
)

// Judge answers a case.
func (o Oracle) Judge(c casefile.Case) Answer {
	return o.Aircraft(c.Aircraft, House{c.Policy, c.CompanyRules}).Judge(c.Defects, c.Flight)
}

// Judge answers what an aircraft's squawks mean for a flight.
func (a *Aircraft) Judge(defects []casefile.Defect, flight casefile.Flight) Answer {
	s := a.look(defects, flight)
	answer := Answer{Blocks: map[string]Verdict{}}
	for _, d := range s.defects {
		for _, st := range allSteps {
			if st.name != a.off {
				answer.note(st.citation, s.underPermit(st, d, st.judge(s, d)))
			}
		}
	}
	for _, r := range allRules {
		if r.name != a.off {
			answer.note(r.citation, s.excused(r))
		}
	}
	if a.off != companyRules {
		for _, r := range a.house.Rules {
			answer.note(r.Citation, s.judgeCompany(r))
		}
	}
	return answer
}
