package airworthiness

import (
	"slices"
	"strconv"
	"strings"
)

// Term is one condition as data: what it asks of one fact. A condition that is so, and one that is not so, are two terms.
type Term struct {
	Fact       string // where the fact stands in a written case; facts of a flight begin with "flight."
	Comparison string // is, is-not, at-least, below, above, at-most, includes, excludes, ...; see opposites
	Value      string // a word, a number, a date, an instant, another fact, or true or false
	Words      string // a flight bound to the term, as a pilot would say it; empty where the flight does not decide it
	Otherwise  string // a flight bound to the opposite
}

// form is how a condition is written as a term.
type form struct{ fact, holds, fails string }

// forms has the conditions that do not simply say that their fact is so.
var forms = map[string]form{
	"day":                {"flight.light.day", "is", "is"},
	"night":              {"flight.light.night", "is", "is"},
	"lights":             {"flight.light.sunset_to_sunrise", "is", "is"},
	"kind":               {"flight.kind", "includes", "excludes"},
	"altitude-from":      {"", "at-least", "below"},
	"altitude-above":     {"", "above", "at-most"},
	"cabin-above":        {"", "above", "at-most"},
	"airspace":           {"", "includes", "excludes"},
	"navigates-by":       {"", "includes", "excludes"},
	"atc-authorized":     {"", "includes", "excludes"},
	"engine":             {"", "is", "is-not"},
	"category":           {"", "is", "is-not"},
	"certificate":        {"", "is", "is-not"},
	"basis":              {"", "is", "is-not"},
	"cooling":            {"", "is", "is-not"},
	"approved":           {"", "includes", "excludes"},
	"manufactured-after": {"", "after", "not-after"},
	"certificated-after": {"", "after", "not-after"},
	"type-applied-after": {"", "after", "not-after"},
	"installed":          {"", "includes", "excludes"},
	"works":              {"", "includes", "excludes"},
	"removed-within":     {"", "within-days", "not-within-days"},
	"vor-checked-within": {"", "within-days", "not-within-days"},

	"annual-within":               {"", "within-months", "not-within-months"},
	"condition-inspection-within": {"", "within-months", "not-within-months"},
	"altimeter-test-within":       {"", "within-months", "not-within-months"},
	"transponder-test-within":     {"", "within-months", "not-within-months"},
	"elt-inspection-within":       {"", "within-months", "not-within-months"},
	"inspection-hours-within":     {"", "within-hours", "not-within-hours"},
	"elt-battery-used-at-most":    {"", "at-most", "above"},
	"elt-battery-in-life":         {"", "not-before", "before"},
	"operation":                   {"", "includes", "excludes"},
	"registration-in-force":       {"", "not-before", "before"},
	"radio-licence-in-force":      {"", "not-before", "before"},
	"mel-authority":               {"", "is", "is-not"},
}

// term writes the condition as data, as it holds or as it does not.
func (c *condition) term(holds bool) Term {
	name, arg, _ := strings.Cut(c.key, ":")
	t := Term{Fact: c.words.Fact, Comparison: "is", Value: arg}
	if c.owner == ofFlight {
		t.Words, t.Otherwise = c.fill(c.words.NotHolding), c.fill(c.words.Holding)
		if holds {
			t.Words, t.Otherwise = t.Otherwise, t.Words
		}
	}
	switch name {
	case "ifr":
		t.Value = map[bool]string{true: "ifr", false: "vfr"}[holds]
		return t
	case "small":
		t.Comparison, t.Value = map[bool]string{true: "at-most", false: "above"}[holds], strconv.Itoa(smallAircraftLb)
		return t
	case "single-place":
		t.Comparison, t.Value = map[bool]string{true: "at-most", false: "above"}[holds], "1"
		return t
	}
	f, ok := forms[name]
	if f.holds == "not-before" {
		t.Value = "flight.arrives"
	} else if !ok || f.holds == f.fails {
		t.Value = strconv.FormatBool(holds)
	}
	if f.fact != "" {
		t.Fact = f.fact
	}
	if f.holds != "" {
		t.Comparison = f.fails
		if holds {
			t.Comparison = f.holds
		}
	}
	return t
}

// terms writes a clause as data: every one of them must hold. Conditions that are not among the wanted are left out.
func (r *Ruleset) terms(c clause, wanted mask) []Term {
	var all []Term
	write := func(holds bool) func(int) {
		return func(i int) {
			if wanted.has(i) {
				all = append(all, r.conditions[i].term(holds))
			}
		}
	}
	c.all.each(write(true))
	c.none.each(write(false))
	slices.SortFunc(all, compareTerms)
	return all
}

// terms is the ruleset's, with a limit in hours as what it leaves to the flight.
func (p *Plan) terms(c clause, wanted mask) []Term {
	all := p.rules.terms(c, wanted.without(p.bounded))
	of := c.all.or(c.none).and(wanted).and(p.bounded)
	if of.empty() {
		return all
	}
	of.each(func(i int) { all = append(all, p.hoursTerm(i, c.all.has(i))) })
	slices.SortFunc(all, compareTerms)
	return all
}

// hoursTerm is a limit in hours as a term of the flight, as it holds or as it does not.
func (p *Plan) hoursTerm(condition int, holds bool) Term {
	t := Term{Fact: "flight.hours", Comparison: "at-most", Value: strconv.FormatFloat(p.hoursLeft(condition), 'f', -1, 64), Words: p.keepsWithin(condition)}
	if !holds {
		return t.Negated()
	}
	return t
}

// compareTerms orders terms by what they say, so that the order of the tables is no part of an answer.
func compareTerms(a, b Term) int {
	return slices.Compare([]string{a.Fact, a.Comparison, a.Value}, []string{b.Fact, b.Comparison, b.Value})
}

// Terms lists every condition of the book as data, as it holds, in the order of facts: what the rules ask of each fact,
// and where their thresholds lie.
func (r *Ruleset) Terms() []Term {
	all := make([]Term, 0, len(r.conditions))
	for i := range r.conditions {
		all = append(all, r.conditions[i].term(true))
	}
	slices.SortFunc(all, compareTerms)
	return slices.Compact(all)
}

// opposites has the comparisons with those that hold where they do not.
var opposites = map[string]string{
	"at-least": "below", "below": "at-least", "above": "at-most", "at-most": "above", "includes": "excludes", "excludes": "includes",
	"after": "not-after", "not-after": "after", "within-days": "not-within-days", "not-within-days": "within-days",
	"within-months": "not-within-months", "not-within-months": "within-months", "within-hours": "not-within-hours", "not-within-hours": "within-hours",
	"not-before": "before", "before": "not-before",
	"is": "is-not", "is-not": "is",
}

// Negated is the term that holds where this one does not.
func (t Term) Negated() Term {
	n := Term{Fact: t.Fact, Comparison: t.Comparison, Value: t.Value, Words: t.Otherwise, Otherwise: t.Words}
	switch {
	case t.Comparison == "is" && t.Fact == "flight.rules":
		n.Value = map[string]string{"ifr": "vfr", "vfr": "ifr"}[t.Value]
	case t.Comparison == "is" && (t.Value == "true" || t.Value == "false"):
		n.Value = strconv.FormatBool(t.Value == "false")
	default:
		n.Comparison = opposites[t.Comparison]
	}
	return n
}
