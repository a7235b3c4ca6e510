package casefile

import (
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
)

// Term is what something asks of one fact, as data.
type Term struct {
	Fact       string `json:"fact"`       // where the fact stands in a case; flight.kind and flight.light follow from rules, window and route
	Comparison string `json:"comparison"` // is, is-not, at-least, below, above, at-most, includes, excludes, ...
	Value      string `json:"value"`      // a word, a number, a date, or true or false
	Words      string `json:"words,omitempty"`
	Otherwise  string `json:"otherwise,omitempty"`
}

// Limitation is what a limited answer binds the flight to, in words and as data. It is kept by keeping to one term of
// AnyOf, or to all of AllOf and what Beside says; where there is neither, the words alone say it. Fact, Comparison and
// Value repeat the term where there is only one.
type Limitation struct {
	Words          string `json:"words"`
	Fact           string `json:"fact,omitempty"`
	Comparison     string `json:"comparison,omitempty"`
	Value          string `json:"value,omitempty"`
	AnyOf          []Term `json:"any_of,omitempty"`
	AllOf          []Term `json:"all_of,omitempty"`
	Beside         string `json:"beside,omitempty"` // a proviso or a procedure, which no fact of a flight says
	Row            string `json:"row"`
	Citation       string `json:"citation"`
	Relief         string `json:"relief,omitempty"`
	ReliefCitation string `json:"relief_citation,omitempty"`
}

// TermOf writes a term of the engine.
func TermOf(t airworthiness.Term) Term {
	return Term{Fact: t.Fact, Comparison: t.Comparison, Value: t.Value, Words: t.Words, Otherwise: t.Otherwise}
}

// Terms writes terms of the engine: an empty list where there are none.
func Terms(terms []airworthiness.Term) []Term {
	written := make([]Term, len(terms))
	for i, t := range terms {
		written[i] = TermOf(t)
	}
	return written
}

// Engine is the term in the engine's words.
func (t Term) Engine() airworthiness.Term {
	return airworthiness.Term{Fact: t.Fact, Comparison: t.Comparison, Value: t.Value, Words: t.Words, Otherwise: t.Otherwise}
}

// Negated is the term that holds where this one does not.
func (t Term) Negated() Term { return TermOf(t.Engine().Negated()) }

// OfFlight says whether the flight decides the term.
func (t Term) OfFlight() bool { return strings.HasPrefix(t.Fact, "flight.") }

// Same says whether two terms ask the same of the same fact.
func (t Term) Same(u Term) bool {
	return t.Fact == u.Fact && t.Comparison == u.Comparison && t.Value == u.Value
}

// limitationOf writes what a finding binds the flight to.
func limitationOf(f Finding, b airworthiness.Binding) Limitation {
	l := Limitation{
		Words: f.Limitation, Row: f.Row, Citation: f.Citation, Relief: f.Relief, ReliefCitation: f.ReliefCitation,
		AnyOf: Terms(b.AnyOf), AllOf: Terms(b.AllOf), Beside: b.Beside,
	}
	if terms := slices.Concat(l.AnyOf, l.AllOf); len(terms) == 1 {
		l.Fact, l.Comparison, l.Value = terms[0].Fact, terms[0].Comparison, terms[0].Value
	}
	return l
}

// repeats says whether another limitation says the same of the same row: two squawks may run into one.
func (l Limitation) repeats(other Limitation) bool {
	return l.Words == other.Words && l.Row == other.Row && l.Relief == other.Relief
}
