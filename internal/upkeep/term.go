package upkeep

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/airworthiness"
)

// clause is what brings a row into play: one of its alternatives, of which every term must hold.
type clause [][]term

type term struct {
	about   about
	says    func(a *Aircraft, f *airworthiness.Flight) Truth
	negated bool
}

// about says what a term is about.
type about uint8

const (
	theAircraft about = iota
	theFlight
)

// makeTerm gives a term its meaning.
type makeTerm struct {
	about about
	of    func(arg string) (func(*Aircraft, *airworthiness.Flight) Truth, error)
}

// vocabulary has the terms of the tables. Where the determination knows the same term, it means the same.
var vocabulary = map[string]makeTerm{
	"category":                 ofAircraft("category", func(a *Aircraft) string { return a.Category }),
	"certificate":              ofAircraft("certificate", func(a *Aircraft) string { return a.Certificate }),
	"us-registered":            aircraftFlag(func(a *Aircraft) Truth { return a.USRegistered }),
	"engine-driven-electrical": aircraftFlag(func(a *Aircraft) Truth { return a.EngineDrivenElectrical }),
	"single-place":             aircraftFlag(singlePlace),
	"elt-installed":            aircraftFlag(func(a *Aircraft) Truth { return a.ELT }),
	"transponder-installed":    aircraftFlag(func(a *Aircraft) Truth { return a.Transponder }),
	"progressive":              aircraftFlag(func(a *Aircraft) Truth { return a.Progressive }),

	"ifr":                           flightFlag(func(f *airworthiness.Flight) Truth { return f.IFR }),
	"night":                         flightFlag(func(f *airworthiness.Flight) Truth { return f.Night }),
	"for-hire":                      flightFlag(func(f *airworthiness.Flight) Truth { return f.ForHire }),
	"over-water":                    flightFlag(func(f *airworthiness.Flight) Truth { return f.OverWater }),
	"only-required-crew":            flightFlag(func(f *airworthiness.Flight) Truth { return f.OnlyRequiredCrew }),
	"instruction-provided-aircraft": flightFlag(func(f *airworthiness.Flight) Truth { return f.InstructionProvidedAircraft }),
	"controlled-airspace":           flightFlag(func(f *airworthiness.Flight) Truth { return f.Controlled }),
	"training-within-50nm":          flightFlag(func(f *airworthiness.Flight) Truth { return f.TrainingWithin50NM }),
	"to-place-of-repair":            flightFlag(func(f *airworthiness.Flight) Truth { return f.ToPlaceOfRepair }),
	"repair-impossible":             flightFlag(func(f *airworthiness.Flight) Truth { return f.RepairImpossible }),
	"below-2500-agl":                flightFlag(func(f *airworthiness.Flight) Truth { return f.Below2500AGL }),
	"in-alaska":                     flightFlag(func(f *airworthiness.Flight) Truth { return f.InAlaska }),
	"special-flight-permit":         flightFlag(claimsPermit),
	"airspace":                      flightList("airspace", func(f *airworthiness.Flight) Fact[[]string] { return f.Airspace }),
	"navigates-by":                  flightList("navigation", func(f *airworthiness.Flight) Fact[[]string] { return f.Navigation }),
	"atc-authorized":                flightList("atc_authorized", func(f *airworthiness.Flight) Fact[[]string] { return f.ATCAuthorized }),
	"altitude-from":                 {theFlight, altitudeFrom},
}

// claimsPermit is never yes: whether a permit serves the flight is the determination's to say.
func claimsPermit(f *airworthiness.Flight) Truth {
	if f.Permit == nil {
		return airworthiness.No
	}
	return airworthiness.Unknown
}

func singlePlace(a *Aircraft) Truth {
	if !a.Seats.Known {
		return airworthiness.Unknown
	}
	return airworthiness.TruthOf(a.Seats.Value <= 1)
}

