package airworthiness

import "slices"

// vocabulary lists the words that the facts in words may take.
var vocabulary = map[string][]string{
	"category": {
		"airplane", "rotorcraft", "glider", "balloon", "airship", "powered-parachute", "weight-shift-control", "powered-lift",
	},
	"certificate": {"standard", "light-sport", "experimental", "primary", "restricted", "limited", "provisional"},
	"basis":       {"car-3", "part-23-before-64", "part-23", "part-27", "part-29", "car-6", "other"},
	"engine":      {"none", "reciprocating", "turbine", "electric"},
	"cooling":     {"air", "liquid"},
	"airspace": {
		"class-a", "class-b", "class-c", "class-d", "class-e", "class-g", "above-class-b-or-c", "mode-c-veil",
		"listed-airport-10nm", "gulf-class-e",
	},
	"mel_authority":  {"91.213(a)", "91.213(c)"},
	"mel_category":   {"A", "B", "C", "D"},
	"navigation":     {"vor", "gnss"},
	"operations":     {"cat-ii", "cat-iii", "nvg"},
	"atc_authorized": {"transponder", "altitude-reporting", "ads-b"},
}

// Vocabulary lists the words that a fact of an aircraft (category, certificate, basis, engine, cooling), of its
// MEL (mel_authority, mel_category) or of a flight (airspace, navigation, operations, atc_authorized) may take. Any other word leaves the fact unknown. The zero answer: no such fact.
func Vocabulary(fact string) []string { return slices.Clone(vocabulary[fact]) }

// wordIs is Unknown for a word that is not in the fact's vocabulary: a slip of the pen must not take rules out of play.
func wordIs(fact, have, want string) Truth {
	if !slices.Contains(vocabulary[fact], have) {
		return Unknown
	}
	return TruthOf(have == want)
}

// listHas is Yes where the word is in the list, and Unknown where it is not but another is that nobody understands.
func listHas(fact string, list Fact[[]string], want string) Truth {
	switch {
	case !list.Known:
		return Unknown
	case slices.Contains(list.Value, want):
		return Yes
	case slices.ContainsFunc(list.Value, func(w string) bool { return !slices.Contains(vocabulary[fact], w) }):
		return Unknown
	default:
		return No
	}
}
