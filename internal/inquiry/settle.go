package inquiry

import (
	"fmt"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// The bounds of the search. A case within them is searched through; beyond, the answer says how far it went.
const (
	judgements = 2000 // cases judged for one question
	facts      = 24   // missing facts looked at
	sets       = 12   // sets listed
	outcomes   = 32   // outcomes listed of one set
)

// Settling is what would settle a case that is undetermined.
//
// A missing fact is tried with the values on either side of everything that the rules ask of it, not with every value
// that it may have; airspace is tried one piece at a time. Where a case needs more facts than the search goes through,
// AllOfThese names the facts that settle it together.
type Settling struct {
	Verdict    string        `json:"verdict"` // of the case as it stands
	Facts      []OpenFact    `json:"facts"`
	Sets       []SettlingSet `json:"sets"`        // the smallest first; none holds another
	MoreSets   int           `json:"more_sets"`   // found beyond those listed
	SearchedTo int           `json:"searched_to"` // every set of at most so many of the facts was tried
	AllOfThese *AllOfThese   `json:"all_of_these,omitempty"`
	Judged     int           `json:"judged"` // cases judged for this answer
	Caution    string        `json:"caution"`
}

// OpenFact is a missing fact with the values that are tried for it. Without any, nothing that can be entered here settles
// it.
type OpenFact struct {
	Fact   string      `json:"fact"`
	Asks   string      `json:"asks"`
	Values []FactValue `json:"values"`
}

// FactValue is one value of a fact: JSON text, to stand at the fact's place in the case, and what it means.
type FactValue struct {
	Value string `json:"value"`
	Words string `json:"words"`
}

// SettlingSet is a smallest set of facts that settles a case, with what comes out of each assignment of values.
type SettlingSet struct {
	Facts    []string  `json:"facts"`
	Outcomes []Outcome `json:"outcomes"`
	Tried    int       `json:"tried"` // assignments judged; those beyond the listed outcomes have one of the listed verdicts
}

// Outcome is what the case comes to with its facts so.
type Outcome struct {
	Values  []Answered `json:"values"`
	Verdict string     `json:"verdict"`
	Permits bool       `json:"permits"`
}

// Answered is a fact with its value.
type Answered struct {
	Fact string `json:"fact"`
	FactValue
}

// AllOfThese is a set of facts that settles the case together, where no smallest set was found. Best and Worst are the
// best and the worst verdicts that a search step by step came to, each with values that show it.
type AllOfThese struct {
	Facts []string `json:"facts"`
	Best  Outcome  `json:"best"`
	Worst Outcome  `json:"worst"`
}

// Settle looks for the smallest sets of missing facts that settle a case. The error, if any, is of kind invalid and
// names every faulty field. A case that is determined has nothing to settle. The organization's rules and its policy count as
// they do in judging.
func Settle(c casefile.Case, rules *airworthiness.Ruleset) (Settling, error) {
	with, companyErr := casefile.CompileCompanyRules(c.CompanyRules, rules) // once: judging alters none of them
	s := search{base: c, rules: with, left: judgements, plans: map[string]compiled{}, terms: with.Terms()}
	first, err := s.judge(nil)
	if err := casefile.Join(companyErr, err); err != nil {
		return Settling{}, err
	}
	answer := Settling{Verdict: first.verdict.String(), Facts: []OpenFact{}, Sets: []SettlingSet{}, Caution: rules.Term(airworthiness.TermCaution)}
	if first.verdict == airworthiness.Undetermined {
		s.discover(first)
		s.exhaust(&answer)
		if len(answer.Sets) == 0 {
			answer.AllOfThese = s.allOfThese()
		}
		for _, f := range s.open {
			answer.Facts = append(answer.Facts, f.written())
		}
	}
	answer.Judged = judgements - s.left
	return answer, nil
}

// search is one question being looked into.
type search struct {
	base  casefile.Case
	rules *airworthiness.Ruleset
	open  []openFact
	left  int // cases that may still be judged
	plans map[string]compiled
	terms []airworthiness.Term // of the book
}

// compiled is the aircraft with some facts filled in.
type compiled struct {
	plan *airworthiness.Plan
	err  error
}

// plan compiles the aircraft of a case, once for all cases that differ in the flight and the squawks only.
func (s *search) plan(c *casefile.Case, with []choice) (*airworthiness.Plan, error) {
	var key strings.Builder
	for _, choice := range with {
		if strings.HasPrefix(choice.fact.name, "aircraft.") {
			fmt.Fprintf(&key, "%s=%s;", choice.fact.name, choice.fact.values[choice.value].Value)
		}
	}
	p, ok := s.plans[key.String()]
	if !ok {
		p.plan, p.err = casefile.CompileAircraft(c.Aircraft, s.rules, "aircraft.")
		s.plans[key.String()] = p
	}
	return p.plan, p.err
}

// compile turns the case into the engine's words.
func (s *search) compile(c *casefile.Case, with []choice) (casefile.Question, error) {
	plan, aircraftErr := s.plan(c, with)
	defects, defectsErr := casefile.CompileDefects(c.Defects, c.Aircraft.Configuration, s.rules)
	flight, flightErr := casefile.CompileFlight(c.Flight, c.Aircraft.Facts)
	policyErr := c.Policy.Apply(defects)
	return casefile.Question{Plan: plan, Defects: defects, Flight: flight}, casefile.Join(aircraftErr, defectsErr, flightErr, policyErr)
}

// choice is a value for one of the open facts.
type choice struct {
	fact  *openFact
	value int
}

// judged is a case as it was judged: its verdict, what it lacks, and how bad the findings are that lack nothing.
type judged struct {
	verdict airworthiness.Verdict
	settled airworthiness.Verdict
	unknown int // findings
	open    []openFact
}

// determine judges the case with some facts filled in.
func (s *search) determine(c *casefile.Case, with []choice, d *airworthiness.Determination) (*airworthiness.Plan, error) {
	s.left--
	for _, choice := range with {
		choice.fact.values[choice.value].set(c)
	}
	q, err := s.compile(c, with)
	if err != nil {
		return nil, err
	}
	flight := s.rules.Prepare(q.Flight)
	q.Plan.Determine(d, q.Defects, &flight)
	return q.Plan, nil
}

// verdict is what the case comes to with some facts filled in.
func (s *search) verdict(with []choice) (airworthiness.Verdict, error) {
	c := s.base.Copy()
	var d airworthiness.Determination
	_, err := s.determine(&c, with, &d)
	return d.Verdict, err
}

// judge judges the case with some facts filled in, and finds out what it still lacks.
func (s *search) judge(with []choice) (judged, error) {
	c := s.base.Copy()
	var d airworthiness.Determination
	plan, err := s.determine(&c, with, &d)
	if err != nil {
		return judged{}, err
	}
	j := judged{verdict: d.Verdict, settled: airworthiness.Clear}
	if d.Verdict != airworthiness.Undetermined {
		j.settled = d.Verdict
		return j, nil
	}
	asker := asker{search: s, c: &c}
	for i := range d.Findings {
		f := &d.Findings[i]
		if f.Verdict != airworthiness.Undetermined {
			j.settled = airworthiness.Worst(j.settled, f.Verdict)
			continue
		}
		j.unknown++
		defect := -1
		if f.Defect >= 0 {
			defect = d.Order[f.Defect]
		}
		asker.ask(plan, f, defect)
	}
	j.open = asker.asked()
	return j, nil
}

// discover finds the facts that are missing, and those that are missed once one of them is known.
func (s *search) discover(first judged) {
	s.add(first.open)
	for i := 0; i < len(s.open) && s.left > judgements/2; i++ {
		for v := range s.open[i].values {
			if j, err := s.judge([]choice{{&s.open[i], v}}); err == nil {
				s.add(j.open)
			}
		}
	}
	slices.SortStableFunc(s.open, func(a, b openFact) int { return strings.Compare(a.name, b.name) })
}

// add takes up facts that are not open yet.
func (s *search) add(more []openFact) {
	for _, f := range more {
		known := slices.ContainsFunc(s.open, func(g openFact) bool { return g.name == f.name })
		if !known && len(s.open) < facts {
			s.open = append(s.open, f)
		}
	}
}

// exhaust tries every set of facts, the small ones first, until the bound is reached.
func (s *search) exhaust(answer *Settling) {
	var usable []*openFact
	for i := range s.open {
		if len(s.open[i].values) > 0 {
			usable = append(usable, &s.open[i])
		}
	}
	reserve := judgements / 4 // for the search step by step, should this one find nothing
	var found [][]*openFact
	for size := 1; size <= len(usable); size++ {
		complete := true
		combinations(usable, size, func(set []*openFact) bool {
			if slices.ContainsFunc(found, func(f []*openFact) bool { return isWithin(f, set) }) {
				return true
			}
			settled, whole := s.try(set, reserve)
			if !whole {
				complete = false
				return false
			}
			if settled == nil {
				return true
			}
			found = append(found, slices.Clone(set))
			if len(answer.Sets) < sets {
				answer.Sets = append(answer.Sets, *settled)
			} else {
				answer.MoreSets++
			}
			return true
		})
		if !complete {
			return
		}
		answer.SearchedTo = size
	}
}

// try judges every assignment of a set of facts. It gives nothing if one of them leaves the case open, and says whether
// it could judge them all.
func (s *search) try(set []*openFact, reserve int) (settled *SettlingSet, whole bool) {
	result := SettlingSet{Outcomes: []Outcome{}}
	for _, f := range set {
		result.Facts = append(result.Facts, f.name)
	}
	values := make([]int, len(set))
	for {
		if s.left <= reserve {
			return nil, false
		}
		with := choose(set, values)
		verdict, err := s.verdict(with)
		switch {
		case err != nil: // no case at all: the values contradict one another
		case verdict == airworthiness.Undetermined:
			return nil, true
		default:
			result.Tried++
			result.list(outcome(with, verdict))
		}
		if !count(values, set) {
			break
		}
	}
	if result.Tried == 0 {
		return nil, true
	}
	return &result, true
}

// list lists an outcome while there is room, and the first of each verdict in any case.
func (s *SettlingSet) list(o Outcome) {
	listed := slices.ContainsFunc(s.Outcomes, func(other Outcome) bool { return other.Verdict == o.Verdict })
	if len(s.Outcomes) < outcomes || !listed {
		s.Outcomes = append(s.Outcomes, o)
	}
}

func choose(set []*openFact, values []int) []choice {
	with := make([]choice, len(set))
	for i, f := range set {
		with[i] = choice{f, values[i]}
	}
	return with
}

func outcome(with []choice, v airworthiness.Verdict) Outcome {
	o := Outcome{Values: []Answered{}, Verdict: v.String(), Permits: v.Permits()}
	for _, c := range with {
		o.Values = append(o.Values, Answered{c.fact.name, c.fact.values[c.value].FactValue})
	}
	return o
}

// count goes on to the next assignment of values, and says whether there is one.
func count(values []int, set []*openFact) bool {
	for i := len(values) - 1; i >= 0; i-- {
		if values[i]++; values[i] < len(set[i].values) {
			return true
		}
		values[i] = 0
	}
	return false
}

// combinations calls f for every set of so many, in order, until it says to stop.
func combinations(all []*openFact, size int, f func([]*openFact) bool) {
	set := make([]*openFact, 0, size)
	var pick func(from int) bool
	pick = func(from int) bool {
		if len(set) == size {
			return f(set)
		}
		for i := from; i <= len(all)-(size-len(set)); i++ {
			set = append(set, all[i])
			if !pick(i + 1) {
				return false
			}
			set = set[:len(set)-1]
		}
		return true
	}
	pick(0)
}

// isWithin says whether every fact of a set is in another.
func isWithin(set, other []*openFact) bool {
	return !slices.ContainsFunc(set, func(f *openFact) bool { return !slices.Contains(other, f) })
}