func altitudeFrom(arg string) (func(*Aircraft, *airworthiness.Flight) Truth, error) {
	limit, err := strconv.ParseFloat(arg, 64)
	if err != nil {
		return nil, errors.New("want a number after the colon")
	}
	return func(_ *Aircraft, f *airworthiness.Flight) Truth {
		if !f.AltitudeFt.Known {
			return airworthiness.Unknown
		}
		return airworthiness.TruthOf(f.AltitudeFt.Value >= limit)
	}, nil
}

func ofAircraft(fact string, get func(*Aircraft) string) makeTerm {
	return makeTerm{theAircraft, func(arg string) (func(*Aircraft, *airworthiness.Flight) Truth, error) {
		words := airworthiness.Vocabulary(fact)
		if !slices.Contains(words, arg) {
			return nil, fmt.Errorf("%q is no word for the fact %s", arg, fact)
		}
		return func(a *Aircraft, _ *airworthiness.Flight) Truth {
			if have := get(a); slices.Contains(words, have) {
				return airworthiness.TruthOf(have == arg)
			}
			return airworthiness.Unknown
		}, nil
	}}
}

func flightList(fact string, get func(*airworthiness.Flight) Fact[[]string]) makeTerm {
	return makeTerm{theFlight, func(arg string) (func(*Aircraft, *airworthiness.Flight) Truth, error) {
		if !slices.Contains(airworthiness.Vocabulary(fact), arg) {
			return nil, fmt.Errorf("%q is no word for the fact %s", arg, fact)
		}
		return func(_ *Aircraft, f *airworthiness.Flight) Truth {
			if list := get(f); list.Known {
				return airworthiness.TruthOf(slices.Contains(list.Value, arg))
			}
			return airworthiness.Unknown
		}, nil
	}}
}

func aircraftFlag(get func(*Aircraft) Truth) makeTerm {
	return makeTerm{theAircraft, func(arg string) (func(*Aircraft, *airworthiness.Flight) Truth, error) {
		return func(a *Aircraft, _ *airworthiness.Flight) Truth { return get(a) }, noArgument(arg)
	}}
}

func flightFlag(get func(*airworthiness.Flight) Truth) makeTerm {
	return makeTerm{theFlight, func(arg string) (func(*Aircraft, *airworthiness.Flight) Truth, error) {
		return func(_ *Aircraft, f *airworthiness.Flight) Truth { return get(f) }, noArgument(arg)
	}}
}

func noArgument(arg string) error {
	if arg != "" {
		return fmt.Errorf("it takes no argument, but has %q", arg)
	}
	return nil
}

// parseClause reads alternatives between bars, each of terms between spaces; a term after ! must not hold. An empty clause
// always holds. Only terms about what is allowed may stand in it.
func parseClause(s string, allowed ...about) (clause, error) {
	if s == "" {
		return clause{{}}, nil
	}
	var c clause
	for alternative := range strings.SplitSeq(s, "|") {
		words := strings.Fields(alternative)
		if len(words) == 0 {
			return nil, fmt.Errorf("%q has an empty alternative", s)
		}
		var terms []term
		for _, word := range words {
			t, err := parseTerm(word, allowed)
			if err != nil {
				return nil, err
			}
			terms = append(terms, t)
		}
		c = append(c, terms)
	}
	return c, nil
}

func parseTerm(word string, allowed []about) (term, error) {
	key, negated := strings.CutPrefix(word, "!")
	name, arg, _ := strings.Cut(key, ":")
	meaning, ok := vocabulary[name]
	if !ok {
		return term{}, fmt.Errorf("there is no term %q", name)
	}
	if !slices.Contains(allowed, meaning.about) {
		return term{}, fmt.Errorf("the term %q does not belong here", name)
	}
	says, err := meaning.of(arg)
	if err != nil {
		return term{}, fmt.Errorf("term %q: %w", key, err)
	}
	return term{meaning.about, says, negated}, nil
}

// of evaluates the clause.
func (c clause) of(a *Aircraft, f *airworthiness.Flight) Truth {
	some := airworthiness.No
	for _, terms := range c {
		every := airworthiness.Yes
		for _, t := range terms {
			says := t.says(a, f)
			if t.negated {
				says = says.Not()
			}
			every = every.And(says)
		}
		some = some.Or(every)
	}
	return some
}
