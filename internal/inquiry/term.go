package inquiry

import (
	"slices"
	"strconv"
	"strings"

	"tiedown/internal/airworthiness"
	"tiedown/internal/casefile"
)

// flag is how a flight says whether a fact is so.
type flag func(f *airworthiness.Flight) airworthiness.Truth

// flags are the facts of a flight that are so or not.
var flags = map[string]flag{
	"flight.light.day":                   func(f *airworthiness.Flight) airworthiness.Truth { return f.Day },
	"flight.light.night":                 func(f *airworthiness.Flight) airworthiness.Truth { return f.Night },
	"flight.light.sunset_to_sunrise":     func(f *airworthiness.Flight) airworthiness.Truth { return f.Lights },
	"flight.dark":                        func(f *airworthiness.Flight) airworthiness.Truth { return f.Dark },
	"flight.in_alaska":                   func(f *airworthiness.Flight) airworthiness.Truth { return f.InAlaska },
	"flight.for_hire":                    func(f *airworthiness.Flight) airworthiness.Truth { return f.ForHire },
	"flight.only_required_crew":          func(f *airworthiness.Flight) airworthiness.Truth { return f.OnlyRequiredCrew },
	"flight.over_water":                  func(f *airworthiness.Flight) airworthiness.Truth { return f.OverWater },
	"flight.controlled_airspace":         func(f *airworthiness.Flight) airworthiness.Truth { return f.Controlled },
	"flight.below_2500_agl":              func(f *airworthiness.Flight) airworthiness.Truth { return f.Below2500AGL },
	"flight.training_within_50nm":        func(f *airworthiness.Flight) airworthiness.Truth { return f.TrainingWithin50NM },
	"flight.to_place_of_repair":          func(f *airworthiness.Flight) airworthiness.Truth { return f.ToPlaceOfRepair },
	"flight.under_way":                   func(f *airworthiness.Flight) airworthiness.Truth { return f.UnderWay },
	"flight.repair_impossible":           func(f *airworthiness.Flight) airworthiness.Truth { return f.RepairImpossible },
	"flight.over_30_minutes_above_12500": func(f *airworthiness.Flight) airworthiness.Truth { return f.Over30MinAbove12500 },

	"flight.instruction_provided_aircraft":  func(f *airworthiness.Flight) airworthiness.Truth { return f.InstructionProvidedAircraft },
	"flight.to_place_of_inspection":         func(f *airworthiness.Flight) airworthiness.Truth { return f.ToPlaceOfInspection },
	"flight.newly_acquired_to_installation": func(f *airworthiness.Flight) airworthiness.Truth { return f.NewlyAcquiredToInstallation },
}

// classAFloorFt is where Class A airspace begins over the 48 states and Alaska (14 CFR 71.33, from memory).
const classAFloorFt = 18000

// truth says whether a flight holds to a term. A fact that no flight decides is unknown.
func truth(t airworthiness.Term, f *airworthiness.Flight) airworthiness.Truth {
	switch t.Comparison {
	case "is-not", "below", "excludes", "not-after", "not-within-days":
		return truth(t.Negated(), f).Not()
	case "at-most":
		if t.Fact != "flight.hours" {
			return truth(t.Negated(), f).Not()
		}
	}
	if so, ok := flags[t.Fact]; ok {
		if t.Value == "true" {
			return so(f)
		}
		return so(f).Not()
	}
	switch t.Fact {
	case "flight.rules":
		return is(t.Value == "ifr", f.IFR)
	case "flight.hours":
		return is(t.Comparison == "at-most", inHours(t, f))
	case "flight.kind":
		rules, light, _ := cutKind(t.Value)
		return is(rules == "ifr", f.IFR).And(pick(light == "night", f.Night, f.Day))
	case "flight.altitude_ft":
		return compare(t, f.AltitudeFt)
	case "flight.cabin_ft":
		if limit, err := strconv.ParseFloat(t.Value, 64); err == nil && !f.CabinFt.Known && f.AltitudeFt.Known && f.AltitudeFt.Value <= limit {
			return airworthiness.No // a cabin is never higher than the aircraft
		}
		return compare(t, f.CabinFt)
	case "flight.airspace":
		return inAirspace(t.Value, f)
	case "flight.navigation":
		return lists("navigation", f.Navigation, t.Value)
	case "flight.atc_authorized":
		return lists("atc_authorized", f.ATCAuthorized, t.Value)
	case "flight.operations":
		return lists("operations", f.Operations, t.Value)
	}
	return airworthiness.Unknown
}

// cutKind splits a kind of operation: "night-vfr" is VFR at night.
func cutKind(kind string) (rules, light string, ok bool) {
	light, rules, ok = strings.Cut(kind, "-")
	return rules, light, ok
}

// is turns what is known of a fact around where its opposite is asked.
func is(asked bool, t airworthiness.Truth) airworthiness.Truth { return pick(asked, t, t.Not()) }

func pick[T any](first bool, a, b T) T {
	if first {
		return a
	}
	return b
}

func compare(t airworthiness.Term, x airworthiness.Fact[float64]) airworthiness.Truth {
	limit, err := strconv.ParseFloat(t.Value, 64)
	switch {
	case err != nil || !x.Known:
		return airworthiness.Unknown
	case t.Comparison == "at-least":
		return airworthiness.TruthOf(x.Value >= limit)
	case t.Comparison == "above":
		return airworthiness.TruthOf(x.Value > limit)
	}
	return airworthiness.Unknown
}

// inHours says whether a flight takes no more time in service than so much. Nobody need have said how long it takes: it
// takes some, and no more than its window.
func inHours(t airworthiness.Term, f *airworthiness.Flight) airworthiness.Truth {
	limit, err := strconv.ParseFloat(t.Value, 64)
	switch {
	case err != nil:
		return airworthiness.Unknown
	case f.WindowHours.Known && f.WindowHours.Value <= limit, f.Hours.Known && f.Hours.Value <= limit:
		return airworthiness.Yes
	case f.Hours.Known || limit <= 0:
		return airworthiness.No
	default:
		return airworthiness.Unknown
	}
}

// inAirspace knows that from its floor up every flight is in Class A airspace, and does not believe a list that leaves
// Class A out while nobody knows the altitude.
func inAirspace(name string, f *airworthiness.Flight) airworthiness.Truth {
	listed := lists("airspace", f.Airspace, name)
	switch {
	case name != "class-a":
		return listed
	case f.AltitudeFt.Known:
		return airworthiness.TruthOf(f.AltitudeFt.Value >= classAFloorFt).Or(listed)
	default:
		return listed.Or(airworthiness.Unknown)
	}
}

// lists is unknown where the word is not in the list but another is that nobody understands.
func lists(fact string, list airworthiness.Fact[[]string], want string) airworthiness.Truth {
	words := airworthiness.Vocabulary(fact)
	switch {
	case !list.Known:
		return airworthiness.Unknown
	case slices.Contains(list.Value, want):
		return airworthiness.Yes
	case slices.ContainsFunc(list.Value, func(w string) bool { return !slices.Contains(words, w) }):
		return airworthiness.Unknown
	default:
		return airworthiness.No
	}
}

// ofFlight says whether a flight decides the term.
func ofFlight(t airworthiness.Term) bool { return strings.HasPrefix(t.Fact, "flight.") }

// Holds says whether a flight holds to a term.
func Holds(t casefile.Term, f airworthiness.Flight) airworthiness.Truth { return truth(t.Engine(), &f) }
