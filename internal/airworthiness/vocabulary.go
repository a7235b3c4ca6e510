package airworthiness

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
)

// vocabulary lists the words that the facts in words may take.
var vocabulary = map[string][]string{
	"category": {
		"airplane", "rotorcraft", "glider", "balloon", "airship", "powered-parachute", "weight-shift-control", "powered-lift",
	},
	"certificate": {"standard", "light-sport", "experimental", "primary", "restricted", "limited", "provisional"},
	"basis":       {"car-3", "part-23-before-64", "part-23", "part-27", "part-29", "car-6", "other"},
	"engine":      {"none", "reciprocating", "turbine", "electric"},
	"cooling":     {"air", "liquid"},
	"class": {
		"single-engine-land", "single-engine-sea", "multi-engine-land", "multi-engine-sea", "helicopter", "gyroplane", "land", "sea",
	},
	"experimental_under": {"a", "b", "c", "d", "e", "f", "g", "h", "i", "j", "k", "l"},
	"repairman":          {"light-sport-inspection", "light-sport-maintenance", "experimental-builder"},
	"repair_station": {
		"airframe", "powerplant", "propeller", "accessory", "radio-class-1", "radio-class-2", "radio-class-3", "instrument-class-1",
		"instrument-class-2", "instrument-class-3", "instrument-class-4", "limited-airframe", "limited-powerplant", "limited-propeller",
		"limited-instrument", "limited-radio", "limited-test",
	},
	"part": {"airframe", "powerplant", "propeller", "instrument", "whole"},
	"airspace": {
		"class-a", "class-b", "class-c", "class-d", "class-e", "class-g", "above-class-b-or-c", "mode-c-veil",
		"listed-airport-10nm", "gulf-class-e",
	},
	"mel_authority":  {"letter", "certificate"},
	"mel_category":   {"A", "B", "C", "D"},
	"navigation":     {"vor", "gnss"},
	"operations":     {"cat-ii", "cat-iii", "nvg", "abroad"},
	"atc_authorized": {"transponder", "altitude-reporting", "ads-b"},
}

// Vocabulary lists the words that a fact of an aircraft (category, certificate, basis, engine, cooling, class,
// experimental_under), of its MEL (mel_authority, mel_category), of a person (repairman, repair_station), of work (part) or of a flight
// (airspace, navigation, operations, atc_authorized) may take. Any other word leaves the fact unknown. The zero answer: no such fact.
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

// names has the words of a vocabulary as people say them, where that is not the word with its hyphens taken out.
var names = map[string]string{
	"class-a": "Class A airspace", "class-b": "Class B airspace", "class-c": "Class C airspace", "class-d": "Class D airspace",
	"class-e": "Class E airspace", "class-g": "Class G airspace", "above-class-b-or-c": "the airspace above Class B or C",
	"mode-c-veil":         "the airspace within 30 NM of a listed airport",
	"listed-airport-10nm": "the airspace within 10 NM of an airport of part 91, appendix D, section 2",
	"gulf-class-e":        "Class E airspace over the Gulf of Mexico",
	"day-vfr":             "day VFR", "night-vfr": "night VFR", "day-ifr": "day IFR", "night-ifr": "night IFR",
	"vor": "VOR", "gnss": "GNSS", "ads-b": "ADS-B",
}

// nameOf is the argument of a condition as people say it: a number with its thousands apart, a word without hyphens.
func nameOf(arg string) string {
	if name, ok := names[arg]; ok {
		return name
	}
	if n, err := strconv.Atoi(arg); err == nil && n >= 1000 {
		return fmt.Sprintf("%d,%03d", n/1000, n%1000)
	}
	return strings.ReplaceAll(arg, "-", " ")
}
