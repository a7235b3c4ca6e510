package inquiry

import (
	"cmp"
	"slices"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// SimpleFlights is a set of flights that one sentence describes: every flight that keeps to it may be made. An operation
// with equipment of its own is declared; the sentence speaks of flights that declare none.
type SimpleFlights struct {
	Sentence string          `json:"sentence"`
	Rules    string          `json:"flight_rules"`
	Light    string          `json:"light"`
	Terms    []casefile.Term `json:"terms"`
}

// extents are the lights that a sentence may span, the longest first.
var extents = []light{
	{"any", airworthiness.Unknown, airworthiness.Unknown, airworthiness.Unknown, map[string]string{
		"vfr": "VFR by day and night", "ifr": "IFR by day and night",
	}},
	{"day", airworthiness.Yes, airworthiness.No, airworthiness.Unknown, map[string]string{
		"vfr": "Day VFR, from the beginning of morning to the end of evening civil twilight",
		"ifr": "Day IFR, from the beginning of morning to the end of evening civil twilight",
	}},
	{"sunrise-to-sunset", airworthiness.Yes, airworthiness.No, airworthiness.No, map[string]string{
		"vfr": "Day VFR, from sunrise to sunset", "ifr": "Day IFR, from sunrise to sunset",
	}},
	{"night", airworthiness.No, airworthiness.Yes, airworthiness.Yes, map[string]string{
		"vfr": "VFR at night only", "ifr": "IFR at night only",
	}},
}

// simple finds, for each of the flight rules, the longest light in which something may be flown, and shorter ones that
// need fewer limits.
func (e *Envelope) simple() []SimpleFlights {
	found := []SimpleFlights{}
	for _, rules := range []string{"vfr", "ifr"} {
		fewest := -1
		for _, l := range extents {
			left := effort
			r, ok := regionOf(rules, l).search(e.Limits, region.plainWay, &left)
			if !ok {
				continue
			}
			r = r.pared(e.Limits).bound(e.Limits)
			kept := r.terms()
			if fewest >= 0 && len(kept) >= fewest {
				continue
			}
			fewest = len(kept)
			found = append(found, SimpleFlights{Sentence: r.sentence(l.words[rules], kept), Rules: rules, Light: l.name, Terms: kept})
		}
	}
	return found
}

// sentence names the largest simple envelope, or says that there is none.
func (e *Envelope) sentence() string {
	if len(e.Simple) > 0 {
		return e.Simple[0].Sentence
	}
	if e.Permits {
		return "Only the flights that the cells describe."
	}
	if slices.ContainsFunc(e.Cells, func(c Cell) bool { return c.Verdict == airworthiness.DeferFirst.String() }) {
		return "No flight may be made until the deferral is done and signed."
	}
	return "No flight may be made as the aircraft stands."
}

// preference orders the ways to keep out of a limit: what leaves most flights first. A way that is not here is none that
// a plain sentence would name.
var preference = []struct{ fact, comparison, value string }{
	{"flight.over_water", "is", "false"},
	{"flight.for_hire", "is", "false"},
	{"flight.airspace", "excludes", ""},
	{"flight.navigation", "excludes", ""},
	{"flight.altitude_ft", "below", ""},
	{"flight.altitude_ft", "at-most", ""},
	{"flight.over_30_minutes_above_12500", "is", "false"},
	{"flight.cabin_ft", "at-most", ""},
	{"flight.persons", "at-most", ""},
	{"flight.occupants", "at-most", ""},
	{"flight.required_crew", "at-most", ""},
	{"flight.in_alaska", "is", "false"},
	{"flight.controlled_airspace", "is", "false"},
	{"flight.instruction_provided_aircraft", "is", "false"},
	{"flight.hours", "at-most", ""},
}

func rank(t casefile.Term) int {
	return slices.IndexFunc(preference, func(p struct{ fact, comparison, value string }) bool {
		return p.fact == t.Fact && p.comparison == t.Comparison && (p.value == "" || p.value == t.Value)
	})
}

// plainWay is the ways that a plain sentence would name, and then the reliefs.
func (r region) plainWay(l *Limit) []way {
	terms := slices.DeleteFunc(r.ways(l), func(t casefile.Term) bool { return rank(t) < 0 })
	slices.SortStableFunc(terms, func(a, b casefile.Term) int { return cmp.Compare(rank(a), rank(b)) })
	var all []way
	for i := range terms {
		all = append(all, way{terms: terms[i : i+1]})
	}
	if m := l.Must; m != nil && rank(*m) < 0 && r.holds(*m) != airworthiness.No {
		all = append(all, way{terms: []casefile.Term{*m}, binds: m.Words})
	}
	return append(all, r.lifts(l)...)
}

// terms are those that the region keeps to, in the order of preference, those of reliefs last.
func (r region) terms() []casefile.Term {
	kept := []casefile.Term{}
	for _, t := range r.kept {
		if !slices.ContainsFunc(kept, t.Same) {
			kept = append(kept, t)
		}
	}
	slices.SortStableFunc(kept, func(a, b casefile.Term) int {
		return cmp.Or(cmp.Compare(place(a), place(b)), strings.Compare(a.Value, b.Value))
	})
	return kept
}

// place is the rank, with what has none at the end.
func place(t casefile.Term) int {
	if r := rank(t); r >= 0 {
		return r
	}
	return len(preference)
}

// sentence says the region in words, with all airspace together.
func (r region) sentence(light string, kept []casefile.Term) string {
	parts := []string{light}
	var airspace []string
	for _, t := range kept {
		if t.Fact == "flight.airspace" {
			airspace = append(airspace, strings.TrimPrefix(t.Words, "not in "))
		}
	}
	for _, t := range kept {
		switch {
		case rank(t) < 0 && len(r.binds) > 0: // the relief says what it binds to
		case t.Fact != "flight.airspace":
			parts = append(parts, t.Words)
		case airspace != nil:
			parts = append(parts, "outside "+and(airspace))
			airspace = nil
		}
	}
	return strings.Join(append(parts, r.binds...), ", ")
}

// and joins names: "Class A, B and C airspace" and others.
func and(names []string) string {
	var classes, others []string
	for _, n := range names {
		letter, isClass := strings.CutPrefix(n, "Class ")
		letter, plain := strings.CutSuffix(letter, " airspace")
		if isClass && plain && len(letter) == 1 {
			classes = append(classes, letter)
		} else {
			others = append(others, n)
		}
	}
	var all []string
	if len(classes) > 0 {
		all = append(all, "Class "+joined(classes)+" airspace")
	}
	return joined(append(all, others...))
}

func joined(words []string) string {
	if len(words) < 2 {
		return strings.Join(words, "")
	}
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " and " + words[last]
}
