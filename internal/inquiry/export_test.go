package inquiry

import (
	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// OpenFacts are the facts that a case lacks as it stands, with the values that are tried for each.
func OpenFacts(c casefile.Case, rules *airworthiness.Ruleset) ([]OpenFact, error) {
	s := search{base: c, rules: rules, left: judgements, plans: map[string]compiled{}, terms: rules.Terms()}
	first, err := s.judge(nil)
	var open []OpenFact
	for i := range first.open {
		open = append(open, first.open[i].written())
	}
	return open, err
}
